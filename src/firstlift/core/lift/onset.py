"""Where to look for first lift: the loading stretch, the stiff line and the departure from it.

Nothing here is the estimate; it hands places to `choose` and `fuse`. Everything is relative to the noise
of the channels and to the pull's own length, so that scale, offset and time shift do not matter.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from firstlift.core.recording import Floats
from firstlift.core.signal.condition import Signal, Signals
from firstlift.core.signal.pulls import PullWindow
from firstlift.core.signal.ranks import median
from firstlift.core.signal.straight import fit_straight


@dataclass(frozen=True, slots=True, eq=False)
class Loading:
    """The stretch from slack to the largest lift, in blocks (n,), with the departure of each channel.

    ``lift_left`` and ``sound_left`` are the lift left over after the stiff line is taken off and the sound
    above its baseline, each in units of its own block noise (None where the channel is missing or dead).
    ``lift_answers``: the lift reading follows the force before first lift (stretch, unloading of the seat) or
    leaves the stiff line; a sensor that does neither may have lost the spindle. ``play_m``: the spindle's way before
    the stiff line begins.
    """

    start_s: float
    top_s: float
    time_s: Floats
    force: Floats
    force_noise: float
    lift_left: Floats | None
    lift_noise: float
    sound_left: Floats | None
    stiff_m_per_n: float
    tare_n: float
    lift_answers: bool = True
    play_m: float | None = None


def block_means(signal: Signal, edges: Floats) -> tuple[Floats, Floats]:
    """Average a signal over the stretches between edges.

    Parameters
    ----------
    signal : Signal
    edges : ndarray (n + 1,), [s]

    Returns
    -------
    mean, count : ndarray (n,)
        Mean is NaN where no sample lies.
    """
    index = signal.time_s.searchsorted(edges)
    size = index[1:] - index[:-1]
    if signal.value.size == 0:
        return np.full(size.size, np.nan), np.zeros(size.size)
    if size.min() > 0:
        return signal.means(index, size), size.astype(float)
    return np.where(size > 0, signal.means(index, np.maximum(size, 1)), np.nan), size.astype(float)


def find_top(signals: Signals, pull: PullWindow, until_s: float) -> float:
    """Find where loading ends: the largest lift, else the loudest sound, else the largest force.

    Parameters
    ----------
    signals : Signals
    pull : PullWindow
    until_s : float, [s]
        A disc that snaps open slackens the gear at once: its largest lift comes after the force has gone.

    Returns
    -------
    float, [s]
    """
    duration = pull.end_s - pull.start_s
    edges = np.linspace(pull.start_s, min(until_s, pull.end_s + 0.1 * duration + 0.1), 221)
    for signal, factor in ((signals.lift, 12.0), (signals.sound, 12.0)):
        if signal is None:
            continue
        mean, count = block_means(signal, edges)
        good = np.isfinite(mean)
        if good.sum() < 20:
            continue
        noise = signal.noise / math.sqrt(max(median(count[good]), 1.0))
        before = signal.value[signal.between(pull.start_s - 0.3 * duration - 0.2, pull.start_s)]
        ground = median(before) if before.size else float(mean[good].min())
        top = float(mean[good].max())
        if top - ground > factor * noise:
            # the first block within reach of the top: a valve that stays open has its largest lift anywhere
            return float(edges[int((mean >= ground + 0.97 * (top - ground)).argmax()) + 1])
    return pull.peak_s


def load(signals: Signals, pull: PullWindow, until_s: float) -> Loading:
    """Lay the loading stretch out in blocks and take the stiff line off the lift.

    Parameters
    ----------
    signals : Signals
    pull : PullWindow
    until_s : float, [s]
        Start of the next pull or end of the record.

    Returns
    -------
    Loading
    """
    force = signals.force
    assert force is not None
    top = max(find_top(signals, pull, until_s), pull.start_s + 0.2 * (pull.peak_s - pull.start_s))
    # the foot lies before the detection threshold was passed
    room = pull.start_s - pull.slack_from_s
    start = pull.start_s - min(0.25 * (pull.peak_s - pull.start_s) + 0.02, 0.5 * room)
    step = max(s.step_s for s in (force, signals.lift, signals.sound) if s is not None)
    blocks = int(min(max((top - start) / step / 4.0, 30.0), 600.0))
    edges = np.linspace(start, top, blocks + 1)
    mean, count = block_means(force, edges)
    lift, sound = (None if signal is None else block_means(signal, edges) for signal in (signals.lift, signals.sound))
    time_s = 0.5 * (edges[1:] + edges[:-1])
    good = np.isfinite(mean)
    for blocked in (lift, sound):
        if blocked is not None:
            good &= np.isfinite(blocked[0])
    noise = force.noise / math.sqrt(max(median(count), 1.0))
    f = mean[good] - pull.tare_n
    lift_left, lift_noise, (stiff, play), answers = _lift_left(signals.lift, pull, lift, good, f, noise)
    sound_left = _sound_left(signals.sound, pull, sound, good)
    return Loading(
        start, top, time_s[good], f, noise, lift_left, lift_noise, sound_left, stiff, pull.tare_n, answers, play
    )


_Blocked = tuple[Floats, Floats]


def _lift_left(
    lift: Signal | None,
    pull: PullWindow,
    blocked: _Blocked | None,
    good: NDArray[np.bool_],
    force: Floats,
    force_noise: float,
) -> tuple[Floats | None, float, tuple[float, float | None], bool]:
    if lift is None or blocked is None or force.size < 12:
        return None, 0.0, (0.0, None), False
    mean, count = blocked
    noise = lift.noise / math.sqrt(max(median(count), 1.0))
    before = lift.value[lift.between(pull.slack_from_s, pull.start_s)]
    x = mean[good]
    x -= median(before) if before.size > 5 else float(x[0])
    slope, offset = _stiff_line(force, x, noise)
    left = x - offset - slope * force
    # force noise enters through the stiff line
    total = max(math.hypot(noise, slope * force_noise), 1e-15)
    rise = force[: int((force >= 0.9 * force.max()).argmax()) + 1]
    stretch = slope * float(rise.std()) * math.sqrt(rise.size)
    answers = stretch > 8.0 * total or float(left.max()) > 20.0 * total
    # where the stiff line stands at no force: what the spindle moved before the gear was taut
    play = offset if offset > 6.0 * total else 0.0
    return left / total, total, (slope, play), answers


def _stiff_line(force: Floats, x: Floats, noise: float) -> tuple[float, float]:
    """Fit the stiff line: to the low part of the first rise while it stays straight, or to a stiffer part above it.

    Play that is taken up first lets the spindle run ahead of the force; the stiff line then begins above it.
    """
    best = _low_line(force, x, noise)
    top = float(force.max())
    for share in (0.2, 0.3, 0.4, 0.5, 0.6):
        low, high = (int((force >= level * top).argmax()) for level in (share, share + 0.35))
        if high - low < 10:
            continue
        f, y = force[low:high], x[low:high]
        middle, level = float(f.mean()), float(y.mean())
        away, rest = f - middle, y - level
        spread = max(float(away @ away), 1e-30)
        slope = float(away @ rest) / spread
        rest -= slope * away
        error = max(noise, math.sqrt(float(rest @ rest) / rest.size)) / math.sqrt(spread)
        if slope < best[0] - 6.0 * error and slope < 0.7 * best[0]:
            best = (slope, level - slope * middle)
    return best


def _low_line(force: Floats, x: Floats, noise: float) -> tuple[float, float]:
    top = float(force.max())
    best = (0.0, median(x[: max(3, x.size // 10)]))
    for share in (0.3, 0.45, 0.6, 0.75, 0.9):
        reached = force >= share * top
        stop = int(reached.argmax()) if reached.any() else force.size
        if stop < 8:
            continue
        f, y = force[:stop], x[:stop]
        slope, offset = fit_straight(f, y)
        rest = y - offset - slope * f
        if math.sqrt(float(rest @ rest) / stop) > 1.5 * noise + 1e-15 and share > 0.3:
            break
        best = (slope, offset)
    return best


def _sound_left(
    sound: Signal | None, pull: PullWindow, blocked: _Blocked | None, good: NDArray[np.bool_]
) -> Floats | None:
    if sound is None or blocked is None:
        return None
    mean, count = blocked
    before = sound.value[sound.between(pull.slack_from_s, pull.start_s)]
    if before.size < 8:
        return None
    ground = median(before)
    spread = max(1.4826 * median(np.abs(before - ground)), 1e-15)
    return (mean[good] - ground) / (spread / math.sqrt(max(median(count), 1.0)))


def departure(left: Floats, limit: float) -> int | None:
    """Find the first block from which a channel never comes back into its noise before the top.

    Parameters
    ----------
    left : ndarray (n,)
        In units of block noise.
    limit : float
        Counts as away.

    Returns
    -------
    int or None
    """
    floor = np.minimum.accumulate(left[::-1])[::-1]
    # the very last blocks alone prove nothing
    away = np.flatnonzero(floor[:-2] > limit)
    return int(away[0]) if away.size else None
