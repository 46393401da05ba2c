import math

import pytest

from firstlift.core.job import Decision, Purpose, Rules
from firstlift.core.result import VerdictOutcome
from firstlift.core.tolerance.judge import find_trend, judge, judge_as_left, judge_lower_bound, probability_within
from firstlift.core.tolerance.limits import find_limits
from firstlift.core.uncertainty.budget import Input, make_budget
from firstlift.core.uncertainty.coverage import Spread
from firstlift.core.units import Kind, parse_quantity
from firstlift.formats.rulesets import read_rule_set

WITHIN, OUTSIDE, UNDECIDED = VerdictOutcome.WITHIN, VerdictOutcome.OUTSIDE, VerdictOutcome.UNDECIDED
LIMITS = find_limits(
    read_rule_set("iso-4126-1"), parse_quantity("10 bar", Kind.PRESSURE), purpose=Purpose.AS_FOUND
)  # 9.7 to 10.3 bar
BAR = 1e5
RULES = Rules(code="iso-4126-1")


def budget(own=500.0, seat=3000.0):
    return make_budget(
        [
            Input("first lift", 1.0, "Pa", own, "normal", common_to="pull"),
            Input("seat", 1.0, "Pa", seat, "rectangular", common_to="seat"),
        ]
    )


@pytest.mark.parametrize(
    ("bar", "u_bar", "outcome"),
    [
        (10.0, 0.05, WITHIN),
        (10.21, 0.05, WITHIN),
        (10.23, 0.05, UNDECIDED),
        (10.37, 0.05, UNDECIDED),
        (10.39, 0.05, OUTSIDE),
        (9.77, 0.05, UNDECIDED),
        (9.61, 0.05, OUTSIDE),
        (10.0, 0.5, UNDECIDED),
    ],
)
def test_guarded(bar, u_bar, outcome):
    assert judge(bar * BAR, u_bar * BAR, LIMITS, Decision.GUARDED, 0.95).outcome is outcome


def test_simple_includes_the_limits_and_does_not_round():
    for value, outcome in (
        (LIMITS.upper_pa, WITHIN),
        (math.nextafter(LIMITS.upper_pa, math.inf), OUTSIDE),
        (LIMITS.lower_pa, WITHIN),
        (math.nextafter(LIMITS.lower_pa, 0.0), OUTSIDE),
    ):
        judged = judge(value, 1000.0, LIMITS, Decision.SIMPLE)
        assert judged.outcome is outcome
        assert judged.probability_within == pytest.approx(0.5, abs=1e-6)


def test_known_value_is_in_or_out():
    assert probability_within(10.3 * BAR, 0.0, LIMITS) == 1.0
    assert probability_within(10.3 * BAR + 1.0, 0.0, LIMITS) == 0.0
    assert probability_within(10.2 * BAR, Spread(0.0), LIMITS, 0.2 * BAR) == pytest.approx(0.5, abs=1e-9)


def test_budget_ruled_by_a_rectangle_is_sure_outside_its_reach():
    # Half-width 0.2 bar: at 10.09 bar nothing can reach 10.3, though a normal of the same u would leave 3.4 %.
    ruled = make_budget([Input("seat", 1.0, "Pa", 0.2 * BAR / math.sqrt(3.0), "rectangular", common_to="seat")])
    assert probability_within(10.09 * BAR, ruled, LIMITS) == pytest.approx(1.0, abs=1e-12)
    assert probability_within(10.09 * BAR, ruled.standard_uncertainty_pa, LIMITS) < 0.97


def test_unknown_distance_to_pop_counts_upward_only():
    plain = probability_within(10.0 * BAR, 1000.0, LIMITS)
    wide = probability_within(10.0 * BAR, 1000.0, LIMITS, one_sided_pa=0.6 * BAR)
    low = probability_within(9.6 * BAR, 1000.0, LIMITS, one_sided_pa=0.6 * BAR)
    assert plain > 0.999999
    assert wide == pytest.approx(0.5, abs=0.01)
    assert low == pytest.approx(5.0 / 6.0, abs=0.01)


