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

import numpy as np
from numpy.typing import NDArray

from firstlift.core.lift.bend import Column, Windows
from firstlift.core.recording import Floats

# beyond this the exponential is not needed: such candidates are left out (see bend.GROWTH_LIMIT)
_LARGEST_EXPONENT = 300.0


@dataclass(frozen=True, slots=True, eq=False)
class Stack:
    """Windows side by side, the straight line taken off: what is left is all that bends must explain.

    ``u`` and ``at`` are the windows' coordinate measured from the middle of the candidates, which keeps the move of
    the origin small. ``rest`` is the value without its straight line,
    which runs through ``level`` at ``centre`` with ``slope`` (W, 1 each); ``total`` and ``spread`` are the
    sums of weights and of weighted squared distances from ``centre``.
    """

    u: Floats
    weight: Floats
    rest: Floats
    at: Floats
    size: NDArray[np.intp]
    total: Floats
    centre: Floats
    spread: Floats
    level: Floats
    slope: Floats


def stack_windows(windows: Windows, at: Floats) -> Stack:
    """Take the weighted straight line off each of a row of windows.

    Parameters
    ----------
    windows : Windows
    at : ndarray (W, g)
        Candidate instants, each row in its window's own coordinate.

    Returns
    -------
    Stack
    """
    origin = 0.5 * (at.min(axis=1, keepdims=True) + at.max(axis=1, keepdims=True))
    u, weight = windows.tau - origin, windows.weight
    total = weight.sum(axis=1, keepdims=True)
    centre = np.einsum("wn,wn->w", weight, u)[:, None] / total
    level = np.einsum("wn,wn->w", weight, windows.value)[:, None] / total
    away, rest = u - centre, windows.value - level
    weighted = weight * away
    spread = np.einsum("wn,wn->w", weighted, away)[:, None]
    slope = np.einsum("wn,wn->w", weighted, rest)[:, None] / spread
    rest -= slope * away
    return Stack(u, weight, rest, at - origin, windows.size, total, centre, spread, level, slope)


Term = tuple[int, float]


@dataclass(frozen=True, slots=True, eq=False)
class _Run:
    """Some ``count`` sums, each of the powers 0 to ``highest``, one after the other.

    Of each, ``with_rest`` says whether the values' rest is summed; ``rate`` which of the rates its exponential has,
    None where none of the run has one.
    """

    count: int
    highest: int
    with_rest: tuple[bool, ...]
    rate: NDArray[np.intp] | None

    @property
    def size(self) -> int:
        """How many sums the run makes."""
        return self.count * (self.highest + 1)


@dataclass(frozen=True, slots=True, eq=False)
class SumPlan:
    """How to sum products of columns on one side of the bends: worked out once for any windows.

    Exponentials have the ``rates`` (r, 1, 1), and then twice those that ``doubled`` counts; ``matrix`` (products,
    sums) puts the products together from the sums of all ``runs``.
    """

    after: bool
    rates: Floats
    doubled: NDArray[np.intp]
    runs: tuple[_Run, ...]
    matrix: Floats


def plan_sums(pairs: Sequence[tuple[Column, Column | None]]) -> SumPlan:
    """Plan the sums of products.

    A term is ``s^power exp(rate s)``; terms multiply by adding these two numbers, so every product of two columns
    is a short list of terms.

    Parameters
    ----------
    pairs : sequence of (Column, Column or None)
        All of one side; None stands for what the straight line leaves of the values.

    Returns
    -------
    SumPlan
    """
    terms = [(second is None, _product_terms(first, second)) for first, second in pairs]
    highest: dict[tuple[bool, float], int] = {}
    for with_rest, made in terms:
        for _, (power, rate) in made:
            highest[with_rest, rate] = max(power, highest.get((with_rest, rate), 0))
    asked = sorted({rate for _, rate in highest if rate}, key=abs)
    single = [rate for rate in asked if 0.5 * rate not in asked]
    double = [rate for rate in asked if 0.5 * rate in asked]
    number = {rate: place for place, rate in enumerate((*single, *double))}
    runs: list[_Run] = []
    row: dict[tuple[bool, float], int] = {}
    rows = 0
    for most, fades in sorted({(most, rate != 0.0) for (_, rate), most in highest.items()}):
        own = [key for key, its in highest.items() if (its, key[1] != 0.0) == (most, fades)]
        rates = np.array([number[rate] for _, rate in own]) if fades else None
        runs.append(_Run(len(own), most, tuple(with_rest for with_rest, _ in own), rates))
        for key in own:
            row[key] = rows
            rows += most + 1
    matrix = np.zeros((len(pairs), rows))
    for product, (with_rest, made) in zip(matrix, terms, strict=True):
        for factor, (power, rate) in made:
            product[row[with_rest, rate] + power] += factor
    doubled = np.array([number[0.5 * rate] for rate in double], dtype=np.intp)
    return SumPlan(pairs[0][0].after, np.array(single)[:, None, None], doubled, tuple(runs), matrix)


