"""Windows of one channel, averaged to blocks: what the fits see of a signal."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from firstlift.core.lift.bend import Window, Windows
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
    found = cut_windows([(signal, np.array([before_s]), np.array([after_s]))], centre_s, first_s=first_s)
    return None if found is None else found[0].window(0)


def cut_windows(
    sides: Sequence[tuple[Signal, Floats, Floats]], centre_s: float, *, first_s: float | None = None
) -> tuple[Windows, NDArray[np.intp]] | None:
    """Cut windows of several signals around one place, those of one signal from the same running sums.

    Parameters
    ----------
    sides : sequence of (Signal, ndarray (w,), ndarray (w,)), [s]
        Signals, and how far each of their windows reaches before and after the place.
    centre_s : float, [s]
    first_s : float or None, [s]
        As for `cut`.

    Returns
    -------
    windows : Windows
        Those windows that `cut` gives, W altogether, in the order asked for.
    owner : ndarray (W,)
        Which of the signals each is of. None instead of both where there is no window.
    """
    before_s, after_s = np.concatenate([early for _, early, _ in sides]), np.concatenate([late for *_, late in sides])
    owner = np.arange(len(sides)).repeat([each[1].size for each in sides])
    early, late, split, enough = np.concatenate([_reach(*each, centre_s, first_s) for each in sides], axis=1)
    size, after = -(-early // _BLOCKS_BEFORE), -(-late // _BLOCKS_FROM)
    blocks, more = early // np.maximum(size, 1), late // np.maximum(after, 1)
    count = blocks + more
    kept = ((enough > 0) & (count >= 16)).nonzero()[0]
    if kept.size == 0:
        return None
    owner, before_s, after_s, count = owner[kept], before_s[kept], after_s[kept], count[kept]
    edge = _edges(split[kept], (size[kept], blocks[kept]), (after[kept], count))
    t, y, weight = _means([each[0] for each in sides], owner, edge)
    # filled up at the last place, where nothing weighs
    beyond = np.greater_equal(np.arange(int(count.max())), np.asarray(count, dtype=np.intp)[:, None])
    t = np.where(beyond, t[np.arange(count.size), count - 1][:, None], t)
    weight[beyond] = 0.0
    half: Floats = 0.5 * (after_s + before_s)
    middle: Floats = centre_s + 0.5 * (after_s - before_s)
    tau = (t - middle[:, None]) / half[:, None]
    return Windows(middle, half, count, tau, y, weight), owner


def _reach(
    signal: Signal, before_s: Floats, after_s: Floats, centre_s: float, first_s: float | None
) -> NDArray[np.intp]:
    """Count samples before and after the split (4, w), and say where it is and whether either side has enough."""
    time_s = signal.time_s
    low = time_s.searchsorted(centre_s - before_s)
    high = time_s.searchsorted(centre_s + after_s, side="right")
    place, split = time_s.searchsorted((centre_s, centre_s if first_s is None else first_s)).tolist()
    splits = np.minimum(np.maximum(low, split), high)
    return np.array((splits - low, high - splits, splits, (place - low >= 8) & (high - place >= 8)))


def _edges(
    split: NDArray[np.intp],
    before: tuple[NDArray[np.intp], NDArray[np.intp]],
    after: tuple[NDArray[np.intp], NDArray[np.intp]],
) -> NDArray[np.intp]:
    """Lay blocks on either side of splits (W,): their edges (W, e), a shorter window's last one again and again.

    ``before`` and ``after`` are the sizes of the blocks there, and how many there are before and altogether.
    """
    (size, blocks), (larger, count) = before, after
    step = np.minimum(np.arange(int(count.max()) + 1), count[:, None]) - blocks[:, None]
    return split[:, None] + step * np.where(step <= 0, size[:, None], larger[:, None])


def _means(signals: list[Signal], owner: NDArray[np.intp], edge: NDArray[np.intp]) -> tuple[Floats, Floats, Floats]:
    """Average between edges (W, e) of rising owner: time, value and summed weight of each block, (W, e - 1)."""
    size = edge[:, 1:] - edge[:, :-1]
    divisor = np.maximum(size, 1)
    t, y, weight = (np.empty(size.shape) for _ in range(3))
    ends = owner.searchsorted(np.arange(len(signals) + 1)).tolist()
    for signal, first, stop in zip(signals, ends[:-1], ends[1:], strict=True):
        if first < stop:
            part = slice(first, stop)
            t[part] = _mean_times(signal, edge[part], size[part])
            y[part], weight[part] = _mean_values(signal, edge[part], divisor[part])
    return t, y, weight


def _mean_values(signal: Signal, edge: NDArray[np.intp], divisor: NDArray[np.intp]) -> tuple[Floats, Floats]:
    """Average between edges: value and summed weight of each block."""
    first, last = int(edge[:, 0].min()), int(edge[:, -1].max())
    sigma = signal.sigma[first:last]
    if sigma.strides == (0,) or bool((sigma == sigma[0]).all()):
        return signal.means(edge, divisor), divisor * float(sigma[0]) ** -2.0
    ground, index, weight = float(signal.value[first]), edge - first, 1.0 / np.square(sigma)
    total = _between(weight, index)
    # beyond the last block of a shorter window nothing is summed
    total[edge[:, 1:] == edge[:, :-1]] = 1.0
    return ground + _between(weight * (signal.value[first:last] - ground), index) / total, total


def _mean_times(signal: Signal, edge: NDArray[np.intp], size: NDArray[np.intp]) -> Floats:
    """Average the samples' times: the middle of a block whose samples follow each other evenly, else by sums."""
    last = signal.time_s.size - 1
    start = signal.time_s[np.minimum(edge[:, :-1], last)]
    stop = signal.time_s[np.minimum(np.maximum(edge[:, 1:] - 1, edge[:, :-1]), last)]
    uneven = stop - start
    uneven -= (size - 1) * signal.step_s
    if not bool(((np.abs(uneven) > _EVEN * signal.step_s) & (size > 1)).any()):
        return 0.5 * (start + stop)
    first = int(edge[:, 0].min())
    away = signal.time_s[first : int(edge[:, -1].max())] - signal.time_s[first]
    return signal.time_s[first] + _between(away, edge - first) / np.maximum(size, 1)


def _between(values: Floats, index: NDArray[np.intp]) -> Floats:
    """Sum between edges, by differences of one running sum."""
    running = np.zeros(values.size + 1)
    values.cumsum(out=running[1:])
    at = running[index]
    return at[:, 1:] - at[:, :-1]
