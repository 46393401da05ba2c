"""What must hold for every value, spread and pair of limits."""

import dataclasses
import math

from hypothesis import assume, given, settings
from hypothesis import strategies as st

from firstlift.core.job import Decision
from firstlift.core.result import VerdictOutcome
from firstlift.core.tolerance.judge import judge, probability_within
from firstlift.core.tolerance.limits import Limits
from firstlift.core.uncertainty.budget import Input, make_budget
from firstlift.core.uncertainty.coverage import Spread
from firstlift.core.valve import Definition

fixed = settings(derandomize=True, deadline=None, max_examples=60)
widths = st.floats(1e-3, 10.0)
spreads = st.builds(
    Spread,
    scale=st.one_of(st.just(0.0), widths),
    degrees_of_freedom=st.one_of(st.just(math.inf), st.floats(1.0, 200.0)),
    half_widths=st.lists(widths, max_size=5).map(tuple),
)
distances = st.floats(-20.0, 20.0)
RANK = {VerdictOutcome.OUTSIDE: 0, VerdictOutcome.UNDECIDED: 1, VerdictOutcome.WITHIN: 2}


def between(lower, upper):
    return Limits(0, 0, "Pa", lower, upper, 1.0, "", "", "", "", "", "", Definition.FIRST_LIFT, "", 0.0)  # type: ignore[arg-type]


@fixed
@given(spreads, distances, st.floats(0.0, 5.0), st.floats(0.0, 5.0), st.sampled_from(Decision), widths)
def test_wider_limits_never_worsen_a_verdict(spread, value, down, up, decision, one_sided):
    narrow, wide = between(-3.0, 3.0), between(-3.0 - down, 3.0 + up)
    before = judge(value, spread, narrow, decision, 0.95, one_sided)
    after = judge(value, spread, wide, decision, 0.95, one_sided)
    assert after.probability_within >= before.probability_within - 1e-9
    # At the very edge of the rule the ninth digit may fall either way.
    assume(min(abs(before.probability_within - p) for p in (0.05, 0.95)) > 1e-9)
    assert RANK[after.outcome] >= RANK[before.outcome]


@fixed
@given(spreads, distances, st.floats(1e-3, 1e7))
def test_the_unit_does_not_matter(spread, value, factor):
    scaled = Spread(
        spread.scale * factor, spread.degrees_of_freedom, tuple(half * factor for half in spread.half_widths)
    )
    assume(spread.standard_uncertainty > 0.0)
    plain = probability_within(value, spread, between(-3.0, 3.0), 0.5)
    other = probability_within(value * factor, scaled, between(-3.0 * factor, 3.0 * factor), 0.5 * factor)
    assert math.isclose(plain, other, abs_tol=1e-8)
    assert math.isclose(scaled.expanded(0.95), factor * spread.expanded(0.95), rel_tol=1e-8)


@fixed
@given(spreads, st.floats(0.0, 10.0), st.floats(0.0, 10.0))
def test_further_from_the_middle_is_never_more_probable(spread, near, further):
    limits = between(-3.0, 3.0)
    assert probability_within(near + further, spread, limits) <= probability_within(near, spread, limits) + 1e-9


@fixed
@given(spreads, distances, st.floats(0.0, 5.0))
def test_distribution_rises(spread, distance, step):
    low, high = spread.probability_below(distance), spread.probability_below(distance + step)
    assert 0.0 <= low <= high + 1e-9 <= 1.0 + 1e-9


@fixed
@given(spreads, st.floats(0.05, 0.99))
def test_expanded_interval_holds_its_probability(spread, probability):
    assume(spread.standard_uncertainty > 0.0)
    half = spread.expanded(probability)
    held = spread.probability_below(half) - spread.probability_below(-half)
    assert math.isclose(held, probability, abs_tol=1e-8)


lines = st.builds(
    Input,
    quantity=st.just("x"),
    value=st.just(1.0),
    unit=st.just("1"),
    standard_uncertainty=widths,
    distribution=st.sampled_from(("normal", "rectangular", "triangular")),
    degrees_of_freedom=st.one_of(st.just(math.inf), st.floats(1.0, 100.0)),
    sensitivity=st.floats(-5.0, 5.0),
)


@fixed
@given(st.lists(lines, min_size=1, max_size=6))
def test_shares_make_a_whole_and_order_does_not_matter(inputs):
    budget = make_budget(inputs)
    turned = make_budget(inputs[::-1])
    assume(budget.standard_uncertainty_pa > 0.0)
    assert math.isclose(sum(line.share for line in budget.lines), 1.0, rel_tol=1e-9)
    assert math.isclose(budget.expanded_uncertainty_pa, turned.expanded_uncertainty_pa, rel_tol=1e-8)


@fixed
@given(st.lists(lines, min_size=1, max_size=5), widths)
def test_one_more_line_never_narrows_the_standard_uncertainty(inputs, u):
    more = [*inputs, dataclasses.replace(inputs[0], standard_uncertainty=u)]
    assert make_budget(more).standard_uncertainty_pa >= make_budget(inputs).standard_uncertainty_pa * (1.0 - 1e-12)
