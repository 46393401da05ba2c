import math

import pytest

from firstlift.core.errors import FirstliftError
from firstlift.core.uncertainty.coverage import Spread
from firstlift.core.uncertainty.pulls import mean_over_pulls


def test_only_the_pulls_own_part_is_divided():
    values = [9.8e5, 10.2e5, 9.9e5, 10.1e5]
    mean = mean_over_pulls(values, [100.0] * 4, 5000.0)
    s = math.sqrt(sum((v - 10e5) ** 2 for v in values) / 3)
    assert mean.mean_pa == pytest.approx(10e5)
    assert mean.repeatability_pa == pytest.approx(s)
    assert mean.standard_uncertainty_pa == pytest.approx(math.hypot(s / 2.0, 5000.0))


def test_single_pull_has_no_repeatability_and_keeps_its_own_uncertainty():
    mean = mean_over_pulls([10e5], [3000.0], 4000.0)
    assert mean.repeatability_pa is None
    assert mean.standard_uncertainty_pa == pytest.approx(5000.0)
    assert mean.expanded_uncertainty_pa == pytest.approx(1.959964 * 5000.0, rel=1e-6)


def test_pulls_that_happen_to_agree_do_not_prove_a_small_scatter():
    mean = mean_over_pulls([10e5, 10e5, 10e5], [3000.0] * 3, 4000.0)
    assert mean.repeatability_pa == 0.0
    assert mean.standard_uncertainty_pa == pytest.approx(math.hypot(3000.0 / math.sqrt(3.0), 4000.0))


def test_few_scattered_pulls_widen_by_student():
    mean = mean_over_pulls([9.95e5, 10.05e5, 10.02e5], [100.0] * 3, 0.0)
    assert mean.coverage_factor == pytest.approx(4.302653, rel=1e-6)


def test_shared_rectangle_stays_a_rectangle():
    mean = mean_over_pulls([10e5, 10e5], [1.0, 1.0], Spread(0.0, half_widths=(6000.0,)))
    assert mean.coverage_factor == pytest.approx(1.645, abs=0.001)


@pytest.mark.parametrize(("values", "uncertainties"), [([], []), ([1.0, 2.0], [1.0])])
def test_one_uncertainty_for_each_pull(values, uncertainties):
    with pytest.raises(FirstliftError, match="UNC-005"):
        mean_over_pulls(values, uncertainties, 1.0)
