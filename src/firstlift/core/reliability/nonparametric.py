"""The share of lives that have ended, without any distribution: what the tests alone say.

Where every life was looked at once (current status) the answer is an isotonic regression of the shares that failed.
Elsewhere it is Turnbull's estimate: probability sits on the smallest stretches of age where an end begins and
another closes; expectation steps bring it there, Newton steps kept monotone by isotonic regression hasten them.

References
----------
.. [1] B. W. Turnbull, J. R. Statist. Soc. B 38 (1976) 290-295.
.. [2] J. A. Wellner and Y. Zhan, J. Am. Statist. Assoc. 92 (1997) 945-959.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from firstlift.core.errors import FirstliftError, Problem
from firstlift.core.recording import Floats, frozen
from firstlift.core.reliability.lives import Lives

_MOST_PASSES = 5000
_CLOSE = 1e-7


@dataclass(frozen=True, slots=True, eq=False)
class Stretches:
    """Where probability sits: ``mass`` of all lives ends in (left_yr, right_yr]; nothing is said inside a stretch.

    The last stretch may be open (right infinite): lives that still last.
    """

    left_yr: Floats
    right_yr: Floats
    mass: Floats

    def share_ended(self, age_yr: float) -> float:
        """Give the share ended by an age; inside a stretch, the share at its beginning."""
        return float(self.mass[self.right_yr <= age_yr].sum())


def pool_adjacent(values: Floats, weights: Floats) -> Floats:
    """Give the rising sequence nearest to values in weighted squares: violators are pooled into their mean.

    Parameters
    ----------
    values, weights : ndarray (n,)
        Weights above 0.

    Returns
    -------
    ndarray (n,)
    """
    means: list[float] = []
    loads: list[float] = []
    sizes: list[int] = []
    for value, weight in zip(values.tolist(), weights.tolist(), strict=True):
        mean, load, size = value, weight, 1
        while means and means[-1] >= mean:
            before = loads.pop()
            mean = (mean * load + means.pop() * before) / (load + before)
            load += before
            size += sizes.pop()
        means.append(mean)
        loads.append(load)
        sizes.append(size)
    return np.repeat(np.array(means), np.array(sizes, dtype=np.intp))


def current_status(lives: Lives) -> tuple[Floats, Floats]:
    """Give the share ended at each age of looking, where every life was looked at once.

    Parameters
    ----------
    lives : Lives
        Each either from 0 to the age of looking, or from that age to infinity.

    Returns
    -------
    age_yr, share : ndarray (m,)

    Raises
    ------
    FirstliftError
        REL-003 a life was looked at more than once.
    """
    failed = np.isfinite(lives.right_yr)
    if bool(np.any(failed & (lives.left_yr > 0.0))) or bool(np.any(lives.entry_yr > 0.0)):
        raise FirstliftError(
            Problem("REL-003", "a life was looked at more than once", needed="one look a life (current status)")
        )
    ages, place = np.unique(np.where(failed, lives.right_yr, lives.left_yr), return_inverse=True)
    looked = np.bincount(place, weights=lives.count).astype(np.float64)
    ended = np.bincount(place, weights=lives.count * failed).astype(np.float64)
    return ages, pool_adjacent(ended / looked, looked)


def is_current_status(lives: Lives) -> bool:
    """Say whether every life was looked at once.

    Parameters
    ----------
    lives : Lives

    Returns
    -------
    bool
    """
    failed = np.isfinite(lives.right_yr)
    return not bool(np.any(failed & (lives.left_yr > 0.0))) and not bool(np.any(lives.entry_yr > 0.0))


def estimate_shares(lives: Lives) -> Stretches:
    """Estimate where lives end, without a distribution.

    A life that was watched only from some age on counts as one known to last until then: its entry is not used.

    Parameters
    ----------
    lives : Lives
        One or more.

    Returns
    -------
    Stretches

    Raises
    ------
    FirstliftError
        REL-004 there is no life.
    """
    if not lives.count.size:
        raise FirstliftError(Problem("REL-004", "there is no life to estimate from", needed="one test or more"))
    if is_current_status(lives):
        return _from_current_status(lives)
    left, right, first, last = _stretches(lives)
    mass = _masses(first, last, lives.count, left.size)
    kept = mass > 1e-9
    return Stretches(frozen(left[kept]), frozen(right[kept]), frozen(mass[kept] / mass[kept].sum()))


def _from_current_status(lives: Lives) -> Stretches:
    ages, share = current_status(lives)
    edges = np.concatenate([[0.0], ages, [np.inf]])
    mass = np.diff(np.concatenate([[0.0], share, [1.0]]))
    kept = mass > 0.0
    return Stretches(frozen(edges[:-1][kept]), frozen(edges[1:][kept]), frozen(mass[kept]))


def _stretches(lives: Lives) -> tuple[Floats, Floats, np.ndarray, np.ndarray]:
    """Give the stretches that can hold probability, and the first and past-the-last one each life may end in."""
    # a life seen to end has its left just below its right
    left = np.where(lives.left_yr == lives.right_yr, np.nextafter(lives.right_yr, 0.0), lives.left_yr)
    ends = np.concatenate([left, lives.right_yr])
    opens = np.concatenate([np.ones(left.size, dtype=bool), np.zeros(left.size, dtype=bool)])
    # (left, right]: at one age, what closes comes before what opens
    order = np.lexsort((opens, ends))
    ends, opens = ends[order], opens[order]
    here = np.flatnonzero(opens[:-1] & ~opens[1:])
    lows, highs = ends[here], ends[here + 1]
    first = np.searchsorted(lows, left, side="left")
    past = np.searchsorted(highs, lives.right_yr, side="right")
    return lows, highs, first, past


def _masses(first: np.ndarray, past: np.ndarray, count: Floats, size: int) -> Floats:
    """Find the masses of highest likelihood."""
    mass = np.full(size, 1.0 / size)
    total = float(count.sum())
    for _ in range(_MOST_PASSES):
        factor = _factor(mass, first, past, count) / total
        # at the summit no stretch would gain: the factor is 1 where there is mass and at most 1 elsewhere
        if factor.max() < 1.0 + _CLOSE * 10.0:
            break
        mass = _newton(mass * factor, first, past, count)
        mass *= _factor(mass, first, past, count) / total
        mass /= mass.sum()
    return mass


def _factor(mass: Floats, first: np.ndarray, past: np.ndarray, count: Floats) -> Floats:
    """Give by how much each stretch's mass would grow: the lives that may end there, over what they have."""
    ended = np.concatenate([[0.0], np.cumsum(mass)])
    share = count / np.maximum(ended[past] - ended[first], 1e-300)
    change = np.bincount(first, weights=share, minlength=mass.size + 1)
    change -= np.bincount(past, weights=share, minlength=mass.size + 1)
    return np.maximum(np.cumsum(change)[:-1], 0.0)


