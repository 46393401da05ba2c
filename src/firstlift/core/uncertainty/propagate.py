"""First-order propagation through any function: for results that are more than a sum of lines."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np

from firstlift.core.errors import FirstliftError, Problem
from firstlift.core.recording import Floats
from firstlift.core.uncertainty.correlation import NONE, Correlations, correlation_matrix, group_parts
from firstlift.core.uncertainty.coverage import effective_degrees_of_freedom

Function = Callable[[Floats], float]


@dataclass(frozen=True, slots=True)
class Measured:
    """A value with its standard uncertainty, effective degrees of freedom and sensitivities (in input order)."""

    value: float
    standard_uncertainty: float
    degrees_of_freedom: float
    sensitivities: tuple[float, ...]


def propagate(
    function: Function,
    values: Sequence[float],
    standard_uncertainties: Sequence[float],
    correlations: Correlations = NONE,
    degrees_of_freedom: Sequence[float] | None = None,
    *,
    second_order: bool = False,
) -> Measured:
    """Carry the uncertainties of the inputs through a function.

    Sensitivities come from central differences over a fraction of each input's own uncertainty, since that
    is the stretch over which the function must be straight. The function is called up to one standard
    uncertainty away from the values, two where the second order is asked for.

    Parameters
    ----------
    function : callable
        Takes an ndarray (n,) of the inputs, gives a float.
    values, standard_uncertainties : sequence of float (n,)
        Each pair in one unit.
    correlations : mapping (i, j) to r
        -1 to 1.
    degrees_of_freedom : sequence of float (n,) or None
        None: infinite for all.
    second_order : bool
        Add the terms of next higher order; for uncorrelated inputs only.

    Returns
    -------
    Measured

    Raises
    ------
    FirstliftError
        UNC-003 correlations, UNC-006 lengths differ or uncertainty below 0, UNC-007 the function gives no
        finite number there, UNC-008 second order asked for correlated inputs.

    References
    ----------
    .. [1] JCGM 100:2008, 5.1.2 formula (10) and its note, 5.1.3 note 2, 5.2.2 formula (16), G.4.1.
    """
    x = np.asarray(values, dtype=np.float64)
    u = np.asarray(standard_uncertainties, dtype=np.float64)
    dof = [math.inf] * len(x) if degrees_of_freedom is None else list(degrees_of_freedom)
    if not len(x) == len(u) == len(dof) or bool(np.any(~np.isfinite(x)) or np.any(~(u >= 0.0))):
        raise FirstliftError(
            Problem(
                "UNC-006",
                f"{len(x)} values, {len(u)} uncertainties, {len(dof)} degrees of freedom",
                needed="one of each, finite, no uncertainty below 0",
            )
        )
    if second_order and correlations:
        raise FirstliftError(
            Problem("UNC-008", "second order with correlated inputs", needed="uncorrelated inputs, or first order")
        )
    value = _call(function, x)
    steps = _steps(x, u)
    slopes = np.array([_slope(function, x, steps, i) for i in range(len(x))])
    parts = group_parts(slopes * u, correlation_matrix(len(x), correlations), dof)
    own = [(variance, group_dof) for _, variance, group_dof in parts]
    variance = sum(part for part, _ in own)
    if second_order:
        # The extra terms belong to no single input: they widen the sum and bring no degrees of freedom.
        extra = _second_order_variance(function, x, u, steps)
        variance += extra
        own.append((extra, math.inf))
    return Measured(
        value, math.sqrt(max(variance, 0.0)), effective_degrees_of_freedom(own), tuple(float(c) for c in slopes)
    )


def correlation_between(
    first: Measured, second: Measured, standard_uncertainties: Sequence[float], correlations: Correlations = NONE
) -> float:
    """Give the correlation of two results that come from the same inputs.

    Parameters
    ----------
    first, second : Measured
        From the same inputs in the same order.
    standard_uncertainties : sequence of float (n,)
        Of the inputs.
    correlations : mapping (i, j) to r
        Of the inputs.

    Returns
    -------
    float
        -1 to 1; 0 where one of the two is known exactly.

    References
    ----------
    .. [1] JCGM 100:2008, H.2.3 and formula (H.9).
    """
    u = np.asarray(standard_uncertainties, dtype=np.float64)
    a, b = np.array(first.sensitivities) * u, np.array(second.sensitivities) * u
    matrix = correlation_matrix(len(u), correlations)
    scale = math.sqrt(float(a @ matrix @ a) * float(b @ matrix @ b))
    return float(a @ matrix @ b) / scale if scale > 0.0 else 0.0


def _call(function: Function, x: Floats) -> float:
    value = float(function(x))
    if not math.isfinite(value):
        raise FirstliftError(
            Problem("UNC-007", f"the formula gives {value} at {[float(item) for item in x]}", needed="a finite number")
        )
    return value


def _steps(x: Floats, u: Floats) -> Floats:
    return np.where(u > 0.0, 0.1 * u, np.where(x != 0.0, 1e-4 * np.abs(x), 1e-6))


def _at(function: Function, x: Floats, index: int, shift: float) -> float:
    moved = x.copy()
    moved[index] += shift
    return _call(function, moved)


def _slope(function: Function, x: Floats, steps: Floats, i: int) -> float:
    """First derivative, by the longer of two steps where both agree to rounding: it rounds five times less."""
    short, long = (_slope_by(function, x, i, factor * float(steps[i])) for factor in (1.0, 5.0))
    rounding = 4.0 * float(np.finfo(np.float64).eps) * abs(_call(function, x)) / float(steps[i])
    return long if abs(long - short) <= rounding else short


def _slope_by(function: Function, x: Floats, i: int, h: float) -> float:
    """First derivative from four points: the error falls with the fourth power of the step."""
    near = _at(function, x, i, h) - _at(function, x, i, -h)
    far = _at(function, x, i, 2.0 * h) - _at(function, x, i, -2.0 * h)
    return (8.0 * near - far) / (12.0 * h)


def _second_order_variance(function: Function, x: Floats, u: Floats, steps: Floats) -> float:
    """Sum over i, j of (f_ij^2 / 2 + f_i f_ijj) u_i^2 u_j^2."""
    total = 0.0
    for j in range(len(x)):
        h = 10.0 * float(steps[j])
        up, down = x.copy(), x.copy()
        up[j] += h
        down[j] -= h
        for i in range(len(x)):
            middle, above, below = (_slope_by(function, point, i, 5.0 * float(steps[i])) for point in (x, up, down))
            mixed = (above - below) / (2.0 * h)
            third = (above - 2.0 * middle + below) / h**2
            total += (0.5 * mixed**2 + middle * third) * float(u[i]) ** 2 * float(u[j]) ** 2
    return total
