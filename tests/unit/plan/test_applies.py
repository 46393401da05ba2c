"""Applicability, hold points and cards: what stops the method, what is confirmed, what to do when it goes wrong."""

import datetime as dt
from dataclasses import replace

import pytest
from tests.made_plans import ANSWERS, BAR, make_inputs, make_job

from firstlift.core.errors import FirstliftError
from firstlift.core.plan.applies import QUESTIONS, Counts
from firstlift.core.plan.cards import EVENTS
from firstlift.core.plan.holds import Confirmation, still_open
from firstlift.core.plan.plan import plan_pull
from firstlift.core.units import Kind, parse_quantity
from firstlift.usecases.analyse import limits_of

NOW = dt.datetime(2026, 5, 12, 9, 30, tzinfo=dt.UTC)
STOPS = [
    (q.code, answer, why) for q in QUESTIONS for answer, (counts, why) in q.answers.items() if counts is Counts.STOP
]
BELLOWS = {"valve": 'type = "balanced-bellows"\nbellows_diameter = "30 mm"'}


@pytest.fixture(name="plan", scope="module")
def fixture_plan():
    """Give a plan in which everything is in order."""
    return plan_pull(make_inputs())


@pytest.mark.parametrize(("question", "answer", "why"), STOPS)
def test_each_stopping_answer_stops_with_its_reason(inputs, question, answer, why):
    plan = plan_pull(inputs(answers={**ANSWERS, question: answer}))
    assert plan.go == "no-go"
    assert plan.applicability.outcome == "does-not-apply"
    assert why in {finding.code for finding in plan.applicability.findings}


def test_the_method_stops_for_all_that_the_trade_names():
    named = {code for code, _, _ in STOPS}
    assert {"valve-kind", "spindle-holds-disc", "thread", "rupture-disc", "bellows", "drain-and-vent", "gag", "guide",
            "release", "accepted"} == named  # fmt: skip


def test_a_soft_seat_is_a_caution(inputs):
    plan = plan_pull(inputs(answers={**ANSWERS, "seat": "soft"}))
    assert plan.go == "go"
    assert "caution-soft-seat" in {finding.code for finding in plan.applicability.findings}


def test_the_bellows_are_asked_only_where_there_are_any(inputs):
    conventional = plan_pull(inputs(answers={}))
    bellows = plan_pull(inputs(sheet=BELLOWS, answers={}))
    asked = [{f.code for f in plan.applicability.findings} for plan in (conventional, bellows)]
    assert "ask-bellows" not in asked[0]
    assert "ask-bellows" in asked[1]


def test_a_very_low_set_pressure_is_a_caution(inputs):
    job = make_job()
    low = replace(job, valve=replace(job.valve, set_pressure=parse_quantity("0.8 bar", Kind.PRESSURE)))
    plan = plan_pull(inputs(0.6, job=low, limits=limits_of(low)))
    assert "plan-very-low-set" in {finding.code for finding in plan.applicability.findings}


def test_what_the_test_does_not_prove_is_always_said(plan):
    assert {"not-proven-capacity", "not-proven-blowdown", "not-proven-tightness"} <= set(plan.applicability.not_proven)


def test_hold_points_come_in_the_order_of_the_work(plan):
    order = ["before-valve", "before", "between", "after"]
    stages = [order.index(point.when) for point in plan.hold_points]
    assert stages == sorted(stages)
    found = {point.code for point in plan.hold_points}
    assert {"hold-cells-checked", "hold-not-touched", "hold-free-travel", "hold-other-relief", "hold-lower-pressure",
            "hold-weight-known", "hold-outlet-clear", "hold-zone",
            "hold-screw-height", "hold-rings"} <= found  # fmt: skip
    assert "hold-bonnet-sealed" not in found


def test_a_closed_bonnet_at_a_live_header_is_sealed_first(inputs):
    plan = plan_pull(inputs(sheet={"valve": 'superimposed_back_pressure = "0.5 bar"'}))
    (point,) = [point for point in plan.hold_points if point.code == "hold-bonnet-sealed"]
    assert point.parameters == {"back_pressure_pa": 0.5 * BAR}


def test_only_what_is_confirmed_is_done(plan):
    first = [point for point in plan.hold_points if point.when == "before-valve"]
    done = [Confirmation(point.code, "A. Technician", NOW) for point in first[:-1]]
    assert still_open(plan.hold_points, done, "before-valve") == (first[-1],)
    assert still_open(plan.hold_points, [*done, Confirmation(first[-1].code, "B", NOW)], "before-valve") == ()


@pytest.mark.parametrize("wrong", [Confirmation("hold-permit", " ", NOW), Confirmation("hold-nothing", "A", NOW)])
def test_a_confirmation_without_name_or_point_is_refused(plan, wrong):
    with pytest.raises(FirstliftError, match="PLN-005"):
        still_open(plan.hold_points, [wrong], "before-valve")


def test_the_cards_carry_this_valves_numbers(plan):
    by_event = {card.event: {step.code: step.parameters for step in card.steps} for card in plan.cards}
    assert by_event["stuck"]["card-stop-pull"]["abort_force_n"] == plan.approach.abort_force_n
    assert by_event["stayed-open"]["card-held-open"]["closes_low_pa"] == pytest.approx(8.5 * BAR)
    assert by_event["stuck"]["card-no-harder"]["never_pa"] == pytest.approx(15 * BAR)
    for steps in by_event.values():
        assert "card-owner-told" in steps


def test_a_line_above_the_closing_pressure_is_lowered_below_it(inputs):
    (card,) = [card for card in plan_pull(inputs(9.0)).cards if card.event == "stayed-open"]
    (step,) = [step for step in card.steps if step.code == "card-lower-pressure"]
    assert step.parameters == {"line_pressure_pa": 9.0 * BAR, "closes_low_pa": pytest.approx(8.5 * BAR)}


def test_no_card_lets_anyone_hammer_gag_or_close_a_block_valve(plan):
    for event in ("stuck", "stayed-open", "leaking"):
        (card,) = [card for card in plan.cards if card.event == event]
        assert {"card-no-hammer", "card-no-gag"} <= {step.code for step in card.steps}
    (opened,) = [card for card in plan.cards if card.event == "stayed-open"]
    assert [step.code for step in opened.steps][:2] == ["card-people-clear", "card-gear-slack"]


def test_the_card_of_the_bellows_is_for_bellows(inputs, plan):
    assert [card.event for card in plan.cards] == ["stuck", "stayed-open", "leaking"]
    bellows = plan_pull(inputs(sheet=BELLOWS, answers={**ANSWERS, "bellows": "sound"}))
    assert tuple(card.event for card in bellows.cards) == EVENTS
