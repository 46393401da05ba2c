import dataclasses
import itertools
import math

import pytest
from scipy import stats

from firstlift.core.errors import FirstliftError
from firstlift.core.uncertainty.budget import Input, make_budget


def line(u, form="normal", dof=math.inf, c=1.0, tag="pull"):
    return Input("pull", 100.0, "N", u, form, dof, c, tag)


def test_normal_lines_give_exactly_students_quantile():
    budget = make_budget([line(3.0, dof=4.0), line(4.0, dof=9.0)])
    assert budget.standard_uncertainty_pa == pytest.approx(5.0)
    assert budget.degrees_of_freedom == pytest.approx(625.0 / (81.0 / 4.0 + 256.0 / 9.0))
    assert budget.coverage_factor == pytest.approx(stats.t.ppf(0.975, budget.degrees_of_freedom), rel=1e-9)
    assert budget.expanded_uncertainty_pa == budget.coverage_factor * budget.standard_uncertainty_pa


def test_rectangle_that_rules_has_a_small_factor():
    budget = make_budget([line(10.0, "rectangular", tag="seat"), line(0.5)])
    assert 1.64 < budget.coverage_factor < 1.66


def test_factor_goes_over_smoothly_as_the_rectangle_fades():
    factors = [make_budget([line(r, "rectangular"), line(1.0)]).coverage_factor for r in (0.0, 0.02, 0.04, 0.1, 0.5)]
    assert factors[0] == pytest.approx(1.959963984540054)
    assert all(abs(b - a) < 0.003 for a, b in itertools.pairwise(factors[:4]))
    assert factors[4] < factors[0]


def test_rectangle_whose_width_is_itself_uncertain_counts_as_normal():
    budget = make_budget([line(2.0, "rectangular", dof=8.0)])
    assert budget.coverage_factor == pytest.approx(stats.t.ppf(0.975, 8.0), rel=1e-9)


def test_shares_split_a_covariance_evenly():
    budget = make_budget([line(3.0), line(4.0), line(1.0)], {(0, 1): 0.5})
    variance = 9.0 + 16.0 + 1.0 + 12.0
    assert budget.standard_uncertainty_pa == pytest.approx(math.sqrt(variance))
    assert [row.share for row in budget.lines] == pytest.approx([15.0 / variance, 22.0 / variance, 1.0 / variance])


def test_cells_calibrated_together_add_straight_and_cancel_straight():
    assert make_budget([line(3.0), line(4.0)], {(0, 1): 1.0}).standard_uncertainty_pa == pytest.approx(7.0)
    opposed = make_budget([line(3.0), line(3.0, c=-1.0)], {(1, 0): 1.0})
    assert opposed.standard_uncertainty_pa == pytest.approx(0.0, abs=1e-9)


def test_correlated_group_counts_once_in_degrees_of_freedom():
    tied = make_budget([line(3.0, dof=4.0), line(3.0, dof=4.0)], {(0, 1): 1.0})
    free = make_budget([line(3.0, dof=4.0), line(3.0, dof=4.0)])
    assert tied.degrees_of_freedom == pytest.approx(4.0)
    assert free.degrees_of_freedom == pytest.approx(8.0)


def test_one_sided_line_is_listed_but_does_not_widen():
    plain = make_budget([line(3.0)])
    more = make_budget([line(3.0), line(6.0 / math.sqrt(12.0), "one-sided", c=2.0, tag="setup")])
    assert more.expanded_uncertainty_pa == plain.expanded_uncertainty_pa
    assert more.one_sided_pa == pytest.approx((12.0,))
    assert more.lines[1].contribution_pa == pytest.approx(12.0 / math.sqrt(12.0))
    assert more.lines[1].share == 0.0


def test_one_sided_line_reaches_down_where_more_of_it_lowers_the_result():
    down = make_budget([line(3.0), line(6.0 / math.sqrt(12.0), "one-sided", c=-2.0, tag="seat")])
    assert down.one_sided_pa == pytest.approx((-12.0,))


def test_line_keeps_its_words_and_infinity_becomes_none():
    row = make_budget([line(2.0, c=-3.0, tag="cell:A")]).lines[0]
    assert dataclasses.asdict(row) == {
        "quantity": "pull",
        "value": 100.0,
        "unit": "N",
        "standard_uncertainty": 2.0,
        "distribution": "normal",
        "degrees_of_freedom": None,
        "sensitivity": -3.0,
        "contribution_pa": 6.0,
        "share": 1.0,
        "common_to": "cell:A",
    }


def test_what_each_pull_has_of_its_own():
    budget = make_budget([line(3.0), line(4.0, "rectangular"), line(9.0, tag="seat"), line(9.0, "one-sided")])
    assert budget.per_pull_pa == pytest.approx(5.0)


def test_nothing_uncertain():
    budget = make_budget([line(0.0)])
    assert budget.expanded_uncertainty_pa == 0.0
    assert budget.coverage_factor == pytest.approx(1.96, abs=1e-3)
    assert budget.lines[0].share == 0.0


@pytest.mark.parametrize(
    ("change", "words"),
    [
        ({"distribution": "flat"}, "distribution 'flat'"),
        ({"standard_uncertainty": -1.0}, "standard uncertainty -1 N"),
        ({"standard_uncertainty": math.nan}, "standard uncertainty nan N"),
        ({"sensitivity": math.inf}, "sensitivity inf Pa per N"),
        ({"degrees_of_freedom": 0.0}, "0 degrees of freedom"),
    ],
)
def test_line_that_cannot_be_used(change, words):
    with pytest.raises(FirstliftError, match="UNC-004") as caught:
        make_budget([dataclasses.replace(line(1.0), **change)])
    assert words in str(caught.value)
    assert "budget line 1, pull" in str(caught.value)


@pytest.mark.parametrize(
    "correlations",
    [
        {(0, 0): 1.0},
        {(0, 9): 0.5},
        {(0, 1): 1.5},
        {(0, 1): math.nan},
        {(0, 1): 1.0, (1, 2): 1.0, (0, 2): -1.0},
        {(0, 3): 0.5},
    ],
)
def test_correlations_that_cannot_be(correlations):
    with pytest.raises(FirstliftError, match="UNC-003"):
        make_budget([line(1.0), line(1.0), line(1.0), line(1.0, "one-sided")], correlations)
