"""The plan as a whole: forces, margins, aborts, what may stay open, what stops it, and its form as data."""

import json
import math
from dataclasses import replace
from pathlib import Path

import jsonschema
import pytest
from tests.made_plans import ANSWERS, BAR, make_inputs

from firstlift.core.errors import FirstliftError
from firstlift.core.plan.closing import stays_open
from firstlift.core.plan.force import envelope, find_forces
from firstlift.core.plan.inputs import PlanInputs
from firstlift.core.plan.plan import FORMAT, plan_from_json, plan_pull, plan_schema, with_answers
from firstlift.core.result import to_json
from firstlift.core.valve import Medium

AREA = math.pi / 4.0 * 0.030**2


def codes(plan):
    return {finding.code for finding in (*plan.findings, *plan.applicability.findings)}


@pytest.fixture(name="plan", scope="module")
def fixture_plan():
    """Give a plan in which everything is in order."""
    return plan_pull(make_inputs())


def test_a_plan_in_order_goes(plan):
    assert plan.go == "go"
    assert plan.forces.expected_n == pytest.approx(2 * BAR * AREA)
    assert plan.forces.wanted_stop_n == plan.approach.abort_force_n == pytest.approx(3 * BAR * AREA)
    assert plan.forces.low_n < 1.7 * BAR * AREA < 2.3 * BAR * AREA < plan.forces.high_n < plan.approach.abort_force_n
    assert plan.lowest_line_pa < 8 * BAR
    assert "plan-owner-decides" in codes(plan)


def test_the_range_holds_the_limits_and_the_uncertainty(plan):
    half = plan.forces.high_n - 2.3 * BAR * AREA
    # U of the whole budget at the upper limit, as a force
    assert half == pytest.approx(AREA * plan.expanded_uncertainty_pa, rel=0.1)


def test_every_part_has_its_margin(plan):
    margins = {margin.part: margin for margin in plan.forces.margins}
    assert margins["frame"].share == pytest.approx(3 * BAR * AREA / 5e3)
    assert margins["cells"].limit_n == 2e3
    assert margins["spindle"].limit_n == 1.2e3
    assert all(margin.holds for margin in margins.values())


def test_a_weak_frame_stops_the_pull_and_the_plan(inputs):
    weak = plan_pull(inputs(frame_limit_n=100.0))
    assert weak.go == "no-go"
    assert "plan-beyond-rig" in codes(weak)
    assert weak.approach.abort_force_n == pytest.approx(90.0)


def test_a_frame_that_reaches_only_part_of_the_limits_is_said(inputs):
    part = plan_pull(inputs(frame_limit_n=170.0))
    assert part.go == "go"
    assert "plan-range-cut" in codes(part)
    assert {"plan-cannot-prove-high"} <= codes(part)
    # 10 % is left of the frame's limit: 153 N, less than the valve at its upper limit needs
    assert part.forces.abort_set_pa == pytest.approx(8 * BAR + 153.0 / AREA)


def test_unknown_limits_are_said(inputs):
    assert "plan-limit-unknown" in codes(plan_pull(inputs(frame_limit_n=None)))


def test_the_weight_on_the_spindle_is_carried(inputs):
    job = replace(inputs().job, weight_on_spindle_n=50.0)
    assert find_forces(inputs(job=job)).expected_n == pytest.approx(find_forces(inputs()).expected_n + 50.0)


def test_the_aborts_lie_beyond_the_expected_and_short_of_a_full_opening(plan):
    approach = plan.approach
    assert approach.abort_lift_m < 0.0075 / 5.0
    assert approach.abort_line_low_pa < 8 * BAR < approach.abort_line_high_pa <= 9.5 * BAR
    assert approach.abort_time_s > approach.expected_time_s
    assert approach.rate_n_per_s * approach.expected_time_s == pytest.approx(plan.forces.expected_n)


@pytest.mark.parametrize("line", [0.0, 0.5, 8.0, 9.4])
def test_a_steady_line_is_within_its_own_limits(inputs, line):
    approach = plan_pull(inputs(line)).approach
    room = 0.0 if line > 9.3 else 0.2 * BAR
    assert approach.abort_line_low_pa <= line * BAR - 0.2 * BAR
    assert line * BAR + room <= approach.abort_line_high_pa + 1e-6 <= 9.5 * BAR + 1.0


@pytest.mark.parametrize(
    ("line", "chance", "likelihood"),
    [
        (8.0, 0.0, "unlikely"),
        (8.5, 0.0, "unlikely"),
        (9.15, 0.5, "likely"),
        (8.8, 3.0 / 13.0, "possible"),
        (9.9, 1.0, "likely"),
    ],
)
def test_staying_open_by_the_blowdown_of_the_code(line, chance, likelihood):
    found = stays_open("iso-4126-1", Medium.GAS, 10 * BAR, line * BAR)
    assert found.chance == pytest.approx(chance, abs=1e-9)
    assert found.likelihood == likelihood


