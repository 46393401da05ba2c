"""Sums over the samples before, or after, each candidate bend, for many windows at once.

A least-squares fit of a bent curve needs sums such as ``w s^k`` or ``w s^k exp(r s)`` over the samples on
one side of the bend, ``s`` being the distance from it. Running sums of ``w u^k exp(r u)`` from a fixed
origin give them all: the binomial theorem moves the origin to the bend. So every candidate costs a look-up
instead of a pass over the samples.

Shapes of arrays: windows W, blocks n (shorter windows are filled up with weight zero), candidates g.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache
from math import comb

import numpy as np
from numpy.typing import NDArray

from firstlift.core.lift.bend import Column, Window
from firstlift.core.recording import Floats

# beyond this the exponential is not needed: such candidates are left out (see bend.GROWTH_LIMIT)
_LARGEST_EXPONENT = 300.0


@dataclass(frozen=True, slots=True, eq=False)
class Stack:
    """Windows side by side, the straight line taken off: what is left is all that bends must explain.

    ``u`` and ``at`` are the windows' coordinate measured from ``origin`` (W, 1), the middle of the
    candidates, which keeps the move of the origin small. ``rest`` is the value without its straight line,
    which runs through ``level`` at ``centre`` with ``slope`` (W, 1 each); ``total`` and ``spread`` are the
    sums of weights and of weighted squared distances from ``centre``; ``root_weight`` the roots of the weights.
    """

    u: Floats
    weight: Floats
    rest: Floats
    at: Floats
    origin: Floats
    size: NDArray[np.intp]
    total: Floats
    centre: Floats
    spread: Floats
    level: Floats
    slope: Floats
    root_weight: Floats


def stack_windows(windows: tuple[Window, ...], at: Floats) -> Stack:
    """Lay windows side by side and take the weighted straight line off each.

    Parameters
    ----------
    windows : tuple of Window
    at : ndarray (W, g)
        Candidate instants, each row in its window's own coordinate.

    Returns
    -------
    Stack
    """
    size = np.array([window.tau.size for window in windows])
    origin = 0.5 * (at.min(axis=1, keepdims=True) + at.max(axis=1, keepdims=True))
    u = _pad([window.tau for window in windows], size) - origin
    root_weight = 1.0 / _pad([window.sigma for window in windows], size)
    root_weight[np.arange(root_weight.shape[1]) >= size[:, None]] = 0.0
    weight = np.square(root_weight)
    value = _pad([window.value for window in windows], size)
    total = weight.sum(axis=1, keepdims=True)
    centre = (weight * u).sum(axis=1, keepdims=True) / total
    level = (weight * value).sum(axis=1, keepdims=True) / total
    away = u - centre
    spread = (weight * away * away).sum(axis=1, keepdims=True)
    slope = (weight * away * (value - level)).sum(axis=1, keepdims=True) / spread
    rest = value - level - slope * away
    return Stack(u, weight, rest, at - origin, origin, size, total, centre, spread, level, slope, root_weight)


def _pad(rows: list[Floats], size: NDArray[np.intp]) -> Floats:
    """Fill rows up to the longest with their own last value."""
    full = np.empty((len(rows), int(size.max())))
    for line, row in zip(full, rows, strict=True):
        line[: row.size] = row
        line[row.size :] = row[-1]
    return full


Term = tuple[int, float]


@dataclass(frozen=True, slots=True, eq=False)
class _SidePlan:
    """What to sum on one side of the bends, and how products are put together from it.

    ``groups`` are (with the rest, rate, highest power), a row for each power from 0 up. In each round ``which`` of
    the products get ``factor`` times ``row`` added; every product of this side is in the first.
    """

    after: bool
    groups: tuple[tuple[bool, float, int], ...]
    rounds: tuple[tuple[NDArray[np.intp], Floats, NDArray[np.intp]], ...]


@dataclass(frozen=True, slots=True, eq=False)
class SumPlan:
    """How to sum ``count`` products of columns: worked out once for the same products over any windows."""

    count: int
    sides: tuple[_SidePlan, ...]


def plan_sums(pairs: Sequence[tuple[Column, Column | None]]) -> SumPlan:
    """Plan the sums of products.

    A term is ``s^power exp(rate s)``; terms multiply by adding these two numbers, so every product of two columns
    is a short list of terms.

    Parameters
    ----------
    pairs : sequence of (Column, Column or None)
        Each pair of one side; None stands for what the straight line leaves of the values.

    Returns
    -------
    SumPlan
    """
    terms = [_product_terms(first, second) for first, second in pairs]
    sides = (_plan_side(after, pairs, terms) for after in (False, True) if any(c.after == after for c, _ in pairs))
    return SumPlan(len(pairs), tuple(sides))


def _plan_side(
    after: bool, pairs: Sequence[tuple[Column, Column | None]], terms: Sequence[list[tuple[float, Term]]]
) -> _SidePlan:
    mine = [number for number, (first, _) in enumerate(pairs) if first.after == after]
    groups: list[tuple[bool, float, int]] = []
    row_of: dict[tuple[bool, float], int] = {}
    rows = 0
    for with_rest in (False, True):
        asked = {term for number in mine if (pairs[number][1] is None) == with_rest for _, term in terms[number]}
        for rate, highest in _groups(asked):
            groups.append((with_rest, rate, highest))
            row_of[with_rest, rate] = rows
            rows += highest + 1
    rounds: list[tuple[NDArray[np.intp], Floats, NDArray[np.intp]]] = []
    for turn in range(max(len(terms[number]) for number in mine)):
        which = [number for number in mine if len(terms[number]) > turn]
        factor = np.array([terms[number][turn][0] for number in which])[:, None, None]
        places = [(pairs[number][1] is None, *terms[number][turn][1]) for number in which]
        row = [row_of[with_rest, rate] + power for with_rest, power, rate in places]
        rounds.append((np.array(which, dtype=np.intp), factor, np.array(row, dtype=np.intp)))
    return _SidePlan(after, tuple(groups), tuple(rounds))


def side_sums(stack: Stack, plan: SumPlan) -> Floats:
    """Give the weighted sums of products over one side of every candidate bend.

    Parameters
    ----------
    stack : Stack
    plan : SumPlan

    Returns
    -------
    ndarray (products, W, g)
    """
    before, total = _places(stack), np.empty((plan.count, *stack.at.shape))
    for planned in plan.sides:
        moved = _Side(stack, planned.after, before).moved(planned.groups)
        (which, factor, row), *more = planned.rounds
        total[which] = factor * moved[row]
        for which, factor, row in more:
            total[which] += factor * moved[row]
    return total


class _Side:
    """One side of the bends: its blocks, from the outer end inwards, and where each candidate's sum stands."""

    def __init__(self, stack: Stack, after: bool, before: NDArray[np.intp]) -> None:
        long = stack.u.shape[1]
        self._stack = stack
        # blocks that no candidate has on this side need not be summed
        part = (
            slice(long - 1, max(int(before.min()) - 1, 0) or None, -1) if after else slice(0, max(int(before.max()), 1))
        )
        if after and int(before.min()) == 0:
            part = slice(None, None, -1)
        self._u, self._weight, self._rest = (value[:, part] for value in (stack.u, stack.weight, stack.rest))
        self._index = (long - before if after else before) + np.arange(len(before))[:, None] * (self._u.shape[1] + 1)
        # place (W, 1) at which exponentials are one: all are smaller there, none overflows
        self._reference = stack.u[:, -1:] if after else stack.at.max(axis=1, keepdims=True)

    def moved(self, groups: Sequence[tuple[bool, float, int]]) -> Floats:
        """Give the sums of ``w s^power exp(rate s)`` from each bend, powers 0 and up for each group, (terms, W, g)."""
        sums = self._look_up(groups)
        # the binomial theorem moves the origin of the powers from the middle of the candidates to each bend
        back, moved, row = -self._stack.at, sums.copy(), 0
        for _, rate, highest in groups:
            for power in range(1, highest + 1):
                shift = back
                for k in range(1, power + 1):
                    moved[row + power] += comb(power, k) * shift * sums[row + power - k]
                    shift = shift * back
            if rate:
                moved[row : row + highest + 1] *= self._fading(rate)
            row += highest + 1
        return moved

    def _look_up(self, groups: Sequence[tuple[bool, float, int]]) -> Floats:
        """Give the sums of ``w u^power exp(rate u)`` from the outer end to each bend, (terms, W, g)."""
        count = sum(highest + 1 for *_, highest in groups)
        running = np.empty((count, self._u.shape[0], self._u.shape[1] + 1))
        running[:, :, 0] = 0.0
        terms, row = running[:, :, 1:], 0
        weighted = self._weight * self._rest
        made: dict[float, Floats] = {}
        for with_rest, rate, highest in groups:
            value = weighted if with_rest else self._weight
            if rate:
                np.multiply(value, self._exponential(rate, made), out=terms[row])
            else:
                terms[row] = value
            for power in range(1, highest + 1):
                np.multiply(terms[row + power - 1], self._u, out=terms[row + power])
            row += highest + 1
        # each side is summed from its own outer end: no small difference of large sums
        np.cumsum(terms, axis=2, out=terms)
        return np.take(running.reshape(count, -1), self._index, axis=1)

    def _fading(self, rate: float) -> Floats:
        """Give what moves an exponential's reference to each bend, (W, g)."""
        return np.exp(np.minimum(rate * (self._reference - self._stack.at), _LARGEST_EXPONENT))

    def _exponential(self, rate: float, made: dict[float, Floats]) -> Floats:
        if rate not in made:
            half = made.get(0.5 * rate)
            away = np.minimum(self._u - self._reference, 0.0)
            made[rate] = np.exp(rate * away) if half is None else half * half
        return made[rate]


