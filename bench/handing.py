"""One pull's loading cut out of a recording, as a careful user of a general-purpose tool would."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from firstlift.core.job import Form, Measures
from firstlift.core.recording import Floats
from firstlift.sim.model import SimulatedTest, TruePull

POINTS = 400


@dataclass(frozen=True, slots=True)
class Handed:
    """What a tool is handed of one pull: (n,) each, SI; sound None or lift None where the channel is dead."""

    time_s: Floats
    force_n: Floats
    line_pa: Floats
    lift_m: Floats | None
    sound: Floats | None


def hand_over(test: SimulatedTest, pull: TruePull) -> Handed:
    """Cut one pull's loading out of the recording, as a careful user of such a tool would."""
    motion, zero = test.motion, test.program.record_from_s
    low = max(pull.start_s, 0.0)
    part = (motion.time_s >= low + zero) & (motion.time_s <= pull.end_s + zero)
    drive = motion.drive_m[part]
    high = float(motion.time_s[part][int(np.argmax(drive >= drive.max() - 1e-9))]) - zero
    high = max(high, (pull.first_lift_s or low) + 0.02)
    clock: Floats | None = None
    seen: dict[Measures, Floats] = {}
    for raw in test.recording.channels:
        good = np.isfinite(raw.values)
        times = raw.time_s[good] - (raw.spec.delay_s or 0.0)
        level = np.sqrt(raw.values[good]) if raw.spec.form is Form.WAVEFORM else raw.values[good]
        values = _despike(level * raw.spec.factor)
        if raw.spec.measures is Measures.PULL_FORCE:
            slack = (times < low) & (times > low - 1.0)
            values = values - (float(np.median(values[slack])) if slack.any() else float(values.min()))
        if clock is None:
            count = int(((times >= low) & (times <= high)).sum())
            clock = np.linspace(low, high, min(POINTS, max(count, 8)) + 1)
        blocks = _blocks(times, values, clock)
        measures = raw.spec.measures
        seen[measures] = seen[measures] + blocks if measures in seen else blocks
    assert clock is not None
    lost = {Measures.SPINDLE_LIFT: test.instruments.lift, Measures.ACOUSTIC: test.instruments.sound}
    dead = {measures for measures, sensor in lost.items() if sensor is None or sensor.lost}
    force = seen[Measures.PULL_FORCE] - test.job.weight_on_spindle_n
    return Handed(
        0.5 * (clock[1:] + clock[:-1]),
        force,
        seen[Measures.LINE_PRESSURE],
        None if Measures.SPINDLE_LIFT in dead else seen[Measures.SPINDLE_LIFT],
        None if Measures.ACOUSTIC in dead else seen[Measures.ACOUSTIC],
    )


def _despike(values: Floats) -> Floats:
    """Replace single samples that stand out from both neighbours by far, as any user would."""
    if values.size < 5:
        return values
    middle = np.array(values)
    neighbours = np.median(np.stack((values[:-2], values[1:-1], values[2:])), axis=0)
    away = np.abs(values[1:-1] - neighbours)
    spread = 1.4826 * float(np.median(away)) + 1e-300
    middle[1:-1] = np.where(away > 20.0 * spread, neighbours, values[1:-1])
    return middle


def _blocks(times: Floats, values: Floats, edges: Floats) -> Floats:
    index = np.searchsorted(times, edges)
    total = np.concatenate(([0.0], np.cumsum(values)))
    count = np.diff(index)
    mean = np.diff(total[index]) / np.maximum(count, 1)
    centre = 0.5 * (edges[1:] + edges[:-1])
    return np.where(count > 0, mean, np.interp(centre, times, values))


def cut_window(handed: Handed, past: float = 0.3) -> Handed:
    """End the window a share past the largest force: what a tool cannot know, but someone in the trade does."""
    smooth = np.convolve(handed.force_n, np.ones(5) / 5.0, "valid")
    t = handed.time_s
    stop = t[0] + (t[int(np.argmax(smooth)) + 2] - t[0]) * (1.0 + past)
    count = max(int(np.searchsorted(t, stop)), min(20, t.size))
    parts = (t, handed.force_n, handed.line_pa, handed.lift_m, handed.sound)
    return Handed(*(None if values is None else values[:count] for values in parts))


def _line_at(handed: Handed, at_s: float) -> float:
    near = np.abs(handed.time_s - at_s) <= 0.05
    if near.sum() < 3:
        near = np.argsort(np.abs(handed.time_s - at_s))[:3]
    return float(np.mean(handed.line_pa[near]))


def load_at(handed: Handed, at_s: float, area: float) -> float:
    """Give the opening load at an instant, [Pa]: force by a line through the ten points before it."""
    index = int(np.searchsorted(handed.time_s, at_s))
    part = slice(max(0, index - 10), max(index, 3))
    t, f = handed.time_s[part], handed.force_n[part]
    force = float(np.polyval(np.polyfit(t - at_s, f, 1), 0.0))
    return _line_at(handed, at_s) + force / area