def _log_likelihood(ended: Floats, first: np.ndarray, past: np.ndarray, count: Floats) -> float:
    return float(count @ np.log(np.maximum(ended[past] - ended[first], 1e-300)))


def _newton(mass: Floats, first: np.ndarray, past: np.ndarray, count: Floats) -> Floats:
    """Take one Newton step in the shares ended, kept rising by isotonic regression, halved until it climbs."""
    if mass.size < 2:
        return mass
    ended = np.concatenate([[0.0], np.cumsum(mass)])
    gap = np.maximum(ended[past] - ended[first], 1e-300)
    up, bend = count / gap, count / gap**2
    size = ended.size
    gradient = np.bincount(past, weights=up, minlength=size) - np.bincount(first, weights=up, minlength=size)
    load = np.bincount(past, weights=bend, minlength=size) + np.bincount(first, weights=bend, minlength=size)
    inner = slice(1, size - 1)
    load = np.maximum(load[inner], 1e-12 * float(load.max()))
    aim = ended.copy()
    aim[inner] = np.clip(pool_adjacent(ended[inner] + gradient[inner] / load, load), 0.0, 1.0)
    aim[-1] = 1.0
    here = _log_likelihood(ended, first, past, count)
    length = 1.0
    for _ in range(12):
        there = ended + length * (aim - ended)
        if _log_likelihood(there, first, past, count) > here:
            return np.maximum(np.diff(there), 0.0)
        length *= 0.5
    return mass