def _places(stack: Stack) -> NDArray[np.intp]:
    """Say how many blocks lie before each candidate, (W, g)."""
    before = np.empty(stack.at.shape, dtype=np.intp)
    for index, count in enumerate(stack.size.tolist()):
        before[index] = np.searchsorted(stack.u[index, :count], stack.at[index], side="right")
    return before


def _groups(terms: set[Term]) -> list[tuple[float, int]]:
    """Give the rates of terms, smaller ones first, with the highest power of each."""
    highest: dict[float, int] = {}
    for power, rate in terms:
        highest[rate] = max(power, highest.get(rate, 0))
    return sorted(highest.items(), key=lambda item: abs(item[0]))


def _terms(column: Column) -> list[tuple[float, Term]]:
    if column.rate:
        return [(column.factor, (0, column.rate)), (-column.factor, (0, 0.0))]
    return [(1.0, (column.power, 0.0))]


@lru_cache(maxsize=4096)
def _product_terms(first: Column, second: Column | None) -> list[tuple[float, Term]]:
    """Multiply two columns out: terms with their factors."""
    if second is None:
        return _terms(first)
    total: dict[Term, float] = {}
    for a, (power, rate) in _terms(first):
        for b, (more, faster) in _terms(second):
            term = (power + more, rate + faster)
            total[term] = total.get(term, 0.0) + a * b
    return [(factor, term) for term, factor in total.items()]
