"""Sums over the samples before, or after, each candidate bend, for many windows at once.

A least-squares fit of a bent curve needs sums such as ``w s^k`` or ``w s^k exp(r s)`` over the samples on
one side of the bend, ``s`` being the distance from it. Running sums of ``w u^k exp(r u)`` from a fixed
origin give them all: the binomial theorem moves the origin to the bend. So every candidate costs a look-up
instead of a pass over the samples.

Shapes of arrays: windows W, blocks n (shorter windows are filled up with weight zero), candidates g.
"""

from __future__ import annotations

from dataclasses import dataclass, field
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
    sums of weights and of weighted squared distances from ``centre``.
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
    weight = _pad([1.0 / np.square(window.sigma) for window in windows], size)
    weight[np.arange(weight.shape[1]) >= size[:, None]] = 0.0
    value = _pad([window.value for window in windows], size)
    total = weight.sum(axis=1, keepdims=True)
    centre = (weight * u).sum(axis=1, keepdims=True) / total
    level = (weight * value).sum(axis=1, keepdims=True) / total
    away = u - centre
    spread = (weight * away * away).sum(axis=1, keepdims=True)
    slope = (weight * away * (value - level)).sum(axis=1, keepdims=True) / spread
    rest = value - level - slope * away
    return Stack(u, weight, rest, at - origin, origin, size, total, centre, spread, level, slope)


def _pad(rows: list[Floats], size: NDArray[np.intp]) -> Floats:
    """Fill rows up to the longest with their own last value."""
    full = np.empty((len(rows), int(size.max())))
    for line, row in zip(full, rows, strict=True):
        line[: row.size] = row
        line[row.size :] = row[-1]
    return full


@dataclass(slots=True, eq=False)
class SideSums:
    """Sums of products over one side of every candidate bend, each worked out once.

    A term is ``s^power exp(rate s)``; terms multiply by adding these two numbers, so every product of two columns
    is a short list of terms.
    """

    stack: Stack
    _index: dict[bool, NDArray[np.intp]] = field(default_factory=dict)
    _running: dict[tuple[bool, int, float, bool], Floats] = field(default_factory=dict)
    _moved: dict[tuple[bool, int, float, bool], Floats] = field(default_factory=dict)
    _powers: dict[bool, list[Floats]] = field(default_factory=dict)

    def __post_init__(self) -> None:
        stack = self.stack
        self._powers = {False: [stack.weight], True: [stack.weight * stack.rest]}
        long = stack.u.shape[1]
        before = np.empty(stack.at.shape, dtype=np.intp)
        for index, count in enumerate(stack.size.tolist()):
            before[index] = np.searchsorted(stack.u[index, :count], stack.at[index], side="right")
        # where each candidate's sum stands in the flattened running sums, which start with a zero
        row = np.arange(len(before))[:, None] * (long + 1)
        self._index = {False: row + before, True: row + long - before}

    def inner(self, first: Column, second: Column) -> Floats:
        """Give the weighted product of two columns on the same side of each bend, (W, g)."""
        total = np.zeros_like(self.stack.at)
        for a, (power, rate) in self._terms(first):
            for b, (more, faster) in self._terms(second):
                total += a * b * self._sum(first.after, power + more, rate + faster, False)
        return total

    def with_line(self, column: Column) -> tuple[Floats, Floats]:
        """Give the weighted products of a column with one and with the distance from the bend, (W, g) each."""
        return self.inner(column, Column(column.after)), self.inner(column, Column(column.after, power=1))

    def with_rest(self, column: Column) -> Floats:
        """Give the weighted product of a column with what the straight line leaves, (W, g)."""
        total = np.zeros_like(self.stack.at)
        for a, (power, rate) in self._terms(column):
            total += a * self._sum(column.after, power, rate, True)
        return total

    def _terms(self, column: Column) -> list[tuple[float, tuple[int, float]]]:
        if column.rate:
            return [(column.factor, (0, column.rate)), (-column.factor, (0, 0.0))]
        return [(1.0, (column.power, 0.0))]

    def _sum(self, after: bool, power: int, rate: float, rest: bool) -> Floats:
        """Sum of ``w s^power exp(rate s)`` (times the rest) over one side of each bend."""
        key = (after, power, rate, rest)
        if key not in self._moved:
            at = self.stack.at
            total = self._origin_sum(after, power, rate, rest)
            shift = np.ones_like(at)
            for k in range(1, power + 1):
                shift = shift * -at
                total = total + comb(power, k) * shift * self._origin_sum(after, power - k, rate, rest)
            if rate:
                total = total * np.exp(np.minimum(rate * (self._reference(after) - at), _LARGEST_EXPONENT))
            self._moved[key] = total
        return self._moved[key]

    def _origin_sum(self, after: bool, power: int, rate: float, rest: bool) -> Floats:
        """Look up the running sum from the outer end of a side, powers measured from the common origin."""
        key = (after, power, rate, rest)
        if key not in self._running:
            stack = self.stack
            term = self._weighted(power, rest)
            if rate:
                term = term * np.exp(rate * np.minimum(stack.u - self._reference(after), 0.0))
            running = np.zeros((term.shape[0], term.shape[1] + 1))
            # each side is summed from its own outer end: no small difference of large sums
            np.cumsum(term[:, ::-1] if after else term, axis=1, out=running[:, 1:])
            self._running[key] = running.ravel().take(self._index[after])
        return self._running[key]

    def _weighted(self, power: int, rest: bool) -> Floats:
        """Give ``w u^power`` (times the rest), each power from the one below it."""
        while len(self._powers[rest]) <= power:
            self._powers[rest].append(self._powers[rest][-1] * self.stack.u)
        return self._powers[rest][power]

    def _reference(self, after: bool) -> Floats:
        """Place (W, 1) at which exponentials are one in the running sums: all are smaller there, none overflows."""
        return self.stack.u[:, -1:] if after else self.stack.at.max(axis=1, keepdims=True)
