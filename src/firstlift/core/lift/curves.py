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
from firstlift.core.lift.moments import SideSums, Stack, stack_windows
from firstlift.core.recording import Floats

# a pivot smaller than this share of its column is rounding: the column says nothing there
_SMALLEST_PIVOT = 1e-13


@dataclass(frozen=True, slots=True, eq=False)
class Curves:
    """Fits of shapes with equally many columns k: shapes S, windows W, candidates g.

    ``chi2`` (S, W, g), infinite where a candidate cannot be fitted; ``theta`` k arrays (S, W, g), the
    coefficients of the shapes' own columns; ``line`` k pairs of arrays, the columns' parts along the level
    and the slope; ``lower`` the triangle of Cholesky's method.
    """

    stack: Stack
    shapes: tuple[Shape, ...]
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
        gain_variance = self._gain_variance(self.lower)[pick]
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

    def _gain_variance(self, lower: list[list[Floats]]) -> Floats:
        """Variance of the change of slope, (S, ...), from Cholesky's triangle at the candidates asked for."""
        order = np.array([shape.gain for shape in self.shapes]).reshape(-1, *[1] * (lower[0][0].ndim - 1))
        passed = _forward(lower, [(order == i).astype(float) for i in range(len(self.theta))])
        return _dot(passed, passed)

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
        for made, start, stop in zip(self.shapes, ends[:-1], ends[1:], strict=True):
            if start < stop:
                for column, part in zip(made.columns, theta, strict=True):
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
    products = _Products(stack, shapes)
    by_count: dict[int, list[Shape]] = {}
    for shape in shapes:
        by_count.setdefault(len(shape.columns), []).append(shape)
    return [_fit(products, tuple(by_count[count]), inside) for count in sorted(by_count)]


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


class _Products:
    """Products of columns with each other and with the values, the straight line taken off; each made once."""

    def __init__(self, stack: Stack, shapes: tuple[Shape, ...]) -> None:
        self.stack = stack
        columns = list(dict.fromkeys(column for shape in shapes for column in shape.columns))
        pairs = [(a, b) for shape in shapes for i, a in enumerate(shape.columns) for b in shape.columns[: i + 1]]
        lines = [(c, other) for c in columns for other in (*_line_columns(c), None)]
        self._sums = SideSums(stack, [*lines, *((a, b) for a, b in pairs if a.after == b.after)])
        root_total, root_spread, away = np.sqrt(stack.total), np.sqrt(stack.spread), stack.at - stack.centre
        self.lines: dict[Column, tuple[Floats, Floats]] = {}
        for column in columns:
            one, distance = (self._sums.inner(column, other) for other in _line_columns(column))
            self.lines[column] = (one / root_total, (distance + away * one) / root_spread)
        self.pairs = {pair: self._pair(*pair) for pair in dict.fromkeys(pairs)}
        self.rests = {column: self._sums.inner(column, None) for column in columns}

    def _pair(self, first: Column, second: Column) -> Floats:
        """Give the product of two columns freed of their straight lines, (W, g)."""
        (level, slope), (other_level, other_slope) = self.lines[first], self.lines[second]
        taken = level * other_level + slope * other_slope
        # columns on different sides of the bend never act on the same sample
        return self._sums.inner(first, second) - taken if first.after == second.after else -taken


@lru_cache(maxsize=256)
def _line_columns(column: Column) -> tuple[Column, Column]:
    """Give one and the distance from the bend, on a column's side."""
    return Column(column.after), Column(column.after, power=1)


def _fit(products: _Products, shapes: tuple[Shape, ...], inside: NDArray[np.bool_]) -> Curves:
    stack = products.stack
    # one row a column, one entry a shape
    rows = list(zip(*(shape.columns for shape in shapes), strict=True))
    line = [
        (np.stack([products.lines[c][0] for c in row]), np.stack([products.lines[c][1] for c in row])) for row in rows
    ]
    gram = [
        [np.stack([products.pairs[b, a] for a, b in zip(rows[j], row, strict=True)]) for j in range(i + 1)]
        for i, row in enumerate(rows)
    ]
    lower = _cholesky(gram)
    reduced = _forward(lower, [np.stack([products.rests[c] for c in row]) for row in rows])
    whole = np.einsum("wn,wn,wn->w", stack.weight, stack.rest, stack.rest)[None, :, None]
    chi2 = np.where(inside, np.maximum(whole - _dot(reduced, reduced), 0.0), np.inf)
    for index, shape in enumerate(shapes):
        if shape.grow is not None:
            chi2[index, (stack.u[:, -1:] - stack.at) > GROWTH_LIMIT * shape.grow] = np.inf
    return Curves(stack, shapes, chi2, _backward(lower, reduced), line, lower)


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
