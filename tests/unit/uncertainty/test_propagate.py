import math

import pytest

from firstlift.core.errors import FirstliftError
from firstlift.core.uncertainty.propagate import correlation_between, propagate


def test_sensitivities_of_a_curve():
    found = propagate(lambda x: x[0] ** 3 * math.exp(x[1]), [2.0, 0.5], [0.01, 0.02])
    assert found.sensitivities == pytest.approx((12.0 * math.exp(0.5), 8.0 * math.exp(0.5)), rel=1e-9)


def test_known_input_has_a_sensitivity_and_adds_nothing():
    found = propagate(lambda x: 5.0 * x[0] + x[1] + x[2], [3.0, 0.0, 1.0], [0.0, 0.0, 2.0])
    assert found.sensitivities == pytest.approx((5.0, 1.0, 1.0), rel=1e-6)
    assert found.standard_uncertainty == pytest.approx(2.0)
    assert math.isinf(found.degrees_of_freedom)


def test_second_order_of_a_square_at_its_vertex():
    # u^2(x^2) = 2 u^4 where x = 0: first order sees nothing there.
    assert propagate(lambda x: x[0] ** 2, [0.0], [3.0]).standard_uncertainty == pytest.approx(0.0, abs=1e-9)
    found = propagate(lambda x: x[0] ** 2, [0.0], [3.0], second_order=True)
    assert found.standard_uncertainty == pytest.approx(math.sqrt(2.0) * 9.0, rel=1e-6)


def test_results_from_the_same_inputs_are_correlated():
    total = propagate(lambda x: x[0] + x[1], [1.0, 2.0], [3.0, 4.0])
    difference = propagate(lambda x: x[0] - x[1], [1.0, 2.0], [3.0, 4.0])
    constant = propagate(lambda x: 1.0 + 0.0 * x[0], [1.0, 2.0], [3.0, 4.0])
    assert correlation_between(total, difference, [3.0, 4.0]) == pytest.approx((9.0 - 16.0) / 25.0)
    assert correlation_between(total, constant, [3.0, 4.0]) == 0.0


@pytest.mark.parametrize(
    ("values", "uncertainties", "dof"),
    [([1.0], [1.0, 2.0], None), ([1.0], [-1.0], None), ([math.nan], [1.0], None), ([1.0], [1.0], [1.0, 2.0])],
)
def test_inputs_are_checked(values, uncertainties, dof):
    with pytest.raises(FirstliftError, match="UNC-006"):
        propagate(lambda x: x[0], values, uncertainties, degrees_of_freedom=dof)


def test_function_without_a_value_there():
    with pytest.raises(FirstliftError, match="UNC-007"):
        propagate(lambda x: math.inf if x[0] < 0.0 else x[0], [0.0], [1.0])


def test_second_order_is_for_uncorrelated_inputs():
    with pytest.raises(FirstliftError, match="UNC-008"):
        propagate(lambda x: x[0] * x[1], [1.0, 1.0], [1.0, 1.0], {(0, 1): 0.5}, second_order=True)
