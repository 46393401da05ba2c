"""Straight lines through points that err in both directions, each with its own stated uncertainty.

The plain least-squares line takes x as known and flattens where x errs. Here each point counts by what its
own errors in x and y do across the line, and the slope is found by iteration.

References
----------
.. [1] D. York, Least-squares fitting of a straight line, Can. J. Phys. 44 (1966) 1079-1086.
.. [2] D. York, N. M. Evensen, M. Lopez Martinez, J. De Basabe Delgado, Unified equations for the slope,
   intercept, and standard errors of the best straight line, Am. J. Phys. 72 (2004) 367-375. Written from
   the formulas; source status: memory, checked against the published numbers of Pearson's data.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from firstlift.core.errors import FirstliftError, Problem
from firstlift.core.recording import Floats, frozen

_MOST_STEPS = 300
_TOLERANCE = 1e-13
_SINGULAR = 1e14


@dataclass(frozen=True, slots=True, eq=False)
class Line:
    """``y = intercept + slope x``.

    ``covariance`` (2, 2) of intercept and slope, from the stated uncertainties alone; ``gain`` (2, n) gives
    how intercept and slope move with an error ``dy - slope dx`` of each point; ``chi_square`` is the weighted
    sum of squares about the line, expected near its ``degrees_of_freedom``.
    """

    intercept: float
    slope: float
    covariance: Floats
    gain: Floats
    chi_square: float
    degrees_of_freedom: int


def fit_line(
    x: Sequence[float] | Floats,
    y: Sequence[float] | Floats,
    u_x: Sequence[float] | Floats,
    u_y: Sequence[float] | Floats,
    *,
    through_origin: bool = False,
) -> Line:
    """Fit a straight line to points with independent errors in both x and y.

    Parameters
    ----------
    x, y : sequence of float (n,)
        Points, in any units.
    u_x, u_y : sequence of float (n,)
        Standard uncertainties, 0 or more, not both 0 at any point.
    through_origin : bool
        Hold the intercept at 0: then one point is enough, else two at different x.

    Returns
    -------
    Line

    Raises
    ------
    FirstliftError
        SEA-005 numbers that carry no line, SEA-006 the iteration does not settle.

    References
    ----------
    .. [1] York et al. (2004), formulas (13a) to (13e), without correlation of x and y errors.
    """
    points = [np.asarray(part, dtype=np.float64) for part in (x, y, u_x, u_y)]
    _check(points, through_origin=through_origin)
    xs, ys, uxs, uys = points
    # pascals and newtons differ by orders of magnitude: in units of the largest value nothing is lost
    x_unit, y_unit = float(np.max(np.abs(xs))), float(np.max(np.abs(ys))) or 1.0
    scaled = (xs / x_unit, ys / y_unit, uxs / x_unit, uys / y_unit)
    slope = _settle(*scaled, through_origin=through_origin)
    weights, adjusted, residuals = _state(*scaled, slope, through_origin=through_origin)
    columns = np.vstack((np.ones_like(adjusted), adjusted))[1 if through_origin else 0 :]
    normal = (columns * weights) @ columns.T
    if float(np.linalg.cond(normal)) > _SINGULAR:
        raise _unsettled()
    covariance, gain = np.zeros((2, 2)), np.zeros((2, xs.size))
    free = slice(1 if through_origin else 0, 2)
    covariance[free, free] = np.linalg.inv(normal)
    gain[free] = np.linalg.solve(normal, columns * weights)
    units = np.array([y_unit, y_unit / x_unit])
    centre = (float(np.average(scaled[0], weights=weights)), float(np.average(scaled[1], weights=weights)))
    intercept = 0.0 if through_origin else centre[1] - slope * centre[0]
    return Line(
        intercept=intercept * y_unit,
        slope=slope * y_unit / x_unit,
        covariance=frozen(covariance * np.outer(units, units)),
        gain=frozen(gain * units[:, np.newaxis] / y_unit),
        chi_square=float(weights @ residuals**2),
        degrees_of_freedom=xs.size - len(columns),
    )


def _check(points: list[Floats], *, through_origin: bool) -> None:
    x, _, u_x, u_y = points
    alike = x.ndim == 1 and all(part.shape == x.shape for part in points)
    if not alike or x.size < (1 if through_origin else 2) or not all(bool(np.isfinite(part).all()) for part in points):
        raise _no_line("the readings do not make a line", "as many x, y and uncertainties, finite, two points or more")
    if bool(np.any(u_x < 0.0) or np.any(u_y < 0.0) or np.any(u_x + u_y <= 0.0)):
        raise _no_line("a reading without uncertainty", "for every reading a standard uncertainty above 0")
    if float(np.max(np.abs(x))) == 0.0 or (not through_origin and float(np.ptp(x)) == 0.0):
        raise _no_line("all readings at one value", "at least two different ones")


def _no_line(what: str, needed: str) -> FirstliftError:
    return FirstliftError(Problem("SEA-005", what, needed=needed, next="Correct or add readings"))


def _state(
    x: Floats, y: Floats, u_x: Floats, u_y: Floats, slope: float, *, through_origin: bool
) -> tuple[Floats, Floats, Floats]:
    """Give weights, the points' x moved onto the line, and residuals, for a slope."""
    weights = 1.0 / (u_y**2 + slope**2 * u_x**2)
    x_mean = 0.0 if through_origin else float(np.average(x, weights=weights))
    y_mean = 0.0 if through_origin else float(np.average(y, weights=weights))
    residuals = (y - y_mean) - slope * (x - x_mean)
    # each point goes to the line along the direction its own errors give
    return weights, x + weights * slope * u_x**2 * residuals, residuals


def _settle(x: Floats, y: Floats, u_x: Floats, u_y: Floats, *, through_origin: bool) -> float:
    plain = 1.0 / np.maximum(u_y**2 + u_x**2, 1e-300)
    x_mean = 0.0 if through_origin else float(np.average(x, weights=plain))
    y_mean = 0.0 if through_origin else float(np.average(y, weights=plain))
    slope = float(plain @ ((x - x_mean) * (y - y_mean)) / (plain @ (x - x_mean) ** 2))
    for _ in range(_MOST_STEPS):
        weights, adjusted, _ = _state(x, y, u_x, u_y, slope, through_origin=through_origin)
        x_mean = 0.0 if through_origin else float(np.average(x, weights=weights))
        y_mean = 0.0 if through_origin else float(np.average(y, weights=weights))
        lever = weights * (adjusted - x_mean)
        below = float(lever @ (x - x_mean))
        if below == 0.0:
            break
        new = float(lever @ (y - y_mean)) / below
        if abs(new - slope) <= _TOLERANCE * abs(new):
            return new
        slope = new
    raise _unsettled()


def _unsettled() -> FirstliftError:
    return FirstliftError(
        Problem(
            "SEA-006",
            "the line through the readings does not settle",
            needed="readings that lie near a line, farther apart than their uncertainties",
            next="Look for a misread pull, or pull at line pressures farther apart",
        )
    )
