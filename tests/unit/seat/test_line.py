"""A line with errors in both directions, against a second library and by hand."""

import math
import warnings

import numpy as np
import pytest

from firstlift.core.errors import FirstliftError
from firstlift.core.seat.line import fit_line

RNG = np.random.default_rng(20261125)


def odr(x, y, u_x, u_y, start, function):
    """Give parameters and their covariance by orthogonal distance regression."""
    with warnings.catch_warnings():
        # the library announces that this part of it will move
        warnings.simplefilter("ignore", DeprecationWarning)
        module = pytest.importorskip("scipy.odr")
        found = module.ODR(module.RealData(x, y, u_x, u_y), module.Model(function), beta0=start).run()
    return found.beta, found.cov_beta


@pytest.mark.parametrize("count", [2, 3, 5, 12])
@pytest.mark.parametrize("scale", [1.0, 1e6])
def test_line_and_covariance_are_those_of_orthogonal_distance_regression(count, scale):
    x = scale * np.sort(RNG.uniform(1.0, 9.0, count))
    u_x, u_y = scale * RNG.uniform(0.01, 0.05, count), RNG.uniform(0.01, 0.05, count)
    y = 8.0 - 0.7 * x / scale + u_y * RNG.standard_normal(count)
    line = fit_line(x, y, u_x, u_y)
    beta, covariance = odr(x, y, u_x, u_y, [line.intercept * 1.01, line.slope * 0.99], lambda b, v: b[0] + b[1] * v)
    assert [line.intercept, line.slope] == pytest.approx(list(beta), rel=2e-6)
    assert np.sqrt(np.diag(line.covariance)) == pytest.approx(np.sqrt(np.diag(covariance)), rel=1e-3)
    assert line.covariance[0, 1] == pytest.approx(covariance[0, 1], rel=1e-3)


@pytest.mark.parametrize("count", [1, 4])
def test_a_line_through_the_origin_is_that_of_orthogonal_distance_regression(count):
    x, u_x, u_y = np.linspace(2.0, 5.0, count), np.full(count, 0.03), np.full(count, 0.05)
    y = 1.7 * x + u_y * RNG.standard_normal(count)
    line = fit_line(x, y, u_x, u_y, through_origin=True)
    beta, covariance = odr(x, y, u_x, u_y, [1.6], lambda b, v: b[0] * v)
    assert line.slope == pytest.approx(beta[0], rel=1e-6)
    assert math.sqrt(line.covariance[1, 1]) == pytest.approx(math.sqrt(covariance[0, 0]), rel=1e-4)
    assert line.intercept == 0.0
    assert line.degrees_of_freedom == count - 1


def test_gain_tells_how_the_line_moves_with_one_points_error():
    x, y = np.array([1.0, 2.0, 4.0]), np.array([5.01, 3.99, 2.01])
    u_x, u_y = np.array([0.02, 0.05, 0.03]), np.array([0.1, 0.05, 0.08])
    plain = fit_line(x, y, u_x, u_y)
    for index in range(3):
        moved = y.copy()
        moved[index] += 1e-6
        other = fit_line(x, moved, u_x, u_y)
        change = [(other.intercept - plain.intercept) / 1e-6, (other.slope - plain.slope) / 1e-6]
        # the weights' own dependence on the slope is of second order in the residuals
        assert plain.gain[:, index] == pytest.approx(change, rel=0.01)


def test_through_two_points_the_line_is_exact():
    line = fit_line([1.0, 3.0], [10.0, 4.0], [0.1, 0.1], [0.0, 0.2])
    assert (line.intercept, line.slope) == (pytest.approx(13.0), pytest.approx(-3.0))
    # by hand: u(slope) = hypot of both points' u_y over the distance, x errors weighed by the slope
    assert math.sqrt(line.covariance[1, 1]) == pytest.approx(math.sqrt(0.3**2 + 0.3**2 + 0.2**2) / 2.0)
    assert line.chi_square == pytest.approx(0.0, abs=1e-20)


@pytest.mark.parametrize(
    ("x", "y", "u_x", "u_y"),
    [
        ([1.0], [2.0], [0.1], [0.1]),
        ([1.0, 1.0], [2.0, 3.0], [0.1, 0.1], [0.1, 0.1]),
        ([1.0, 2.0], [2.0, math.nan], [0.1, 0.1], [0.1, 0.1]),
        ([1.0, 2.0], [2.0, 3.0], [0.1, 0.0], [0.1, 0.0]),
        ([1.0, 2.0], [2.0, 3.0], [-0.1, 0.1], [0.1, 0.1]),
        ([1.0, 2.0], [2.0, 3.0], [0.1, 0.1], [0.1]),
        ([0.0, 0.0], [2.0, 3.0], [0.1, 0.1], [0.1, 0.1]),
    ],
)
def test_readings_that_carry_no_line_are_refused(x, y, u_x, u_y):
    with pytest.raises(FirstliftError, match="SEA-005"):
        fit_line(x, y, u_x, u_y)


@pytest.mark.parametrize(
    ("x", "y", "u_x", "u_y"),
    [
        # errors as large as the whole spread: the slope wanders without end
        ([1.0, 4.0, 4.0, 2.0], [2.0, 3.0, 2.0, 3.0], [0.01, 3.0, 0.5, 3.0], [0.5, 0.01, 0.01, 0.5]),
        # the points move onto one x
        ([4.0, 4.0, 4.0, 1.0], [2.0, 4.0, 1.0, 3.0], [0.01, 0.01, 3.0, 0.5], [0.01, 0.01, 0.01, 0.5]),
    ],
)
def test_a_line_that_does_not_settle_is_said(x, y, u_x, u_y):
    with pytest.raises(FirstliftError, match="SEA-006"):
        fit_line(x, y, u_x, u_y)