def test_a_liquid_may_stay_open_at_a_lower_line():
    gas, liquid = (stays_open("iso-4126-1", medium, 10 * BAR, 8.3 * BAR) for medium in (Medium.GAS, Medium.LIQUID))
    assert gas.chance == 0.0 < liquid.chance


def test_a_line_that_holds_the_valve_open_is_warned_about(inputs):
    assert "plan-stays-open-likely" in codes(plan_pull(inputs(9.3)))


def test_a_line_near_set_stops_the_plan(inputs):
    near = plan_pull(inputs(9.6))
    assert near.go == "no-go"
    assert "plan-line-near-set" in codes(near)


def test_a_low_line_is_warned_about(inputs):
    assert "plan-line-low" in codes(plan_pull(inputs(3.0)))


def test_a_line_that_shows_the_spring_only_is_said(inputs):
    found = codes(plan_pull(inputs(2.0)))
    assert "plan-spring-setting-only" in found
    assert "plan-line-low" not in found


def test_a_line_too_low_to_decide_is_said_with_the_lowest_one(inputs):
    plan = plan_pull(inputs(4.0, {"seat": 'inner_diameter = "29 mm"\nouter_diameter = "31 mm"'}))
    assert "plan-line-too-low-to-decide" in codes(plan)
    assert plan.lowest_line_pa > 4.0 * BAR


def test_a_moment_that_cannot_be_found_well_enough_cannot_decide(inputs):
    plan = plan_pull(inputs(u_moment_pa=0.3 * BAR))
    assert plan.lowest_line_pa is None
    assert "plan-cannot-decide" in codes(plan)


@pytest.mark.parametrize(
    ("changes", "code"),
    [
        ({"line_pressure_pa": 10 * BAR}, "PLN-001"),
        ({"line_pressure_pa": 12 * BAR}, "PLN-001"),
        ({"line_pressure_pa": -1.0}, "PLN-001"),
        ({"line_pressure_pa": math.nan}, "PLN-001"),
        ({"frame_limit_n": 0.0}, "PLN-002"),
        ({"spindle_limit_n": -5.0}, "PLN-002"),
        ({"rated_lift_m": 3.0}, "PLN-002"),
        ({"prior_share": 0.0}, "PLN-002"),
        ({"stop_share": 1.5}, "PLN-003"),
        ({"stop_share": 0.9}, "PLN-003"),
        ({"answers": {"bellow": "sound"}}, "PLN-004"),
        ({"answers": {"bellows": "fine"}}, "PLN-004"),
    ],
)
def test_what_makes_no_sense_is_refused(inputs, changes, code):
    with pytest.raises(FirstliftError, match=code):
        plan_pull(inputs(**changes))


def test_everything_wrong_is_said_at_once(inputs):
    with pytest.raises(FirstliftError) as refused:
        plan_pull(inputs(line_pressure_pa=11 * BAR, frame_limit_n=-1.0, stop_share=2.0))
    assert len(refused.value.problems) == 3


def test_a_known_slip_is_answered(inputs):
    with pytest.raises(FirstliftError, match="Did you mean 'bellows'"):
        plan_pull(inputs(answers={"bellow": "sound"}))


def test_the_envelope_falls_with_the_line(inputs):
    rows = envelope(inputs(), 12)
    for name in ("low_n", "expected_n", "high_n", "stop_n"):
        pulls = [getattr(row, name) for row in rows]
        assert pulls == sorted(pulls, reverse=True)
    assert rows[0].expected_n == pytest.approx(10 * BAR * AREA)


def test_a_plan_comes_back_from_its_json(plan):
    data = json.loads(json.dumps(to_json(plan), allow_nan=False))
    again = plan_from_json(data)
    assert to_json(again) == to_json(plan)
    assert again.hold_points == plan.hold_points
    jsonschema.validate(data, plan_schema())


def test_a_plan_of_another_form_is_refused(plan):
    data = to_json(plan)
    with pytest.raises(FirstliftError, match="PLN-007"):
        plan_from_json({**data, "format": "firstlift-plan-9"})
    with pytest.raises(FirstliftError, match="RES-003"):
        plan_from_json({key: value for key, value in data.items() if key != "forces"})
    assert data["format"] == FORMAT


def test_open_questions_ask_before_the_plan_goes(inputs):
    plan = plan_pull(inputs(answers={}))
    assert plan.go == "ask"
    assert "ask-thread" in codes(plan)
    assert isinstance(with_answers(inputs(answers={}), ANSWERS), PlanInputs)
    assert plan_pull(with_answers(inputs(answers={}), ANSWERS)).go == "go"


def test_the_published_schema_is_the_codes_own():
    page = Path(__file__).parents[3] / "docs" / "schema" / "firstlift-plan-1.schema.json"
    assert plan_schema() == json.loads(page.read_text(encoding="utf-8"))
