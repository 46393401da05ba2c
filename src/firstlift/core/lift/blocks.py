"""Windows of one channel, averaged to blocks: what the fits see of a signal."""

from __future__ import annotations

import numpy as np

from firstlift.core.lift.bend import Window
from firstlift.core.recording import Floats
from firstlift.core.signal.condition import Signal

# blocks before the candidates, and from them on: the join is resolved far better than a block, and fits stay cheap;
# the side after may hold a snap of a few milliseconds, so it gets the finer ones
_BLOCKS_BEFORE = 64
_BLOCKS_FROM = 112


def cut(
    signal: Signal,
    centre_s: float,
    before_s: float,
    after_s: float,
    *,
    first_s: float | None = None,
    companion: Signal | None = None,
) -> Window | None:
    """Cut a window around a place and average it to blocks.

    Parameters
    ----------
    signal : Signal
    centre_s, before_s, after_s : float, [s]
    first_s : float or None, [s]
        First candidate; blocks may be coarser before it. The centre where None.
    companion : Signal or None
        Sampled at the blocks where given.

    Returns
    -------
    Window or None
        None where fewer than eight samples lie on either side.
    """
    part = signal.between(centre_s - before_s, centre_s + after_s)
    early = int(np.searchsorted(signal.time_s[part], centre_s))
    if early < 8 or part.stop - part.start - early < 8:
        return None
    split = part.start + int(np.searchsorted(signal.time_s[part], centre_s if first_s is None else first_s))
    sides = [
        _averaged(signal, slice(part.start, split), _BLOCKS_BEFORE, from_end=True),
        _averaged(signal, slice(split, part.stop), _BLOCKS_FROM, from_end=False),
    ]
    t, y, total = (np.concatenate(pair) for pair in zip(*sides, strict=True))
    if t.size < 16:
        return None
    middle = centre_s + 0.5 * (after_s - before_s)
    half = 0.5 * (after_s + before_s)
    beside = np.interp(t, companion.time_s, companion.value) if companion is not None else None
    return Window(middle, half, (t - middle) / half, y, 1.0 / np.sqrt(total), beside)


def _averaged(signal: Signal, part: slice, blocks: int, *, from_end: bool) -> tuple[Floats, Floats, Floats]:
    """Average a stretch to at most that many blocks: time, value, and summed weight of each."""
    size = max(1, -(-(part.stop - part.start) // blocks))
    whole = (part.stop - part.start) // size * size
    used = slice(part.stop - whole, part.stop) if from_end else slice(part.start, part.start + whole)
    if whole == 0:
        empty = np.empty(0)
        return empty, empty, empty
    value, weight = signal.value[used], 1.0 / np.square(signal.sigma[used])
    # distances from the first sample: running sums of large numbers would lose digits
    start, ground = float(signal.time_s[used.start]), float(value[0])
    t = start + _block_sums(signal.time_s[used] - start, size) / size
    total = _block_sums(weight, size)
    return t, ground + _block_sums(weight * (value - ground), size) / total, total


def _block_sums(values: Floats, size: int) -> Floats:
    """Sum runs of ``size`` neighbours, by differences of one running sum."""
    if size == 1:
        return values
    sums = np.cumsum(values)[size - 1 :: size].copy()
    sums[1:] -= sums[:-1].copy()
    return sums
