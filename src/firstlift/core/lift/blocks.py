"""Windows of one channel, averaged to blocks: what the fits see of a signal."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from firstlift.core.lift.bend import Window
from firstlift.core.recording import Floats
from firstlift.core.signal.condition import Signal

# blocks before the candidates, and from them on: the join is resolved far better than a block, and fits stay cheap;
# the side after may hold a snap of a few milliseconds, so it gets the finer ones
_BLOCKS_BEFORE = 48
_BLOCKS_FROM = 80
# a block this share of a sampling step from even has lost no sample, and its clock moves no mean that matters
_EVEN = 0.01


def cut(
    signal: Signal,
    centre_s: float,
    before_s: float,
    after_s: float,
    *,
    first_s: float | None = None,
) -> Window | None:
    """Cut a window around a place and average it to blocks.

    Parameters
    ----------
    signal : Signal
    centre_s, before_s, after_s : float, [s]
    first_s : float or None, [s]
        First candidate; blocks may be coarser before it. The centre where None.

    Returns
    -------
    Window or None
        None where fewer than eight samples lie on either side.
    """
    (window,) = cut_row(signal, centre_s, np.array([before_s]), np.array([after_s]), first_s=first_s)
    return window


def cut_row(
    signal: Signal, centre_s: float, before_s: Floats, after_s: Floats, *, first_s: float | None = None
) -> list[Window | None]:
    """Cut several windows around one place, all from the same running sums.

    Parameters
    ----------
    signal : Signal
    centre_s : float, [s]
    before_s, after_s : ndarray (W,), [s]
    first_s : float or None, [s]
        As for `cut`.

    Returns
    -------
    list of Window or None
        As from `cut`, one for each window asked for.
    """
    low = np.searchsorted(signal.time_s, centre_s - before_s, side="left")
    high = np.searchsorted(signal.time_s, centre_s + after_s, side="right")
    place = int(np.searchsorted(signal.time_s, centre_s))
    split = place if first_s is None else int(np.searchsorted(signal.time_s, first_s))
    enough = (place - low >= 8) & (high - place >= 8)
    if not enough.any():
        return [None] * low.size
    split_of = np.clip(split, low, high)
    edge, count = _edges(split_of - low, high - split_of)
    # a window that is not wanted stays where it is, so that no edge lies outside
    edge = np.clip(edge + split_of[:, None], low[:, None], high[:, None])
    t, y, weight = _means(signal, edge)
    middle, half = centre_s + 0.5 * (after_s - before_s), 0.5 * (after_s + before_s)
    tau = (t - middle[:, None]) / half[:, None]
    sigma = 1.0 / np.sqrt(weight)
    return [
        Window(at, width, tau[row, :n], y[row, :n], sigma[row, :n]) if good and n >= 16 else None
        for row, (at, width, n, good) in enumerate(
            zip(middle.tolist(), half.tolist(), count.tolist(), enough.tolist(), strict=True)
        )
    ]


def _edges(early: NDArray[np.intp], late: NDArray[np.intp]) -> tuple[NDArray[np.intp], NDArray[np.intp]]:
    """Lay blocks on either side of a split: their edges (W, e) counted from it, and how many blocks there are (W,)."""
    size = np.maximum(1, -(-early // _BLOCKS_BEFORE))[:, None]
    after = np.maximum(1, -(-late // _BLOCKS_FROM))[:, None]
    blocks, more = early[:, None] // size, late[:, None] // after
    step = np.arange(int((blocks + more).max()) + 1) - blocks
    return np.where(step <= 0, step * size, np.minimum(step, more) * after), (blocks + more)[:, 0]


def _means(signal: Signal, edge: NDArray[np.intp]) -> tuple[Floats, Floats, Floats]:
    """Average between edges (W, e): time, value and summed weight of each block, (W, e - 1)."""
    size = np.diff(edge)
    divisor = np.maximum(size, 1)
    t = _mean_times(signal, edge, size)
    first, last = int(edge.min()), int(edge.max())
    sigma = signal.sigma[first:last]
    if sigma.strides == (0,) or bool((sigma == sigma[0]).all()):
        return t, signal.means(edge, divisor), divisor / float(sigma[0]) ** 2
    ground, index, weight = float(signal.value[first]), edge - first, 1.0 / np.square(sigma)
    # beyond the last block of a shorter window nothing is summed
    total = np.where(size > 0, _between(weight, index), 1.0)
    return t, ground + _between(weight * (signal.value[first:last] - ground), index) / total, total


def _mean_times(signal: Signal, edge: NDArray[np.intp], size: NDArray[np.intp]) -> Floats:
    """Average the samples' times: the middle of a block whose samples follow each other evenly, else by sums."""
    last = np.maximum(edge[:, 1:] - 1, edge[:, :-1]).clip(max=signal.time_s.size - 1)
    start, stop = signal.time_s[edge[:, :-1].clip(max=signal.time_s.size - 1)], signal.time_s[last]
    even = np.abs(stop - start - (size - 1) * signal.step_s) <= _EVEN * signal.step_s
    if bool((even | (size < 2)).all()):
        return 0.5 * (start + stop)
    first = int(edge.min())
    away = signal.time_s[first : int(edge.max())] - signal.time_s[first]
    return signal.time_s[first] + _between(away, edge - first) / np.maximum(size, 1)


def _between(values: Floats, index: NDArray[np.intp]) -> Floats:
    """Sum between edges, by differences of one running sum."""
    running = np.zeros(values.size + 1)
    np.cumsum(values, out=running[1:])
    return np.diff(running[index])
