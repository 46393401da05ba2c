"""Fit bent curves: every window, shape and candidate instant in one go.

The straight line is common to all shapes, so it is fitted once; each shape's own columns are first freed of
their straight-line part, which leaves one to four unknowns a candidate (Frisch and Waugh, Econometrica 1
(1933) 387: partial regressions). Their normal equations come from running sums (`moments`) and are solved
by Cholesky's method written out over arrays. A row of its triangle depends on the columns before it only, so
shapes that begin with the same columns share their rows: the shapes are the ends of paths through one tree.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from firstlift.core.lift.bend import GROWTH_LIMIT, Profile, Shape, Window, Windows, side_by_side
from firstlift.core.lift.moments import Stack, count_before, side_sums, stack_windows
from firstlift.core.lift.tree import Tree, plan_tree
from firstlift.core.recording import Floats

# a pivot smaller than this share of its column is rounding: the column says nothing there
_SMALLEST_PIVOT = 1e-13


@dataclass(frozen=True, slots=True, eq=False)
class Curves:
    """Fits of shapes S over windows W for candidates g.

    ``chi2`` (S, W, g) is infinite where a candidate cannot be fitted. ``level`` and ``slope`` (columns + 1, W, g) are
    the columns' parts along the straight line. Of the nodes of the tree (nodes + 1, W, g each): ``inverse`` of the
    triangle's diagonal, ``lower`` its entries beside it, outermost first, and ``solved``, what the triangle makes of
    the values. The last column and node are zero.
    """

    plan: Tree
    stack: Stack
    chi2: Floats
    level: Floats
    slope: Floats
    inverse: Floats
    lower: tuple[Floats, ...]
    solved: Floats

    @property
    def shapes(self) -> tuple[Shape, ...]:
        """The shapes, those with the fewest columns first."""
        return self.plan.shapes

    @property
    def number(self) -> NDArray[np.intp]:
        """Place of each shape among those handed in, (S,)."""
        return self.plan.number

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
        stack, made = self.stack, self.plan.shapes[shape]
        one = np.array([shape]), np.array([window])
        value, variance = (part[0] for part in self.at_bend(*one))
        theta = self._coefficients(*one)
        along = self.plan.along[:, shape]
        taken = (self.slope[along, window] * np.array(theta)[:, 0]).sum(axis=0)
        slope = stack.slope[window] - taken / np.sqrt(stack.spread[window])
        theirs = np.array(theta)[self.plan.own[: len(made.columns), shape], 0]
        coefficients: Floats = np.concatenate(([value, slope], theirs)).T
        chi2 = self.chi2[shape, window]
        gain_variance = self._gain_variance(*one)[0]
        unfitted = ~np.isfinite(chi2)
        coefficients[unfitted] = np.nan
        gain_variance[unfitted] = np.nan
        return Profile(
            made,
            int(stack.size[window]),
            chi2,
            value,
            variance,
            coefficients[:, 1],
            coefficients[:, 2 + made.gain],
            gain_variance,
            coefficients,
        )

    def coefficients(self, shape: int, window: int, candidate: int) -> Floats:
        """Give the coefficients of one fit at one candidate, in the order of `bend.design`.

        Parameters
        ----------
        shape, window, candidate : int
            Which.

        Returns
        -------
        ndarray (p,)
        """
        stack, pick = self.stack, (window, candidate)
        theta = np.array(self._coefficients(np.array([shape]), *(np.array([each]) for each in pick)))[:, 0]
        along = self.plan.along[:, shape]
        slope = float(stack.slope[window, 0] - theta @ self.slope[along, *pick] / np.sqrt(stack.spread[window, 0]))
        level = float(stack.level[window, 0] - theta @ self.level[along, *pick] / np.sqrt(stack.total[window, 0]))
        away = float(stack.at[pick] - stack.centre[window, 0])
        theirs = theta[self.plan.own[: len(self.plan.shapes[shape].columns), shape]]
        return np.array([level + slope * away, slope, *theirs.tolist()])

    def at_bend(self, shape: NDArray[np.intp], window: NDArray[np.intp]) -> tuple[Floats, Floats]:
        """Give the value of the side before at each candidate and its variance, of some fits.

        Parameters
        ----------
        shape, window : ndarray (k,)
            Which.

        Returns
        -------
        value, variance : ndarray (k, g)
            NaN for candidates that were not fitted.
        """
        stack, along, path = self.stack, self.plan.along[:, shape], self.plan.path[:, shape]
        away = stack.at[window] - stack.centre[window]
        unit_level, unit_slope = 1.0 / np.sqrt(stack.total[window]), away / np.sqrt(stack.spread[window])
        # what the straight line takes over from the columns, seen at the bend; freed of each column in turn by the
        # triangle, it says how much the value there owes to them
        passed = list(self.level[along, window] * unit_level + self.slope[along, window] * unit_slope)
        value = stack.level[window] + stack.slope[window] * away
        variance = unit_level * unit_level + unit_slope * unit_slope
        self._pass_through(passed, path, (window,))
        for part, known in zip(passed, self.solved[path, window], strict=True):
            value -= part * known
            variance += part * part
        unfitted = ~np.isfinite(self.chi2[shape, window])
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
        theta = np.array(self._coefficients(shape, window, best))
        gain = np.abs(theta[self._gain(shape), np.arange(shape.size)])
        return gain / np.sqrt(self._gain_variance(shape, window, best))

    def leftovers(self, shape: NDArray[np.intp], window: NDArray[np.intp], best: NDArray[np.intp]) -> Floats:
        """Give the residuals of some fits, at one candidate each, in units of their noise.

        Parameters
        ----------
        shape, window, best : ndarray (k,)
            Which fits and candidates.

        Returns
        -------
        ndarray (k, n)
            Zero beyond the end of a shorter window.
        """
        stack, along = self.stack, self.plan.along[:, shape]
        theta = np.array(self._coefficients(shape, window, best))
        pick = along, window, best
        level = (self.level[pick] * theta).sum(axis=0) / np.sqrt(stack.total[window, 0])
        slope = (self.slope[pick] * theta).sum(axis=0) / np.sqrt(stack.spread[window, 0])
        # the straight line taken over from the columns goes back, its level counted from the bend
        at = stack.at[window, best]
        level += slope * (at - stack.centre[window, 0])
        shifted = stack.u[window] - at[:, None]
        rest = slope[:, None] * shifted
        rest += level[:, None]
        rest += stack.rest[window]
        full = np.zeros((len(self.plan.columns) + 1, shape.size))
        full[along, np.arange(shape.size)] = theta
        self._take_off(rest, shifted, full)
        rest *= np.sqrt(stack.weight)[window]
        return rest

    def _take_off(self, rest: Floats, shifted: Floats, theta: Floats) -> None:
        """Take columns off values (k, n) at distances from the bend (k, n), in place; coefficients (columns + 1, k)."""
        plan = self.plan
        # powers after the bend, which most shapes have, by Horner's rule
        if plan.powers.size:
            after = np.maximum(shifted, 0.0)
            curve = theta[plan.powers[0], :, None] * after
            for power in plan.powers[1:]:
                curve += theta[power, :, None]
                curve *= after
            rest -= curve
        fades, row = theta[plan.fading].nonzero()
        if row.size:
            side, rate, factor = (each[fades, None] for each in (plan.side, plan.rate, plan.factor))
            away = shifted[row]
            away *= side
            np.maximum(away, 0.0, out=away)
            away *= side * rate
            np.exp(np.minimum(away, GROWTH_LIMIT, out=away), out=away)
            away -= 1.0
            away *= factor * theta[plan.fading[fades], row][:, None]
            if np.bincount(row).max() == 1:
                rest[row] -= away
            else:
                # a shape that has two of them
                np.subtract.at(rest, row, away)
        for place in plan.others:
            row = theta[place].nonzero()[0]
            rest[row] -= theta[place, row, None] * plan.columns[place].values(shifted[row])

    def changes(self) -> tuple[Floats, Floats]:
        """Say which way things change at the bend: numbers whose sign alone means anything.

        Returns
        -------
        first : ndarray (S, W, g)
            Of the jump, for shapes with a step, or of the slope at once.
        later : ndarray (R, W, g)
            Of the slope, for shapes that relax, after that.
        """
        plan, at_once, later = self.plan, np.empty_like(self.solved[:-1]), list[Floats]()
        for nodes in plan.levels:
            path = (*nodes.above, nodes.rows)
            theta = [self.solved[node] for node in path]
            for i in reversed(range(len(path))):
                for j in range(i + 1, len(path)):
                    theta[i] = theta[i] - self.lower[i][path[j]] * theta[j]
                if i:
                    theta[i] = theta[i] * self.inverse[path[i]]
            for place, part in enumerate(theta):
                own = np.flatnonzero(nodes.tested == place)
                at_once[nodes.rows][own] = part[own]
            later.extend(theta[place][node] for node, place in nodes.late)
        return at_once[plan.end], np.array(later).reshape(-1, *at_once.shape[1:])

    def _coefficients(self, shape: NDArray[np.intp], *pick: NDArray[np.intp]) -> list[Floats]:
        """Give coefficients of some fits along their paths: D arrays (k, g), or (k,) where candidates are picked."""
        nodes = self.plan.path[:, shape]
        theta = list(self.solved[(nodes, *pick)])
        inverse = self.inverse[(nodes, *pick)]
        for i in reversed(range(len(theta))):
            for j in range(i + 1, len(theta)):
                theta[i] -= self.lower[i][(nodes[j], *pick)] * theta[j]
            theta[i] *= inverse[i]
        return theta

    def _pass_through(self, right: list[Floats], nodes: NDArray[np.intp], pick: tuple[NDArray[np.intp], ...]) -> None:
        """Solve ``L z = right`` for some fits, in place: D arrays of one entry a column along the path (D, k)."""
        inverse = self.inverse[(nodes, *pick)]
        for i, value in enumerate(right):
            for j in range(i):
                value -= self.lower[j][(nodes[i], *pick)] * right[j]
            value *= inverse[i]

    def _gain(self, shape: NDArray[np.intp]) -> NDArray[np.intp]:
        """Say where along the path the change of slope lies, (k,)."""
        return self.plan.own[self.plan.gain[shape], shape]

    def _gain_variance(self, shape: NDArray[np.intp], *pick: NDArray[np.intp]) -> Floats:
        """Give the variance of the change of slope, (k, g), or (k,) where candidates are picked."""
        nodes, gain = self.plan.path[:, shape], self._gain(shape)
        like = self.solved[(nodes[0], *pick)]
        passed = [np.zeros_like(like) for _ in nodes]
        for place, part in enumerate(passed):
            part[gain == place] = 1.0
        self._pass_through(passed, nodes, pick)
        return sum((part * part for part in passed[1:]), passed[0] * passed[0])


def fit_curves(windows: Windows, shapes: tuple[Shape, ...], at: Floats, inside: NDArray[np.bool_]) -> Curves:
    """Fit every shape over every window for every candidate instant.

    Parameters
    ----------
    windows : Windows
    shapes : tuple of Shape
    at : ndarray (W, g)
        Candidate instants, each row in its window's own coordinate.
    inside : ndarray (W, g)
        Which of them are to be fitted: those with enough samples on either side; at least one a window.

    Returns
    -------
    Curves
    """
    # what is not to be fitted is worked out at the nearest candidate that is, then thrown away: no bad numbers
    low = np.where(inside, at, np.inf).min(axis=1, keepdims=True)
    high = np.where(inside, at, -np.inf).max(axis=1, keepdims=True)
    stack = stack_windows(windows, np.minimum(np.maximum(at, low), high))
    plan = plan_tree(shapes)
    return _fit(_products(stack, plan), plan, stack, inside)


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
    inside = np.ones((1, at.size), dtype=bool)
    return fit_curves(side_by_side((window,)), (shape,), at[None, :], inside).profile(0, 0)


def _products(stack: Stack, plan: Tree) -> tuple[Floats, Floats, Floats, Floats]:
    """Multiply columns with each other and with the values, the straight line taken off.

    Returns
    -------
    level, slope, rest : ndarray (columns + 1, W, g)
        The columns' parts along the straight line (zero for the last), and what they share with the values.
    products : ndarray (products, W, g)
        Of two columns freed of their straight lines.
    """
    before, size = count_before(stack), stack.at.shape
    level, slope, rest = (np.empty((len(plan.columns) + 1, *size)) for _ in range(3))
    level[-1], slope[-1] = 0.0, 0.0
    unit_level, unit_slope = 1.0 / np.sqrt(stack.total), 1.0 / np.sqrt(stack.spread)
    away = stack.at - stack.centre
    products = np.empty((plan.first.size, *size))
    # columns on either side of the bend have no product of their own
    products[plan.sides[-1].products.stop :] = 0.0
    for side in plan.sides:
        sums, its, count = side_sums(stack, side.sums, before), side.columns, side.columns.stop - side.columns.start
        one = sums[:count]
        np.multiply(one, unit_level, out=level[its])
        np.multiply(one, away, out=slope[its])
        slope[its] += sums[count : 2 * count]
        slope[its] *= unit_slope
        rest[its] = sums[2 * count : 3 * count]
        products[side.products] = sums[3 * count :]
    for part in (level, slope):
        shared = part[plan.first]
        shared *= part[plan.second]
        products -= shared
    return level, slope, rest, products


def _fit(made: tuple[Floats, Floats, Floats, Floats], plan: Tree, stack: Stack, inside: NDArray[np.bool_]) -> Curves:
    """Walk down the tree: each node adds a row to the triangle and takes its share off chi-square."""
    level, slope, rest, products = made
    size = (plan.nodes + 1, *stack.at.shape)
    chi2, inverse, solved = (np.empty(size) for _ in range(3))
    inverse[-1], solved[-1] = 0.0, 0.0
    lower = tuple(np.empty(size) for _ in plan.levels[1:])
    for entries, above in zip(lower, plan.levels, strict=False):
        # a node has no entries beside those of the nodes over it
        entries[: above.rows.stop], entries[-1] = 0.0, 0.0
    left = np.einsum("wn,wn,wn->w", stack.weight, stack.rest, stack.rest)[None, :, None]
    for depth, nodes in enumerate(plan.levels):
        pivot, value = products[nodes.gram[depth]], rest[nodes.column]
        least = np.abs(pivot)
        least *= _SMALLEST_PIVOT
        least += 1e-300
        for i, above in enumerate(nodes.above):
            entry = products[nodes.gram[i]]
            for j in range(i):
                entry -= lower[j][nodes.rows] * lower[j][above]
            entry *= inverse[above]
            lower[i][nodes.rows] = entry
            value -= entry * solved[above]
            entry *= entry
            pivot -= entry
        np.maximum(pivot, least, out=pivot)
        np.divide(1.0, np.sqrt(pivot, out=pivot), out=inverse[nodes.rows])
        np.multiply(value, inverse[nodes.rows], out=solved[nodes.rows])
        gained = np.square(solved[nodes.rows])
        np.subtract(chi2[nodes.above[-1]] if depth else left, gained, out=chi2[nodes.rows])
    # rounding may leave less than nothing
    fits = np.maximum(chi2[plan.end], np.where(inside, 0.0, np.inf))
    for index, shape in enumerate(plan.shapes):
        if shape.grow is not None:
            fits[index, (stack.u[:, -1:] - stack.at) > GROWTH_LIMIT * shape.grow] = np.inf
    return Curves(plan, stack, fits, level, slope, inverse, lower, solved)
