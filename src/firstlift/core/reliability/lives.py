"""Lives: what tests said about how long a valve's set pressure lasted, each between two ages.

A test shows the state on its day and no more. A valve found failed had failed at some age between its last good
test and this one; a valve found good has lived past its age. Ages count from the last overhaul, in years.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from firstlift.core.errors import FirstliftError, Problem
from firstlift.core.recording import Floats, frozen


@dataclass(frozen=True, slots=True, eq=False)
class Lives:
    """Lives of one group, alike ones counted together.

    All arrays have shape (n,). The end of a life lies in (left_yr, right_yr]: left 0 where nothing was known
    before, right infinite where it still lasted, left equal to right where the end was seen. ``entry_yr`` is the
    age from which the life was watched, known to last (0: from its start). ``count`` says how many were alike.
    """

    left_yr: Floats
    right_yr: Floats
    entry_yr: Floats
    count: Floats

    @property
    def total(self) -> float:
        """How many lives there are."""
        return float(self.count.sum())

    @property
    def ended(self) -> float:
        """How many lives were seen to have ended."""
        return float(self.count[np.isfinite(self.right_yr)].sum())

    @property
    def ages_yr(self) -> Floats:
        """The different ages, above 0 and finite, at which anything was learnt; sorted."""
        ages = np.concatenate([self.left_yr, self.right_yr])
        return np.unique(ages[np.isfinite(ages) & (ages > 0.0)])


def make_lives(left_yr: object, right_yr: object, *, count: object = None, entry_yr: object = None) -> Lives:
    """Put lives together, count alike ones once and refuse impossible ones.

    Parameters
    ----------
    left_yr, right_yr : array_like (n,), [yr]
        The end lies in (left, right]; right infinite where the life still lasted.
    count : array_like (n,) or None
        How many each stands for; 1 where None.
    entry_yr : array_like (n,) or None, [yr]
        Age from which each was watched, known to last; 0 where None.

    Returns
    -------
    Lives
        Lives that say nothing, from entry to infinity, are left out.

    Raises
    ------
    FirstliftError
        REL-001 arrays of different lengths, no life at all, or one whose ages are impossible.
    """
    left = np.atleast_1d(np.asarray(left_yr, dtype=np.float64))
    right = np.atleast_1d(np.asarray(right_yr, dtype=np.float64))
    many = np.ones_like(left) if count is None else np.atleast_1d(np.asarray(count, dtype=np.float64))
    entry = np.zeros_like(left) if entry_yr is None else np.atleast_1d(np.asarray(entry_yr, dtype=np.float64))
    if not left.ndim == 1 or not left.size == right.size == many.size == entry.size:
        raise _impossible(f"{left.size} left and {right.size} right ages do not pair up")
    possible = (entry >= 0.0) & (entry <= left) & (left <= right) & (right > 0.0) & np.isfinite(left)
    possible &= np.isfinite(many) & (many > 0.0)
    if not bool(np.all(possible)):
        bad = int(np.flatnonzero(~possible)[0])
        raise _impossible(
            f"life {bad + 1} is watched from {entry[bad]:g}, ends between {left[bad]:g} and {right[bad]:g} years, "
            f"{many[bad]:g} times"
        )
    telling = (left > entry) | np.isfinite(right)
    return _alike(left[telling], right[telling], entry[telling], many[telling])


def _impossible(what: str) -> FirstliftError:
    needed = "0 <= entry <= left <= right, right above 0, counts above 0"
    return FirstliftError(Problem("REL-001", f"ages of lives make no sense: {what}", needed=needed))


def _alike(left: Floats, right: Floats, entry: Floats, many: Floats) -> Lives:
    """Count alike lives once: sorting is far cheaper than a likelihood over each of them."""
    # most lives last, watched from their start: one age each to sort by, not three
    plain = np.isinf(right) & (entry == 0.0)
    (ages,), lasted = _count((left[plain],), many[plain])
    left, right, entry, many = left[~plain], right[~plain], entry[~plain], many[~plain]
    if entry.any():
        (left, right, entry), counted = _count((left, right, entry), many)
    else:
        (left, right), counted = _count((left, right), many)
        entry = np.zeros_like(left)
    nothing = np.zeros(ages.size)
    return Lives(
        frozen(np.concatenate([left, ages])),
        frozen(np.concatenate([right, nothing + np.inf])),
        frozen(np.concatenate([entry, nothing])),
        frozen(np.concatenate([counted, lasted])),
    )


def _count(columns: tuple[Floats, ...], many: Floats) -> tuple[tuple[Floats, ...], Floats]:
    """Give the different rows of columns, sorted, and how many each stands for."""
    if not many.size:
        return columns, many
    order = np.argsort(columns[0]) if len(columns) == 1 else np.lexsort(columns)
    ordered = tuple(column[order] for column in columns)
    fresh = np.zeros(many.size, dtype=bool)
    fresh[0] = True
    for column in ordered:
        fresh[1:] |= column[1:] != column[:-1]
    starts = np.flatnonzero(fresh)
    return tuple(column[starts] for column in ordered), np.add.reduceat(many[order], starts)


def join_lives(parts: list[Lives]) -> Lives:
    """Put the lives of several groups into one.

    Parameters
    ----------
    parts : list of Lives
        One or more.

    Returns
    -------
    Lives
    """
    columns = [
        np.concatenate([getattr(part, name) for part in parts]) for name in ("left_yr", "right_yr", "entry_yr", "count")
    ]
    return _alike(*columns)
