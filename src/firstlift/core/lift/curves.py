"""Fit bent curves: every window, shape and candidate instant in one go.

The straight line is common to all shapes, so it is fitted once; each shape's own columns are first freed of
their straight-line part, which leaves one to four unknowns a candidate (Frisch and Waugh, Econometrica 1
(1933) 387: partial regressions). Their normal equations come from running sums (`moments`) and are solved
by Cholesky's method written out over arrays.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from firstlift.core.lift.bend import GROWTH_LIMIT, Column, Profile, Shape, Window
from firstlift.core.lift.moments import Stack, SumPlan, plan_sums, side_sums, stack_windows
from firstlift.core.recording import Floats

# a pivot smaller than this share of its column is rounding: the column says nothing there
_SMALLEST_PIVOT = 1e-13


@dataclass(frozen=True, slots=True, eq=False)
class Curves:
    """Fits of shapes with equally many columns k: shapes S, windows W, candidates g.

    ``number`` (S,) is each shape's place among those handed in, ``columns`` are their own. ``chi2`` (S, W, g) is
    infinite where a candidate cannot be fitted; ``theta`` k arrays (S, W, g), the coefficients of the shapes' own
    columns; ``line`` k pairs of arrays, the columns' parts along the level and the slope; ``lower`` the triangle of
    Cholesky's method.
    """

    stack: Stack
    shapes: tuple[Shape, ...]
    columns: tuple[tuple[Column, ...], ...]
    number: NDArray[np.intp]
    chi2: Floats
    theta: list[Floats]
    line: list[tuple[Floats, Floats]]
    lower: list[list[Floats]]

    def profile(self, shape: int, window: int) -> Profile:
        """Lay out the fits of one shape over one window.

        Parameters
        ----------
        shape, window : int
            Which.

        Returns
        -------
        Profile
        """
        pick = (shape, window)
        stack, theta, gain = self.stack, [part[pick] for part in self.theta], self.shapes[shape].gain
        value, variance = self.at_bend(shape, window)
        taken = _dot([slope[pick] for _, slope in self.line], theta) / np.sqrt(stack.spread[window])
        coefficients = np.stack([value, stack.slope[window] - taken, *theta], axis=1)
        chi2 = self.chi2[pick]
        passed = _forward(
            [[entry[pick] for entry in row] for row in self.lower],
            [np.full(chi2.shape, float(gain == i)) for i in range(len(theta))],
        )
        gain_variance = _dot(passed, passed)
        coefficients[~np.isfinite(chi2)] = np.nan
        return Profile(
            self.shapes[shape],
            int(stack.size[window]),
            chi2,
            value,
            variance,
            coefficients[:, 1],
            coefficients[:, 2 + gain],
            np.where(np.isfinite(chi2), gain_variance, np.nan),
            coefficients,
        )

    def at_bend(self, shape: int | NDArray[np.intp], window: int | NDArray[np.intp]) -> tuple[Floats, Floats]:
        """Give the value of the side before at each candidate and its variance, (g,) each, or (k, g) of k fits.

        Parameters
        ----------
        shape, window : int, or ndarray (k,)
            Which.

        Returns
        -------
        value, variance : ndarray (g,) or (k, g)
            NaN for candidates that were not fitted.
        """
        stack, pick = self.stack, (shape, window)
        away = stack.at[window] - stack.centre[window]
        unit_level, unit_slope = 1.0 / np.sqrt(stack.total[window]), away / np.sqrt(stack.spread[window])
        # what the straight line takes over from the columns, seen at the bend
        seen = [level[pick] * unit_level + slope[pick] * unit_slope for level, slope in self.line]
        value = stack.level[window] + stack.slope[window] * away - _dot(seen, [part[pick] for part in self.theta])
        passed = _forward([[entry[pick] for entry in row] for row in self.lower], seen)
        variance = unit_level**2 + unit_slope * unit_slope + _dot(passed, passed)
        unfitted = ~np.isfinite(self.chi2[pick])
        value[unfitted] = np.nan
        variance[unfitted] = np.nan
        return value, variance

    def gain_sigmas(self, shape: NDArray[np.intp], window: NDArray[np.intp], best: NDArray[np.intp]) -> Floats:
        """Give the change of slope of some fits, at one candidate each, in units of its standard uncertainty.

        Parameters
        ----------
        shape, window, best : ndarray (k,)
            Which.

        Returns
        -------
        ndarray (k,)
        """
        pick = (shape, window, best)
        gain = np.array([made.gain for made in self.shapes])[shape]
        theta = np.stack([part[pick] for part in self.theta])[gain, np.arange(gain.size)]
        passed = _forward(
            [[entry[pick] for entry in row] for row in self.lower],
            [(gain == i).astype(float) for i in range(len(self.theta))],
        )
        return np.abs(theta) / np.sqrt(_dot(passed, passed))

    def leftovers(self, shape: NDArray[np.intp], window: NDArray[np.intp], best: NDArray[np.intp]) -> Floats:
        """Give the residuals of some fits, at one candidate each, in units of their noise.

        Parameters
        ----------
        shape, window, best : ndarray (k,)
            Which fits and candidates, shapes in rising order.

        Returns
        -------
        ndarray (k, n)
            Zero beyond the end of a shorter window.
        """
        stack, pick = self.stack, (shape, window, best)
        theta = [part[pick] for part in self.theta]
        level = _dot([part[pick] for part, _ in self.line], theta) / np.sqrt(stack.total[window, 0])
        slope = _dot([part[pick] for _, part in self.line], theta) / np.sqrt(stack.spread[window, 0])
        u = stack.u[window]
        rest = stack.rest[window] + level[:, None] + slope[:, None] * (u - stack.centre[window])
        shifted = u - stack.at[window, best][:, None]
        ends = np.searchsorted(shape, np.arange(len(self.shapes) + 1)).tolist()
        for own, start, stop in zip(self.columns, ends[:-1], ends[1:], strict=True):
            if start < stop:
                for column, part in zip(own, theta, strict=True):
                    rest[start:stop] -= part[start:stop, None] * column.values(shifted[start:stop])
        return rest * stack.root_weight[window]


def fit_curves(
    windows: tuple[Window, ...], shapes: tuple[Shape, ...], at: Floats, inside: NDArray[np.bool_]
) -> list[Curves]:
    """Fit every shape over every window for every candidate instant.

    Parameters
    ----------
    windows : tuple of Window
    shapes : tuple of Shape
    at : ndarray (W, g)
        Candidate instants, each row in its window's own coordinate.
    inside : ndarray (W, g)
        Which of them are to be fitted: those with enough samples on either side; at least one a window.

    Returns
    -------
    list of Curves
        One for each number of columns, fewest first.
    """
    # what is not to be fitted is worked out at the nearest candidate that is, then thrown away: no bad numbers
    low = np.where(inside, at, np.inf).min(axis=1, keepdims=True)
    high = np.where(inside, at, -np.inf).max(axis=1, keepdims=True)
    stack = stack_windows(windows, np.clip(at, low, high))
    plan = _plan(shapes)
    products = _Products(stack, plan)
    return [_fit(stack, products, batch, inside) for batch in plan.batches]


def profile(window: Window, shape: Shape, at: Floats) -> Profile:
    """Fit one bent curve over one window for each candidate instant.

    Parameters
    ----------
    window : Window
    shape : Shape
    at : ndarray (g,)
        Candidate instants in the window's coordinate, with samples on either side.

    Returns
    -------
    Profile
    """
    return fit_curves((window,), (shape,), at[None, :], np.ones((1, at.size), dtype=bool))[0].profile(0, 0)


@dataclass(frozen=True, slots=True, eq=False)
class _Batch:
    """Shapes with equally many columns k, by their ``number`` among all.

    ``rows`` and ``gram`` say which of the columns and products are theirs, an entry a shape.
    """

    number: NDArray[np.intp]
    shapes: tuple[Shape, ...]
    columns: tuple[tuple[Column, ...], ...]
    rows: tuple[NDArray[np.intp], ...]
    gram: tuple[tuple[NDArray[np.intp], ...], ...]


@dataclass(frozen=True, slots=True, eq=False)
class _Plan:
    """Which products a set of shapes needs, worked out once for it.

    ``sums`` are, for each column, with one, with the distance from the bend and with the rest; then, for the pairs of
    columns on one side (``same``), with each other.
    """

    columns: int
    first: NDArray[np.intp]
    second: NDArray[np.intp]
    same: NDArray[np.intp]
    sums: SumPlan
    batches: tuple[_Batch, ...]


@lru_cache(maxsize=64)
def _plan(shapes: tuple[Shape, ...]) -> _Plan:
    columns = list(dict.fromkeys(column for shape in shapes for column in shape.columns))
    number = {column: place for place, column in enumerate(columns)}
    own = [tuple(number[column] for column in shape.columns) for shape in shapes]
    pairs = list(dict.fromkeys((a, b) for row in own for i, a in enumerate(row) for b in row[: i + 1]))
    place = {pair: index for index, pair in enumerate(pairs)}
    # columns on different sides of the bend never act on the same sample
    same = [index for index, (a, b) in enumerate(pairs) if columns[a].after == columns[b].after]
    sums = [
        *((column, Column(column.after)) for column in columns),
        *((column, Column(column.after, power=1)) for column in columns),
        *((column, None) for column in columns),
        *((columns[pairs[index][0]], columns[pairs[index][1]]) for index in same),
    ]
    batches: list[_Batch] = []
    for count in sorted({len(row) for row in own}):
        chosen = [index for index, row in enumerate(own) if len(row) == count]
        batches.append(
            _Batch(
                np.array(chosen),
                tuple(shapes[index] for index in chosen),
                tuple(shapes[index].columns for index in chosen),
                tuple(np.array([own[index][i] for index in chosen]) for i in range(count)),
                tuple(
                    tuple(np.array([place[own[index][i], own[index][j]] for index in chosen]) for j in range(i + 1))
                    for i in range(count)
                ),
            )
        )
    first, second = np.array(pairs).T
    return _Plan(len(columns), first, second, np.array(same), plan_sums(sums), tuple(batches))


class _Products:
    """Products of columns with each other and with the values, the straight line taken off: (columns, W, g) each.

    ``level`` and ``slope`` are the columns' parts along the straight line, ``rest`` what they share with the values;
    ``pairs`` (pairs, W, g) the products of two columns freed of their straight lines.
    """

    def __init__(self, stack: Stack, plan: _Plan) -> None:
        inner, count = side_sums(stack, plan.sums), plan.columns
        one, distance, self.rest, together = (
            inner[:count], inner[count : 2 * count], inner[2 * count : 3 * count], inner[3 * count :],
        )  # fmt: skip
        self.level = one / np.sqrt(stack.total)
        self.slope = (distance + (stack.at - stack.centre) * one) / np.sqrt(stack.spread)
        self.pairs = self.level[plan.first] * self.level[plan.second]
        self.pairs += self.slope[plan.first] * self.slope[plan.second]
        np.negative(self.pairs, out=self.pairs)
        self.pairs[plan.same] += together


def _fit(stack: Stack, products: _Products, batch: _Batch, inside: NDArray[np.bool_]) -> Curves:
    line = [(products.level[row], products.slope[row]) for row in batch.rows]
    lower = _cholesky([[products.pairs[entry] for entry in row] for row in batch.gram])
    reduced = _forward(lower, [products.rest[row] for row in batch.rows])
    whole = np.einsum("wn,wn,wn->w", stack.weight, stack.rest, stack.rest)[None, :, None]
    chi2 = np.where(inside, np.maximum(whole - _dot(reduced, reduced), 0.0), np.inf)
    for index, shape in enumerate(batch.shapes):
        if shape.grow is not None:
            chi2[index, (stack.u[:, -1:] - stack.at) > GROWTH_LIMIT * shape.grow] = np.inf
    return Curves(stack, batch.shapes, batch.columns, batch.number, chi2, _backward(lower, reduced), line, lower)


def _dot(first: list[Floats], second: list[Floats]) -> Floats:
    return sum((a * b for a, b in zip(first[1:], second[1:], strict=True)), first[0] * second[0])


def _cholesky(gram: list[list[Floats]]) -> list[list[Floats]]:
    """Give the lower triangle L of ``gram = L L'``, entry by entry over arrays."""
    lower: list[list[Floats]] = []
    for i, row in enumerate(gram):
        made: list[Floats] = []
        for j in range(i):
            entry = row[j] - _dot(made, lower[j][:j]) if j else row[j]
            made.append(entry / lower[j][j])
        pivot = row[i] - _dot(made, made) if i else row[i]
        made.append(np.sqrt(np.maximum(pivot, _SMALLEST_PIVOT * np.abs(row[i]) + 1e-300)))
        lower.append(made)
    return lower


def _forward(lower: list[list[Floats]], right: list[Floats]) -> list[Floats]:
    """Solve ``L z = right``."""
    solved: list[Floats] = []
    for i, value in enumerate(right):
        known = value - _dot(lower[i][:i], solved) if i else value
        solved.append(known / lower[i][i])
    return solved


def _backward(lower: list[list[Floats]], right: list[Floats]) -> list[Floats]:
    """Solve ``L' x = right``."""
    count = len(right)
    solved: list[Floats] = []
    for i in reversed(range(count)):
        column = [lower[j][i] for j in range(i + 1, count)]
        known = right[i] - _dot(column, solved) if column else right[i]
        solved.insert(0, known / lower[i][i])
    return solved
