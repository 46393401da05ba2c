"""Every code of planning has its words, every phrase has a code, and no value is lost."""

import re
from pathlib import Path

import pytest
from tests.made_plans import ANSWERS, make_inputs

from firstlift.core.adjust.advise import _HOLDS
from firstlift.core.errors import FirstliftError
from firstlift.core.hazard.noise import HEARING_LIMITS
from firstlift.core.plan.applies import NOT_PROVEN
from firstlift.core.plan.found import Category, Suggestion
from firstlift.core.plan.next import ActionValue, Next
from firstlift.core.plan.plan import plan_pull
from firstlift.words import planning_en
from firstlift.words.fields import fields_of
from firstlift.words.planning import next_line, phrase, sentence, worth_in_pulls

CORE = Path(__file__).parents[3] / "src" / "firstlift" / "core"
SENTENCES = {**planning_en.HOLD, **planning_en.STEP}
BELLOWS = 'type = "balanced-bellows"\nbellows_diameter = "30 mm"'


def plans():
    """Plans that between them use every hold point and every card's step."""
    sound = {**ANSWERS, "bellows": "sound"}
    return [
        plan_pull(make_inputs(9.2, {"valve": 'superimposed_back_pressure = "0.5 bar"'})),
        plan_pull(make_inputs(8.0, {"valve": BELLOWS}, answers=sound, frame_limit_n=150.0)),
    ]


def codes_written(prefix):
    text = "".join(path.read_text(encoding="utf-8") for path in sorted(CORE.rglob("*.py")))
    return set(re.findall(rf'"({prefix}-[a-z0-9-]+)"', text))


def test_every_hold_point_and_step_has_a_sentence_and_no_other_is_worded():
    holds = codes_written("hold") | codes_written("adjust-hold")
    assert holds == set(planning_en.HOLD)
    assert codes_written("card") == set(planning_en.STEP)


def test_what_a_plan_says_can_be_said():
    for plan in plans():
        for point in plan.hold_points:
            assert sentence("hold", point.code, point.parameters).endswith(".")
            assert phrase("stage", point.when)
        for card in plan.cards:
            assert phrase("event", card.event)
            for step in card.steps:
                assert sentence("step", step.code, step.parameters).endswith(".")
        for lever in plan.levers:
            assert phrase("action", lever.action)
        assert phrase("go", plan.go)


def test_no_value_of_a_step_is_left_over():
    """A parameter without a field would be appended in brackets: then the sentence lacks it."""
    for plan in plans():
        steps = [(s.code, s.parameters) for card in plan.cards for s in card.steps]
        for code, parameters in [*steps, *((p.code, p.parameters) for p in plan.hold_points)]:
            assert set(parameters) <= set.union(*fields_of(SENTENCES[code])), code


@pytest.mark.parametrize("code", SENTENCES)
def test_every_sentence_stands_without_its_values(code):
    table = "hold" if code in planning_en.HOLD else "step"
    optional, bare = fields_of(SENTENCES[code])
    assert bare == set()
    text = sentence(table, code, {})
    assert text[0].isupper()
    assert text.endswith(".")
    assert not set("{}[]") & set(text)
    assert "  " not in text
    assert " ." not in text
    full = sentence(table, code, {name: f"<{name}>" for name in optional})
    assert all(f"<{name}>" in full for name in optional)


def test_closed_lists_have_all_their_words():
    assert set(planning_en.NOT_PROVEN) == set(NOT_PROVEN)
    assert set(planning_en.CATEGORY) == {str(one) for one in Category}
    assert set(planning_en.SUGGESTION) == {str(one) for one in Suggestion}
    assert {limit.code for limit in HEARING_LIMITS} | {"jet-gust", "jet-burn", "jet-harmful"} == set(planning_en.AWAY)
    assert all(phrase("hold", code) for code in _HOLDS)


def action(name, decided, pulls, changes=True, rise=None):
    return ActionValue(name, 2e3, 1e3, decided, changes, pulls, rise)


def test_the_one_line():
    measure = action("better-area", 0.914, 4.6)
    raised = action("more-line", 0.8, None, changes=False, rise=6.0e4)
    assert next_line(Next("undecided", "next-better-area", measure, (measure,))) == (
        "measure the seat: decided with 91.4 %, worth 5 pulls"
    )
    assert next_line(Next("undecided", "next-more-line", raised, (raised,))) == (
        "raise the line by 0.6 bar: decided with 80.0 %, more than any number of pulls brings, the as-found verdict "
        "stays with the first loading"
    )
    assert next_line(Next("within", "next-decided-stop", None, ())) == "decided, stop"


@pytest.mark.parametrize(
    ("pulls", "said"),
    [(None, "more than any"), (0.2, "less than a pull"), (1.0, "worth 1 pull"), (7.4, "worth 7 pulls")],
)
def test_worth_in_pulls(pulls, said):
    assert said in worth_in_pulls(pulls)


def test_unknown_words_are_refused():
    with pytest.raises(FirstliftError, match="WRD-003"):
        phrase("hold", "hold-nothing")
    with pytest.raises(FirstliftError, match="WRD-002"):
        phrase("hold", "hold-permit", language="xx")
