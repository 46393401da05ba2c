"""Windows of one channel, averaged to blocks: what the fits see of a signal."""

from __future__ import annotations

import numpy as np

from firstlift.core.lift.bend import Window
from firstlift.core.recording import Floats
from firstlift.core.signal.condition import Signal

# blocks per window: the join is resolved far better than a block, and fits stay cheap
_BLOCKS = 160


def cut(
    signal: Signal, centre_s: float, before_s: float, after_s: float, companion: Signal | None = None
) -> Window | None:
    """Cut a window around a place and average it to blocks.

    Parameters
    ----------
    signal : Signal
    centre_s, before_s, after_s : float, [s]
    companion : Signal or None
        Sampled at the blocks where given.

    Returns
    -------
    Window or None
        None where fewer than eight samples lie on either side.
    """
    part = signal.between(centre_s - before_s, centre_s + after_s)
    time_s = signal.time_s[part]
    early = int(np.searchsorted(time_s, centre_s))
    if early < 8 or time_s.size - early < 8:
        return None
    size = max(1, time_s.size // _BLOCKS)
    used = slice(part.stop - time_s.size // size * size, part.stop)
    value, weight = signal.value[used], 1.0 / np.square(signal.sigma[used])
    # distances from the first sample: running sums of large numbers would lose digits
    start, ground = float(signal.time_s[used.start]), float(value[0])
    t = start + _block_sums(signal.time_s[used] - start, size) / size
    total = _block_sums(weight, size)
    y = ground + _block_sums(weight * (value - ground), size) / total
    middle = centre_s + 0.5 * (after_s - before_s)
    half = 0.5 * (after_s + before_s)
    beside = np.interp(t, companion.time_s, companion.value) if companion is not None else None
    return Window(middle, half, (t - middle) / half, y, 1.0 / np.sqrt(total), beside)


def _block_sums(values: Floats, size: int) -> Floats:
    """Sum runs of ``size`` neighbours, by differences of one running sum."""
    if size == 1:
        return values
    sums = np.cumsum(values)[size - 1 :: size].copy()
    sums[1:] -= sums[:-1].copy()
    return sums
