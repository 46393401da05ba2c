"""What the channels show of the motion: errors, lag, noise, and everything that goes wrong with a signal."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
from numpy.random import Generator

from firstlift.core.units import UNITS
from firstlift.sim.model import Disturbances, Floats, Motion, SensorModel, ValveModel

_SEATING_N = 15.0  # pull over which a cell's zero error comes in: a tare at slack cannot see it
_LEVEL_SPREAD = 0.07  # relative noise of a rectified, smoothed sound level


def on_clock(motion: Motion, values: Floats, times_s: Floats) -> Floats:
    """Read a quantity of the motion at the sampling instants (n,), in its own unit.

    Parameters
    ----------
    motion : Motion
    values : ndarray (m,)
        On ``motion.time_s``.
    times_s : ndarray (n,), [s]

    Returns
    -------
    ndarray (n,)
    """
    return np.interp(times_s, motion.time_s, values)


def show_cell(sensor: SensorModel, pull_n: Floats, times_s: Floats, rng: Generator) -> Floats:
    """Give what one force cell shows of the whole pull, [N].

    Parameters
    ----------
    sensor : SensorModel
    pull_n : ndarray (n,), [N]
        Tension of the gear; the cell carries its share.
    times_s : ndarray (n,), [s]
    rng : Generator

    Returns
    -------
    ndarray (n,), [N]
    """
    seated = 1.0 - np.exp(-np.maximum(pull_n, 0.0) / _SEATING_N)
    shown = sensor.share * pull_n * (1.0 + sensor.gain_error) + sensor.zero_error * seated
    return _common(sensor, shown, times_s, rng)


def show_gauge(sensor: SensorModel, line_pa: Floats, times_s: Floats, rng: Generator) -> Floats:
    """Give what the gauge shows, [Pa gauge]; its noise is a share of the reading.

    Parameters
    ----------
    sensor : SensorModel
    line_pa : ndarray (n,), [Pa gauge]
    times_s : ndarray (n,), [s]
    rng : Generator

    Returns
    -------
    ndarray (n,), [Pa gauge]
    """
    shown = line_pa * (1.0 + sensor.gain_error) + sensor.zero_error
    return _common(sensor, shown, times_s, rng, scale=float(np.mean(line_pa)))


def show_lift(sensor: SensorModel, lift_m: Floats, times_s: Floats, faults: Disturbances, rng: Generator) -> Floats:
    """Give what the lift sensor shows, [m], steps of its frame included.

    Parameters
    ----------
    sensor : SensorModel
    lift_m : ndarray (n,), [m]
    times_s : ndarray (n,), [s]
    faults : Disturbances
    rng : Generator

    Returns
    -------
    ndarray (n,), [m]
    """
    shown = lift_m * (1.0 + sensor.gain_error)
    for at_s, step_m in faults.frame_steps:
        shown = shown + step_m * (1.0 - np.exp(-np.maximum(times_s - at_s, 0.0) / 0.004))
    return _common(sensor, shown, times_s, rng)


def sound_v(
    valve: ValveModel, motion: Motion, times_s: Floats, seen_at_s: Floats, faults: Disturbances, rng: Generator
) -> Floats:
    """Amplitude of the sound the valve and false sources make, without the baseline, [V].

    The leak comes as the contact load fades, flow with the lift and the line pressure; simmer is a leak that
    flickers well before first lift.

    Parameters
    ----------
    valve : ValveModel
    motion : Motion
    times_s, seen_at_s : ndarray (n,), [s]
        The stamps on the recording's clock, and the instants of the motion they show.
    faults : Disturbances
    rng : Generator

    Returns
    -------
    ndarray (n,), [V]
    """
    share = motion.line_pa / valve.flow_reference_pa
    load = np.where(motion.open, 0.0, np.maximum(motion.contact_n, 0.0))
    leak = valve.leak_v * share * np.exp(-load / valve.leak_load_n)
    if valve.simmer > 0.0:
        leak = leak + 8.0 * valve.leak_v * share * np.exp(-load / (valve.simmer * valve.preload_n))
    lifted = motion.lift_of_disc_m
    amplitude = leak + valve.flow_v_m * share * lifted
    heard = on_clock(motion, amplitude, seen_at_s)
    if valve.simmer > 0.0:
        knots = np.arange(times_s[0], times_s[-1] + 0.1, 0.05)
        heard = heard * np.interp(times_s, knots, rng.uniform(0.3, 1.7, knots.size))
    for at_s, length_s, size_v in faults.bursts:
        since = times_s - at_s
        burst = size_v * np.exp(-np.maximum(since, 0.0) / length_s) * np.minimum(1.0, np.maximum(since, 0.0) / 1e-3)
        heard = np.hypot(heard, burst)
    return heard


def show_level(sensor: SensorModel, heard_v: Floats, times_s: Floats, rng: Generator) -> Floats:
    """Give the rectified, smoothed sound level, [V]: baseline and sound add as powers, noise is relative.

    Parameters
    ----------
    sensor : SensorModel
    heard_v : ndarray (n,), [V]
    times_s : ndarray (n,), [s]
    rng : Generator

    Returns
    -------
    ndarray (n,), [V]
    """
    spread = sensor.noise or _LEVEL_SPREAD
    degrees = 1.0 / spread**2
    level = np.hypot(heard_v, sensor.offset) * rng.gamma(degrees, 1.0 / degrees, times_s.size)
    quiet = replace(sensor, noise=0.0, offset=0.0)  # both are in the level already
    lost_to = np.abs(rng.normal(sensor.offset, spread * sensor.offset, times_s.size))
    return _common(quiet, level, times_s, rng, lost_noise=lost_to)


def show_waveform(sensor: SensorModel, heard_v: Floats, times_s: Floats, rng: Generator) -> Floats:
    """Give the raw sound waveform, [V]: white noise of the amplitude heard over the baseline's noise.

    Parameters
    ----------
    sensor : SensorModel
    heard_v : ndarray (n,), [V]
    times_s : ndarray (n,), [s]
    rng : Generator

    Returns
    -------
    ndarray (n,), [V]
    """
    wave = np.hypot(heard_v, sensor.offset) * rng.standard_normal(times_s.size)
    plain = replace(sensor, noise=0.0, offset=0.0, lag_s=0.0)
    return _common(plain, wave, times_s, rng, lost_noise=sensor.offset * rng.standard_normal(times_s.size))


def _common(
    sensor: SensorModel, shown: Floats, times_s: Floats, rng: Generator,
    *, scale: float = 1.0, lost_noise: Floats | None = None,
) -> Floats:  # fmt: skip
    """Lag and hold, offset and creep, noise, loss, saturation and steps, in the order a chain has them."""
    step_s = float(times_s[1] - times_s[0])
    if sensor.lag_s > 0.0:
        shown = _lag(shown, step_s / sensor.lag_s)
    noise = sensor.noise * scale * rng.standard_normal(times_s.size) if sensor.noise > 0.0 else 0.0
    base = sensor.offset + sensor.creep_per_s * (times_s - times_s[0])
    signal = shown + base + noise
    if sensor.hold_s > 0.0:
        size = max(1, round(sensor.hold_s / step_s))
        signal = signal[(np.arange(signal.size) // size) * size]
    if sensor.lost:
        dead = np.full_like(signal, sensor.offset)
        if sensor.lost == "noise":
            dead = lost_noise if lost_noise is not None else base + noise
        signal = np.where(times_s >= sensor.lost_from_s, dead, signal)
    if sensor.capacity is not None:
        signal = np.clip(signal, -sensor.capacity, sensor.capacity)
    if sensor.resolution > 0.0:
        signal = np.round(signal / sensor.resolution) * sensor.resolution
    return signal


def _lag(values: Floats, ratio: float) -> Floats:
    """First-order lag, exact for a signal that holds still over each step."""
    keep = float(np.exp(-ratio))
    out, state = np.empty_like(values), float(values[0])
    for index, value in enumerate(values.tolist()):
        state = value + (state - value) * keep
        out[index] = state
    return out


def spoil(column: str, values: Floats, times_s: Floats, sensor: SensorModel, faults: Disturbances) -> Floats:
    """Add hum and spikes and take out gaps (NaN), then turn SI into the column's own unit.

    Parameters
    ----------
    column : str
    values : ndarray (n,), SI
    times_s : ndarray (n,), [s]
    sensor : SensorModel
    faults : Disturbances

    Returns
    -------
    ndarray (n,), in the sensor's unit
    """
    out = np.array(values)
    if sensor.hum > 0.0:
        out += sensor.hum * np.sin(2.0 * np.pi * faults.hum_hz * times_s)
    for name, at_s, size in faults.spikes:
        if name == column:
            out[min(int(np.searchsorted(times_s, at_s)), out.size - 1)] += size
    for name, start_s, end_s in faults.gaps:
        if name in ("", column):
            out[(times_s >= start_s) & (times_s < end_s)] = np.nan
    unit = UNITS[sensor.unit]
    return (out - unit.offset) / unit.factor
