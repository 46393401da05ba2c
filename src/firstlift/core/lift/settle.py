"""Steps of the lift reading that are not lift: a frame that settles, a clamp that yields."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from firstlift.core.errors import Finding, Severity
from firstlift.core.lift.onset import block_means
from firstlift.core.signal.condition import Signals
from firstlift.core.signal.pulls import PullWindow
from firstlift.core.signal.straight import fit_straight


def find_frame_steps(signals: Signals, window: PullWindow) -> tuple[Finding, ...]:
    """Find a step of the lift reading between the slack before a pull and its first half of loading.

    A step is a change of level within two blocks, ten times the noise of the level on either side, which
    neither the force nor the sound shares.

    Parameters
    ----------
    signals : Signals
    window : PullWindow

    Returns
    -------
    tuple of Finding
        ``frame-slip`` with ``at_s`` and ``jump_m``, or empty.

    Notes
    -----
    Basis: mean of eight blocks after less mean of eight blocks before, in white noise a normal deviate; ten
    sigma is passed by chance once in 10^23 places, so false alarms come from real movement only.
    """
    lift, force = signals.lift, signals.force
    if lift is None or force is None:
        return ()
    start = max(window.slack_from_s - 0.5 * (window.start_s - window.slack_from_s), float(lift.time_s[0]))
    stop = window.start_s + 0.5 * max(window.peak_s - window.start_s, 0.0)
    block = max(5.0 * lift.step_s, (stop - start) / 400.0)
    edges = np.arange(start, stop, block)
    if edges.size < 30:
        return ()
    x, count = block_means(lift, edges)
    f, _ = block_means(force, edges)
    good = np.isfinite(x) & np.isfinite(f)
    x, f, at = x[good], f[good], edges[:-1][good]
    if x.size < 30:
        return ()
    width = 8
    total = np.concatenate(([0.0], np.cumsum(x)))
    after = (total[2 * width + 1 :] - total[width + 1 : -width]) / width
    before = (total[width : -width - 1] - total[: -2 * width - 1]) / width
    jump = after - before
    noise = lift.noise / np.sqrt(max(float(np.median(count)), 1.0) * width / 2.0)
    index = int(np.argmax(np.abs(jump)))
    size = float(jump[index])
    middle = index + width
    sharp = abs(x[min(middle + 2, x.size - 1)] - x[max(middle - 2, 0)]) > 0.7 * abs(size)
    if abs(size) < 10.0 * noise or not sharp or _shared(signals, float(at[middle]), block):
        return ()
    stiff = _stretch(f, x, middle)
    if abs(size) < 3.0 * stiff:
        return ()
    return (Finding("frame-slip", Severity.WARNING, window.number, {"at_s": float(at[middle]), "jump_m": size}),)


def without_steps(signals: Signals, steps: tuple[Finding, ...]) -> Signals:
    """Take found frame steps off the lift reading, so that what follows is measured from the settled frame.

    Parameters
    ----------
    signals : Signals
    steps : tuple of Finding
        As `find_frame_steps` gave them.

    Returns
    -------
    Signals
    """
    if signals.lift is None or not steps:
        return signals
    value = signals.lift.value.copy()
    for step in steps:
        at, jump = float(step.parameters["at_s"] or 0.0), float(step.parameters["jump_m"] or 0.0)
        value -= jump * (signals.lift.time_s >= at)
    return replace(signals, lift=replace(signals.lift, value=value))


def _stretch(force: np.ndarray, lift: np.ndarray, middle: int) -> float:
    """Lift that the force's own change over the step's neighbourhood can explain, by the slope beside it."""
    part = slice(max(0, middle - 24), max(0, middle - 2))
    if float(np.ptp(force[part])) <= 0:
        return 0.0
    slope, _ = fit_straight(force[part], lift[part])
    near = slice(max(0, middle - 8), middle + 9)
    return abs(slope) * float(np.ptp(force[near]))


def _shared(signals: Signals, at_s: float, block: float) -> bool:
    """Whether the sound jumps with it: then it is the valve, not the frame."""
    sound = signals.sound
    if sound is None:
        return False
    before = sound.value[sound.between(at_s - 12.0 * block, at_s - 2.0 * block)]
    after = sound.value[sound.between(at_s + 2.0 * block, at_s + 12.0 * block)]
    if before.size < 5 or after.size < 5:
        return False
    spread = max(float(np.std(before)), sound.noise) * np.sqrt(1.0 / before.size + 1.0 / after.size)
    return abs(float(np.mean(after) - np.mean(before))) > 8.0 * spread
