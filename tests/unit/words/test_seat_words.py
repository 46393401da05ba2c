"""Every reason of the seat rooms has its sentence, and every sentence its reason."""

import ast
from pathlib import Path

import pytest

from firstlift.core.errors import FirstliftError
from firstlift.core.seat.choose import Choice
from firstlift.core.seat.reason import Reason
from firstlift.core.seat.record import Source
from firstlift.words.seat import SENTENCES, SOURCES, say_choice, say_reason

ROOM = Path(__file__).parents[3] / "src" / "firstlift" / "core" / "seat"


def codes_made():
    trees = [ast.parse(path.read_text(encoding="utf-8")) for path in ROOM.glob("*.py")]
    made = [
        n for tree in trees for n in ast.walk(tree) if isinstance(n, ast.Call) and getattr(n.func, "id", "") == "Reason"
    ]
    values = [c.value for n in made for c in ast.walk(n.args[0]) if isinstance(c, ast.Constant)]
    return {value for value in values if isinstance(value, str)}


def test_every_reason_has_its_sentence_and_no_other():
    assert codes_made() == SENTENCES.keys()
    assert {str(source) for source in Source} == SOURCES.keys()


def test_parameters_are_said_with_their_units():
    said = say_reason(
        Reason("smallest-uncertainty", {"source": "measured", "date": "2026-06-01", "relative_u": 0.0123})
    )
    assert said == "measured on the valve of 2026-06-01: of the records that serve the least uncertain, known to 1.2 %"
    stuck = Reason("friction-stays-in-set-pressure", {"friction_n": 14.0, "set_pressure_raised_by_pa": 2e4})
    assert say_reason(stuck).endswith("raised there by 0.2 bar at 14 N")


def test_a_reason_without_a_sentence_is_said():
    with pytest.raises(FirstliftError, match="WRD-001"):
        say_reason(Reason("no-such-reason"))


def test_a_choice_is_said_with_its_doubts():
    taken = Reason("only-record", {"source": "measured", "date": "2026-06-01", "relative_u": 0.01})
    doubt = Reason("records-disagree", {"other": "x", "source": "maker", "relative_difference": 0.05})
    first, second = say_choice(Choice(None, taken, doubts=(doubt,)))
    assert first.startswith("seat in force: measured on the valve of 2026-06-01")
    assert second.startswith("seat doubtful: maker's figure says an area 5.0 % apart")
