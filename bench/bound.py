"""The Cramer-Rao bound on the opening load of one pull, from the motion without noise and the sensors' noise.

What it conditions on, exactly. Only the samples within a quarter of the loading before first lift and as long
after it (never past the end of loading) are used, and those of the slack before the pull for the tare. Over
that window each channel's noise-free reading is one quadratic in time before first lift and another after it,
joined there: value, slope and curvature before, change of slope and change of curvature are unknown, for each
channel its own; the instant is unknown and common to all. The values at which the information is taken
are the least-squares quadratics through the simulated motion itself. The line pressure is one quadratic through
the window. The noise is known: normal, of the stated size, rounding included, for force, line and lift;
for a sound level of gamma noise with k degrees the information about the mean m is k/m^2, for a raw
waveform 2/m^2 on its amplitude. Channels that are lost and samples that are missing give nothing; hum,
spikes, lag and false bursts are taken as absent. The bound is that of the opening load p_l + F/A at
first lift (the quantity the detector's error is measured on), for any unbiased estimator under these conditions.
"""

from __future__ import annotations

import math

import numpy as np

from firstlift.sim.model import Floats, SensorModel, SimulatedTest, TruePull
from firstlift.sim.sensors import on_clock

WINDOW_SHARE = 0.25
_SLACK_S = 1.0


def bound_pa(test: SimulatedTest, pull: TruePull) -> float | None:
    """Give the smallest standard deviation of the opening load that is possible, [Pa].

    Parameters
    ----------
    test : SimulatedTest
    pull : TruePull
        Lifted.

    Returns
    -------
    float or None
        None where no channel tells the instant.
    """
    if pull.first_lift_s is None:
        return None
    at = pull.first_lift_s
    loading = at - max(pull.start_s, 0.0)
    top = _top_s(test, pull, at)
    low, high = at - WINDOW_SHARE * loading, min(at + WINDOW_SHARE * loading, top)
    inst, area = test.instruments, test.job.seat.area_m2
    motion, zero = test.motion, test.program.record_from_s
    timing = 0.0
    if inst.lift is not None and not inst.lift.lost:
        t = _times(test, inst.lift.column, low, high) - at
        x = on_clock(motion, motion.spindle_m, t + at + zero)
        timing += _information(t, x, np.full(t.size, 1.0 / _variance(inst.lift)))[0]
    if inst.sound is not None and not inst.sound.lost:
        t = _times(test, inst.sound.column, low, high) - at
        m = _sound_mean(test, t + at + zero)
        k = 2.0 if inst.waveform_hz > 0.0 else 1.0 / (inst.sound.noise or 0.07) ** 2
        timing += _information(t, m, k / np.square(m))[0]
    t = _times(test, inst.cells[0].column, low, high) - at
    f = on_clock(motion, motion.pull_n, t + at + zero)
    weight = np.full(t.size, 1.0 / sum(_variance(cell) for cell in inst.cells))
    blocks = _force_block(t, f, weight)
    if blocks is None:
        return None
    # unknowns of the force's curve with the instant first; the other channels inform the instant alone
    blocks[0][0, 0] += timing
    gradient = np.zeros(blocks[0].shape[0])
    slope_line, var_line = _line(test, low, high, at, zero)
    gradient[0] = blocks[1] / area + slope_line
    gradient[1] = 1.0 / area
    try:
        covariance = np.linalg.inv(blocks[0])
    except np.linalg.LinAlgError:
        return None
    slack = max(1.0, _SLACK_S * inst.rate_hz)
    tare = sum(_variance(cell) for cell in inst.cells) / slack / area**2
    return math.sqrt(max(float(gradient @ covariance @ gradient), 0.0) + var_line + tare)


def _top_s(test: SimulatedTest, pull: TruePull, at: float) -> float:
    """Give the end of loading: where the drive stops rising."""
    motion = test.motion
    zero = test.program.record_from_s
    part = (motion.time_s >= at + zero) & (motion.time_s <= pull.end_s + zero)
    drive = motion.drive_m[part]
    return float(motion.time_s[part][int(np.argmax(drive >= drive.max() - 1e-9))]) - zero


def _times(test: SimulatedTest, column: str, low: float, high: float) -> Floats:
    times, values = test.columns[column]
    part = (times >= low) & (times <= high) & np.isfinite(values)
    return times[part]


def _variance(sensor: SensorModel, scale: float = 1.0) -> float:
    return (sensor.noise * scale) ** 2 + sensor.resolution**2 / 12.0 + 1e-30


def _sound_mean(test: SimulatedTest, times_s: Floats) -> Floats:
    """Give the sound level without noise: known from the valve's own sound and the baseline."""
    valve, motion, sound = test.valve, test.motion, test.instruments.sound
    assert sound is not None
    share = motion.line_pa / valve.flow_reference_pa
    load = np.where(motion.open, 0.0, np.maximum(motion.contact_n, 0.0))
    heard = valve.leak_v * share * np.exp(-load / valve.leak_load_n) + valve.flow_v_m * share * motion.lift_of_disc_m
    return np.hypot(on_clock(motion, heard, times_s), sound.offset)


def _tangents(t: Floats, y: Floats) -> Floats | None:
    """Columns: effect of the instant, then of value, slope, curvature, and both changes. None: too few samples."""
    if (t < 0).sum() < 4 or (t > 0).sum() < 4:
        return None
    after = np.maximum(t, 0.0)
    base = np.stack((np.ones_like(t), t, t**2, after, after**2), axis=1)
    scale = np.abs(base).max(axis=0)
    solution, *_ = np.linalg.lstsq(base / scale, y, rcond=None)
    gain, bend = solution[3] / scale[3], solution[4] / scale[4]
    instant = np.where(t > 0, -(gain + 2.0 * bend * after), 0.0)
    return np.column_stack((instant, base / scale))


def _information(t: Floats, y: Floats, weight: Floats) -> tuple[float, int]:
    """Give the information about the instant that is left when the curve's own unknowns are taken out."""
    tangents = _tangents(t, y)
    if tangents is None:
        return 0.0, 0
    root = np.sqrt(weight)
    own = tangents[:, 1:] * root[:, None]
    first = tangents[:, 0] * root
    solution, *_ = np.linalg.lstsq(own, first, rcond=None)
    rest = first - own @ solution
    return float(rest @ rest), t.size


def _force_block(t: Floats, f: Floats, weight: Floats) -> tuple[Floats, float] | None:
    """Give the information matrix of instant and force curve, and the force's slope before first lift."""
    tangents = _tangents(t, f)
    if tangents is None:
        return None
    scaled = tangents * np.sqrt(weight)[:, None]
    before = t < 0
    slope = float(np.polyfit(t[before], f[before], 2)[1])
    return scaled.T @ scaled, slope


def _line(test: SimulatedTest, low: float, high: float, at: float, zero: float) -> tuple[float, float]:
    """Give the line pressure's slope at the moment and the variance of its level there."""
    gauge = test.instruments.gauge
    t = _times(test, gauge.column, low, high) - at
    if t.size < 4:
        return 0.0, 0.0
    p = on_clock(test.motion, test.motion.line_pa, t + at + zero)
    base = np.vander(t / max(abs(low - at), high - at), 3)[:, ::-1]
    cov = np.linalg.pinv(base.T @ base) * _variance(gauge, float(np.mean(p)))
    before = t < 0
    slope = float(np.polyfit(t[before], p[before], 1)[0]) if before.sum() > 3 else 0.0
    return slope, float(cov[0, 0])