def side_sums(stack: Stack, plan: SumPlan, before: NDArray[np.intp]) -> Floats:
    """Give the weighted sums of products over one side of every candidate bend.

    Parameters
    ----------
    stack : Stack
    plan : SumPlan
    before : ndarray (W, g)
        How many blocks lie before each candidate.

    Returns
    -------
    ndarray (products, W, g)
    """
    side = _Side(stack, plan, before)
    sums = side.look_up()
    side.move(sums)
    total = np.empty((len(plan.matrix), *before.shape))
    # a window at a time: matrices so small are multiplied at once, by one thread
    np.matmul(plan.matrix, sums.transpose(1, 0, 2), out=total.transpose(1, 0, 2))
    return total


class _Side:
    """One side of the bends: its blocks, from the outer end inwards, and where each candidate's sum stands."""

    def __init__(self, stack: Stack, plan: SumPlan, before: NDArray[np.intp]) -> None:
        self._plan, self._at = plan, stack.at
        long = stack.u.shape[1]
        # blocks that no candidate has on this side need not be summed
        if plan.after:
            part = slice(long - 1, int(before.min()) - 1 if before.min() > 0 else None, -1)
        else:
            part = slice(0, max(int(before.max()), 1))
        self._u, self._weight, rest = (each[:, part].copy() for each in (stack.u, stack.weight, stack.rest))
        self._weighted = self._weight * rest
        row = np.arange(len(before))[:, None] * (self._u.shape[1] + 1)
        self._index = row + (long - before if plan.after else before)
        # place (W, 1) at which exponentials are one: all are smaller there, none overflows
        self._reference = stack.u[:, -1:] if plan.after else stack.at.max(axis=1, keepdims=True)

    def look_up(self) -> Floats:
        """Give the sums of ``w u^power exp(rate u)`` from the outer end to each bend, (sums, W, g)."""
        plan, (windows, blocks) = self._plan, self._u.shape
        sums = np.empty((plan.matrix.shape[1], *self._index.shape))
        # one run after the other in the same place, which stays near the processor
        most = max(run.size for run in plan.runs)
        made, running = np.empty((most, windows, blocks)), np.empty((most, windows, blocks + 1))
        running[:, :, 0] = 0.0
        faded = self._exponentials() if plan.rates.size else None
        bases = self._weight, self._weighted
        row = 0
        for run in plan.runs:
            terms = made[: run.size]
            powers = terms.reshape(run.count, run.highest + 1, windows, blocks)
            for place, (with_rest, first) in enumerate(zip(run.with_rest, powers[:, 0], strict=True)):
                if run.rate is None or faded is None:
                    first[...] = bases[with_rest]
                else:
                    np.multiply(bases[with_rest], faded[run.rate[place]], out=first)
            for power in range(1, run.highest + 1):
                np.multiply(powers[:, power - 1], self._u, out=powers[:, power])
            # each side is summed from its own outer end: no small difference of large sums
            terms.cumsum(axis=2, out=running[: run.size, :, 1:])
            found = sums[row : row + run.size]
            running[: run.size].reshape(run.size, -1).take(self._index, axis=1, out=found, mode="clip")
            row += run.size
        return sums

    def move(self, sums: Floats) -> None:
        """Move the origin of sums (sums, W, g) to each bend, in place."""
        plan, row = self._plan, 0
        fading = self._fading() if plan.rates.size else None
        for run in plan.runs:
            powers = sums[row : row + run.size].reshape(run.count, run.highest + 1, *self._at.shape)
            # one factor ``u`` after the other becomes ``u - at``: the binomial theorem without its coefficients
            for moved in range(run.highest):
                powers[:, moved + 1 :] -= self._at * powers[:, moved:-1]
            if run.rate is not None and fading is not None:
                powers *= fading[run.rate][:, None]
            row += run.size

    def _exponentials(self) -> Floats:
        """Give the exponentials at each block, (rates, W, n)."""
        single, doubled = self._plan.rates, self._plan.doubled
        made = np.empty((len(single) + doubled.size, *self._u.shape))
        away = np.minimum(self._u - self._reference, 0.0)
        np.exp(np.multiply(single, away, out=made[: len(single)]), out=made[: len(single)])
        np.square(made[doubled], out=made[len(single) :])
        return made

    def _fading(self) -> Floats:
        """Give what moves the exponentials' reference to each bend, (rates, W, g)."""
        single = self._plan.rates
        rates = np.concatenate((single, 2.0 * single[self._plan.doubled]))
        return np.exp(np.minimum(rates * (self._reference - self._at), _LARGEST_EXPONENT))


def count_before(stack: Stack) -> NDArray[np.intp]:
    """Say how many blocks lie before each candidate, (W, g).

    Parameters
    ----------
    stack : Stack

    Returns
    -------
    ndarray (W, g)
    """
    before = np.empty(stack.at.shape, dtype=np.intp)
    for row, u, count, at in zip(before, stack.u, stack.size.tolist(), stack.at, strict=True):
        row[:] = u[:count].searchsorted(at, side="right")
    return before


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