def test_one_sided_line_of_a_budget_costs_a_verdict_but_earns_none():
    # limits 9.7 and 10.3 bar; the set pressure may lie up to 0.3 bar lower than it was read
    own = Input("moment", 1.0, "Pa", 500.0, "normal")
    length = Input("leaking", 1.0, "Pa", 0.3 * BAR / math.sqrt(12.0), "one-sided", sensitivity=-1.0, common_to="seat")
    plain, wider = make_budget([own]), make_budget([own, length])
    assert probability_within(9.8 * BAR, plain, LIMITS) > 0.999999
    assert probability_within(9.8 * BAR, wider, LIMITS) == pytest.approx(1.0 / 3.0, abs=0.01)
    above = probability_within(10.305 * BAR, plain, LIMITS)
    assert above < 0.2
    assert probability_within(10.305 * BAR, wider, LIMITS) == above


def test_lower_bound_proves_high_or_nothing():
    assert judge_lower_bound(10.5 * BAR, 0.1 * BAR, LIMITS) is OUTSIDE
    assert judge_lower_bound(10.35 * BAR, 0.1 * BAR, LIMITS) is None
    assert judge_lower_bound(9.0 * BAR, 0.1 * BAR, LIMITS) is None


def as_left(*bars, own=500.0, rules=RULES):
    return judge_as_left([(bar * BAR, budget(own)) for bar in bars], LIMITS, rules)


def test_three_that_agree():
    judged = as_left(10.02, 9.99, 10.01)
    assert judged.outcome is WITHIN
    assert (judged.enough, judged.agrees, judged.trend) == (True, True, False)
    assert judged.spread == pytest.approx(0.003)
    assert judged.probability_within == min(one.probability_within for one in judged.each)


def test_only_the_last_ones_count():
    judged = as_left(11.0, 10.02, 9.99, 10.01)
    assert judged.outcome is WITHIN
    assert len(judged.each) == 3


def test_too_few_is_undecided_unless_one_is_outside():
    assert as_left(10.0, 10.0).outcome is UNDECIDED
    assert as_left(10.0, 10.6).outcome is OUTSIDE
    nothing = as_left()
    assert (nothing.outcome, nothing.probability_within, nothing.each) == (UNDECIDED, None, ())


def test_one_outside_makes_the_whole_outside():
    assert as_left(10.0, 10.6, 10.0).outcome is OUTSIDE


def test_spread_beyond_agreement_blocks():
    tight = Rules(code="iso-4126-1", agreement_spread=0.01)
    judged = as_left(10.1, 9.95, 10.08, rules=tight)
    assert (judged.outcome, judged.agrees, judged.trend) == (UNDECIDED, False, False)


def test_trend_blocks():
    judged = as_left(9.92, 10.0, 10.07)
    assert (judged.outcome, judged.agrees, judged.trend) == (UNDECIDED, True, True)


@pytest.mark.parametrize(
    ("values", "own_u", "trend"),
    [
        ([10.0, 10.2], 0.001, False),  # two make no trend
        ([9.92, 10.0, 10.07], 0.001, True),
        ([10.07, 10.0, 9.92], 0.001, True),
        ([9.92, 10.08, 10.07], 0.001, False),  # steps both ways
        ([9.98, 10.0, 10.02], 0.001, False),  # too small to matter
        ([9.92, 10.0, 10.07], 0.06, False),  # the pulls' own scatter explains it
        ([9.9, 9.95, 10.0, 10.05], 0.001, True),
        ([9.9, 9.95, 10.0, 10.05, 10.1], 0.001, True),
        ([9.9, 10.1, 9.95, 10.12, 10.0, 10.13], 0.001, False),  # scatter about the line explains it
        ([9.9, 9.94, 9.93, 9.99, 10.0, 10.05], 0.001, True),  # steps both ways, yet a clear rise
    ],
)
def test_find_trend(values, own_u, trend):
    assert find_trend(values, [own_u] * len(values), 0.3) is trend
