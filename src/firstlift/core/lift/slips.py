"""A disc that moves by fits and starts: where its first slip is, and its second.

Guides that stick let go at once and stick again. Between two slips the lift stands still, so that no smooth
curve fits more than one of them: the fits must end before the second.
"""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

from firstlift.core.recording import Floats
from firstlift.core.signal.condition import Signal
from firstlift.core.signal.ranks import median, quantiles

# widths of the means compared, as shares of the stretch looked at: some ten to some hundreds of slips in it
_WIDTHS = (1 / 60, 1 / 120, 1 / 240, 1 / 480)
_FEWEST = 4
# a slip is this many times the noise of the two means, most of it within half their width
_PLAIN, _SHARP = 8.0, 0.75
# the first slips may be this much smaller than most
_SMALL = 0.15
# while the disc sticks the lift rises by less than this share of a slip
_STILL = 0.3


def first_slips(lift: Signal, start_s: float, top_s: float) -> tuple[float, float] | None:
    """Find the first two slips of a disc that moves by fits and starts.

    Parameters
    ----------
    lift : Signal
    start_s, top_s : float, [s]
        Where the lift may begin to move, and where it ends.

    Returns
    -------
    (first_s, second_s) : tuple of float, or None
        Middle of each slip; None where the lift moves smoothly, or by slips lost in its noise.
    """
    for share in _WIDTHS:
        width = share * (top_s - start_s)
        if width < 12.0 * lift.step_s:
            return None
        found = _slips(lift, start_s, top_s, width)
        if found is not None:
            return found
    return None


def _slips(lift: Signal, start_s: float, top_s: float, width: float) -> tuple[float, float] | None:
    at, index = _grid(lift, start_s, top_s, width)
    sums = lift.sums(index)
    jump, noise = _jumps(index, sums, 8)
    noise *= lift.noise
    moving = jump[int((jump > 0.5 * quantiles(jump, 0.95)[0]).argmax()) :]
    if moving.size < 16:
        return None
    still, slip = quantiles(moving, 0.4, 0.9)
    if slip < _PLAIN * noise or still > _STILL * slip:
        return None
    sharp, _ = _jumps(index, sums, 4)
    tops = _peaks(jump, 0.6 * slip)
    # where a slip is, the narrow means see it as well as the wide ones; a stroke of the pump they see half of
    narrow = np.array([sharp[max(0, top - 4) : top + 5].max() for top in tops])
    if tops.size < _FEWEST or median(narrow / jump[tops]) < _SHARP:
        return None
    apart = at[tops[1:]] - at[tops[:-1]]
    # slips follow each other at much the same pace, and not so fast that one width holds two of them
    if median(apart) < 1.5 * width:
        return None
    first, second = int(tops[0]), int(tops[1])
    stick = int(median(tops[1:] - tops[:-1]))
    # the very first slips may be smaller than the rest
    while (earlier := first - stick) > 8:
        low = earlier - stick // 3
        place = max(low, 0) + int(np.argmax(jump[max(low, 0) : earlier + stick // 3 + 1]))
        if jump[place] < max(_SMALL * slip, 6.0 * noise):
            break
        first, second = place, first
    return float(at[first]), float(at[second])


def _grid(lift: Signal, start_s: float, top_s: float, width: float) -> tuple[Floats, NDArray[np.intp]]:
    """Instants an eighth of a width apart, and the samples there, eight instants further on either end."""
    step = 0.125 * width
    at = np.arange(start_s, top_s, step)
    return at, lift.time_s.searchsorted(start_s + step * np.arange(-8, at.size + 8))


def _jumps(index: NDArray[np.intp], sums: Floats, reach: int) -> tuple[Floats, float]:
    """Mean over so many instants after each less mean over as many before, and its noise in units of one sample's."""
    count = index.size - 16
    low, at, high = (slice(8 + shift, 8 + shift + count) for shift in (-reach, 0, reach))
    before, after = np.maximum(index[at] - index[low], 1), np.maximum(index[high] - index[at], 1)
    size = median(np.concatenate((before, after)))
    return (sums[high] - sums[at]) / after - (sums[at] - sums[low]) / before, math.sqrt(2.0 / size)


def _peaks(jump: Floats, limit: float) -> np.ndarray:
    """Places of the largest jump within each run of jumps above a limit."""
    above = np.concatenate(([False], jump > limit, [False]))
    edges = np.flatnonzero(np.diff(above.astype(np.int8)))
    return np.array([low + int(np.argmax(jump[low:high])) for low, high in edges.reshape(-1, 2)], dtype=np.intp)
