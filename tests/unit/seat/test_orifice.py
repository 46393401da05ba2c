"""An orifice letter's effective area is no seat area."""

import datetime as dt
import math
import uuid

import pytest

from firstlift.core.errors import FirstliftError
from firstlift.core.seat.orifice import LETTERS_IN2, letter_of, names_orifice, refuse_orifice
from firstlift.core.seat.record import SeatRecord, Source

IN2 = 645.16e-6


def record(area_m2, source=Source.MAKER, **more):
    return SeatRecord(
        uuid.UUID(int=1), uuid.UUID(int=2), source, dt.date(2026, 6, 1), area_m2=area_m2, u_area_m2=1e-6, **more
    )


def refused(one):
    with pytest.raises(FirstliftError) as caught:
        refuse_orifice(one)
    (problem,) = caught.value.problems
    return problem


@pytest.mark.parametrize("letter", LETTERS_IN2)
@pytest.mark.parametrize("rounding", [None, 4])
def test_a_letters_area_is_known_however_it_was_rounded(letter, rounding):
    mm2 = LETTERS_IN2[letter] * 645.16
    if rounding is not None:
        mm2 = float(f"{mm2:.{rounding}g}")
    assert letter_of(mm2 * 1e-6) == letter


@pytest.mark.parametrize(("mm2", "letter"), [(71.0, "D"), (198.0, "F"), (830.0, "J"), (1840.0, "L"), (2800.0, "N")])
def test_figures_as_people_write_them(mm2, letter):
    assert letter_of(mm2 * 1e-6) == letter


def test_the_refusal_says_what_why_and_what_else():
    problem = refused(record(1.287 * IN2))
    assert problem.code == "SEA-010"
    assert "letter J, 1.287 in2" in problem.what
    assert "high" in problem.what
    assert "Measure the seat" in problem.next


@pytest.mark.parametrize("ratio", [0.997, 1.003, 1.02, 1.08])
def test_an_area_near_a_letters_serves(ratio):
    refuse_orifice(record(ratio * 1.287 * IN2))


@pytest.mark.parametrize(
    "text",
    ["API 526 orifice J", "effective area from data sheet", "Effective discharge area", "orifice designation", "J",
     "letter 'K'", "API Std 526", "API STANDARD 526 table"],
)  # fmt: skip
def test_a_source_that_says_so_is_believed(text):
    assert names_orifice(text)
    assert refused(record(9e-4, reference=text)).code == "SEA-010"
    assert refused(record(9e-4, source=Source.MEASURED, reference=text)).code == "SEA-010"


@pytest.mark.parametrize("text", ["", "maker's drawing 4711 rev B", "letter of 3 March", "seat 30 mm, contact", "I"])
def test_another_source_serves(text):
    assert not names_orifice(text)
    refuse_orifice(record(9e-4, reference=text))


def test_a_note_counts_for_an_entered_figure_only():
    assert refused(record(9e-4, note="from the orifice table")).code == "SEA-010"
    refuse_orifice(record(9e-4, source=Source.MEASURED, note="no orifice plate near"))


def test_a_fitted_area_may_lie_near_a_letters_by_chance():
    refuse_orifice(record(1.287 * IN2, source=Source.TWO_PRESSURES))


def test_measured_edges_are_not_held_against_the_table():
    edge = math.sqrt(4 / math.pi * 1.287 * IN2)
    refuse_orifice(
        SeatRecord(
            uuid.UUID(int=1), uuid.UUID(int=2), Source.MAKER, dt.date(2026, 6, 1), inner_diameter_m=edge,
            outer_diameter_m=1.04 * edge, u_inner_m=1e-4, u_outer_m=1e-4,
        )
    )  # fmt: skip
