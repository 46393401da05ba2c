"""A plan that comes back from a file: used as it is, or refused for what would hurt."""

from dataclasses import replace

import pytest
from tests.made_plans import BAR, make_inputs

from firstlift.core.plan.check import check_plan
from firstlift.core.plan.plan import plan_pull


@pytest.fixture(name="plan", scope="module")
def fixture_plan():
    """Give a plan in which everything is in order."""
    return plan_pull(make_inputs())


def codes(plan, **changes):
    return {finding.code for finding in check_plan(plan, make_inputs(**changes))}


def test_a_plan_is_usable_where_it_was_made(plan):
    assert codes(plan) == set()


@pytest.mark.parametrize(
    ("changes", "code"),
    [
        ({"tag": "PSV-9"}, "plan-check-other-valve"),
        ({"serial": "other"}, "plan-check-other-valve"),
        ({"set_pressure_pa": 12 * BAR}, "plan-check-other-valve"),
        ({"seat_area_m2": 1e-3}, "plan-check-other-valve"),
        ({"go": "ask"}, "plan-check-not-go"),
        ({"line_pressure_pa": 9.9 * BAR}, "plan-check-line"),
        ({"line_pressure_pa": -1.0}, "plan-check-line"),
    ],
)
def test_a_plan_that_was_changed_is_refused(plan, changes, code):
    assert code in codes(replace(plan, **changes))


@pytest.mark.parametrize(
    ("changes", "code"),
    [
        ({"abort_force_n": 1.1e3}, "plan-check-force"),
        ({"abort_force_n": 600.0}, "plan-check-stop"),
        ({"abort_force_n": float("nan")}, "plan-check-stop"),
        ({"abort_force_n": 0.0}, "plan-check-limit-missing"),
        ({"abort_lift_m": 0.0}, "plan-check-limit-missing"),
        ({"abort_time_s": -1.0}, "plan-check-limit-missing"),
        ({"rate_n_per_s": float("nan")}, "plan-check-limit-missing"),
        ({"abort_line_high_pa": 10 * BAR}, "plan-check-line"),
        ({"abort_line_low_pa": 9 * BAR}, "plan-check-line"),
    ],
)
def test_an_abort_limit_that_was_changed_is_refused(plan, changes, code):
    assert code in codes(replace(plan, approach=replace(plan.approach, **changes)))


def test_a_plan_for_a_stronger_rig_is_refused_on_a_weaker_one(plan):
    assert codes(plan, frame_limit_n=150.0) == {"plan-check-force"}
