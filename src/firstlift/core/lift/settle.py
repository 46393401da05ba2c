"""Steps of the lift reading that are not lift: a frame that settles, a clamp that yields."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np

from firstlift.core.errors import Finding, Severity
from firstlift.core.lift.onset import block_means
from firstlift.core.recording import Floats
from firstlift.core.signal.condition import Signals
from firstlift.core.signal.pulls import PullWindow
from firstlift.core.signal.ranks import median
from firstlift.core.signal.straight import fit_straight

# a frame settles a few times at most; what jumps more often is not a frame
_MOST_STEPS = 4
_SIDE = 8  # blocks averaged on either side of a step


def find_frame_steps(signals: Signals, window: PullWindow) -> tuple[Finding, ...]:
    """Find steps of the lift reading between the slack before a pull and the force's peak.

    A step is a change of level within two blocks, ten times the noise of the level on either side, which
    neither the force's stretch explains nor the sound shares.

    Parameters
    ----------
    signals : Signals
    window : PullWindow

    Returns
    -------
    tuple of Finding
        ``frame-slip`` with ``at_s``, ``jump_m`` and ``over_s``, in the order they were found.

    Notes
    -----
    Basis: mean of eight blocks after less mean of eight blocks before, in white noise a normal deviate; ten
    sigma is passed by chance once in 10^23 places, so false alarms come from real movement only.
    """
    found: list[Finding] = []
    while len(found) < _MOST_STEPS:
        step = _largest_step(without_steps(signals, tuple(found)), window)
        if step is None:
            break
        found.append(step)
    return tuple(found)


def _largest_step(signals: Signals, window: PullWindow) -> Finding | None:
    lift, force = signals.lift, signals.force
    if lift is None or force is None:
        return None
    start = max(window.slack_from_s - 0.5 * (window.start_s - window.slack_from_s), float(lift.time_s[0]))
    block = max(3.0 * lift.step_s, (window.peak_s - start) / 600.0)
    # a jump at the peak or after it may be a disc that snaps; only the sound can tell. A frame that gives way slackens
    # the gear, so that its jump may come just as the pull ends
    stop = window.end_s + 3.0 * _SIDE * block if signals.sound is not None else window.peak_s
    edges = np.arange(start, stop, block)
    if edges.size < 4 * _SIDE:
        return None
    x, count = block_means(lift, edges)
    f, _ = block_means(force, edges)
    good = np.isfinite(x) & np.isfinite(f)
    x, f, at = x[good], f[good], edges[:-1][good]
    if x.size < 4 * _SIDE:
        return None
    total = np.concatenate(([0.0], np.cumsum(x)))
    after = (total[2 * _SIDE + 1 :] - total[_SIDE + 1 : -_SIDE]) / _SIDE
    before = (total[_SIDE : -_SIDE - 1] - total[: -2 * _SIDE - 1]) / _SIDE
    jump = after - before
    samples = max(median(count), 1.0)
    noise = lift.noise / math.sqrt(samples * _SIDE / 2.0)
    middle = int(np.argmax(jump)) + _SIDE
    size = float(jump[middle - _SIDE])
    # a disc that seats again jumps down and is heard to stop; a frame that slips lets the spindle up
    if size < 10.0 * noise or size < 3.0 * _stretch(f, x, middle):
        return None
    step, spread = _step_beside_ramp(x, middle)
    # a disc on its way up passes for a step as well, but not beside its own steady motion
    if step < max(4.0 * spread * lift.noise / math.sqrt(samples), 0.5 * size):
        return None
    if _shared(signals, float(at[middle]), block, size, edges):
        return None
    # measured clear of the step itself, with the spindle's own stretch taken off: a slip slackens the gear as well
    near = np.r_[max(0, middle - 4 * _SIDE) : middle - 2, middle + 3 : min(x.size, middle + 4 * _SIDE)]
    pulled = (f[near] - f[near].mean()) / max(float(np.std(f[near])), 1e-12)
    matrix = np.stack((np.ones(near.size), pulled, near > middle), axis=1)
    fitted, *_ = np.linalg.lstsq(matrix, x[near], rcond=None)
    parameters = {"at_s": float(at[middle]) + 0.5 * block, "jump_m": float(fitted[2]), "over_s": 4.0 * block}
    return Finding("frame-slip", Severity.WARNING, window.number, parameters)


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
        at, jump, over = (float(step.parameters[key] or 0.0) for key in ("at_s", "jump_m", "over_s"))
        value -= jump * np.clip((signals.lift.time_s - at) / over + 0.5, 0.0, 1.0)
    return replace(signals, lift=replace(signals.lift, value=value))


def _step_beside_ramp(x: np.ndarray, middle: int) -> tuple[float, float]:
    """Step at a place beside a steady motion, and its spread in units of a block's noise.

    The two blocks that the step may take are left out.
    """
    near = np.r_[max(0, middle - _SIDE) : middle - 1, middle + 2 : min(x.size, middle + _SIDE + 1)]
    matrix = np.stack((np.ones(near.size), near - middle, near > middle), axis=1)
    inverse = np.linalg.inv(matrix.T @ matrix)
    return float(inverse[2] @ (matrix.T @ x[near])), float(np.sqrt(inverse[2, 2]))


def _stretch(force: np.ndarray, lift: np.ndarray, middle: int) -> float:
    """Lift that a rise of the force over the step's neighbourhood can explain, by the slope beside it.

    A frame that gives way slackens the gear: a force that falls would take the spindle down, not up.
    """
    part = slice(max(0, middle - 24), max(0, middle - 2))
    if float(np.ptp(force[part])) <= 0:
        return 0.0
    slope, _ = fit_straight(force[part], lift[part])
    rise = float(force[middle : middle + _SIDE + 1].max() - force[max(0, middle - _SIDE) : middle + 1].min())
    return abs(slope) * max(rise, 0.0)


def _shared(signals: Signals, at_s: float, block: float, jump_m: float, edges: Floats) -> bool:
    """Whether the sound jumps with it: then it is the valve, not the frame.

    A jump that noise hardly ever makes does, and a smaller one that is as large as the sound otherwise changes with
    so much lift: a disc that moves by fits and starts.
    """
    sound, lift = signals.sound, signals.lift
    if sound is None or lift is None:
        return False
    before = sound.value[sound.between(at_s - 12.0 * block, at_s - 2.0 * block)]
    after = sound.value[sound.between(at_s + 2.0 * block, at_s + 12.0 * block)]
    if before.size < 5 or after.size < 5:
        return False
    spread = max(float(np.std(before)), sound.noise) * np.sqrt(1.0 / before.size + 1.0 / after.size)
    change = float(np.mean(after) - np.mean(before))
    if abs(change) > 8.0 * spread:
        return True
    heard, moved = block_means(sound, edges)[0], block_means(lift, edges)[0]
    good = np.isfinite(heard) & np.isfinite(moved)
    if np.ptp(moved[good]) <= 0.0:
        return False
    with_lift, _ = fit_straight(moved[good], heard[good])
    return change > max(4.0 * spread, 0.5 * with_lift * jump_m)
