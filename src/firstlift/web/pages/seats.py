"""A valve's seat records: which is in force and why, what was said of them, and the words that are added there."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from dataclasses import dataclass
from functools import partial
from typing import Annotated, Any
from uuid import UUID

from fastapi import APIRouter, Form, Query
from fastapi.responses import RedirectResponse, Response

from firstlift.core.errors import FirstliftError, Problem
from firstlift.core.job import Measures
from firstlift.core.register.equipment import Installation, RegisteredValve
from firstlift.core.register.places import Position
from firstlift.core.seat.choose import Choice
from firstlift.core.seat.record import SeatRecord, seat_of
from firstlift.core.seat.word import WORKED_ON, Said, SeatWord, standing, wrong_of
from firstlift.core.uncertainty.coverage import Spread
from firstlift.store.read import Reader
from firstlift.usecases.register.seat_again import all_off_seat
from firstlift.usecases.register.seat_entry import Consequence, preview_overhaul
from firstlift.usecases.register.seat_said import overhaul, say_overhaul, say_wrong, take_back, worked_on
from firstlift.usecases.register.seats import held_by_serial, seats_on
from firstlift.web.here import HereNow
from firstlift.web.lists import identifier, instrument_states, names, today
from firstlift.web.page import show
from firstlift.web.planned import usual_instruments
from firstlift.web.roles import May
from firstlift.web.say import whole
from firstlift.web.seat_words import RULE, say_reason
from firstlift.web.units import Units
from firstlift.words.numbers import format_pressure

router = APIRouter()
Text = Annotated[str, Form()]
READS = (Measures.PULL_FORCE, Measures.LINE_PRESSURE)


@dataclass(frozen=True, slots=True)
class Row:
    """A seat record as the list shows it. ``why_not`` is empty for the one in force; ``wrong`` the word on it."""

    record: SeatRecord
    area: str
    by: str
    in_force: bool
    why_not: str
    wrong: SeatWord | None
    wrong_by: str


@dataclass(frozen=True, slots=True)
class Worked:
    """A word that the seat was made anew, and who said it."""

    word: SeatWord
    by: str


@router.get("/valves/{valve_id}/seats")
def seats_page(
    here: HereNow, valve_id: str, serial: Annotated[list[str] | None, Query(max_length=20)] = None
) -> Response:
    """List a valve's seat records, newest first, with what was said of them."""
    on = today()
    with here.store.read() as reader:
        valve, position = valve_and_position(reader, valve_id)
        ties = [one for record in reader.list(SeatRecord, valve_id=valve.id) for one in record.serials]
        # an area may have been found with what the register does not know
        offered = list(dict.fromkeys((*rig_offered(reader, on), *ties)))
        rig = [one for one in serial if one in offered] if serial is not None else usual_rig(reader, valve.id, on)
        held = [held_by_serial(reader, one, on) for one in rig] or None
        records, choice = seats_on(reader, valve.id, on, held)
        said = reader.list(SeatWord, valve_id=valve.id, order=("-at", "-id"))
        rows = _rows(reader, here.units, records, choice, said)
        again = all_off_seat(reader, valve.id)
        worked = [Worked(word, _by(reader, word.person_id)) for word in standing(said) if word.said in WORKED_ON]
    shown: dict[str, Any] = {"valve": valve, "position": position, "choice": choice, "rows": rows, "today": on}
    shown |= {"in_force": next((row for row in rows if row.in_force), None), "rule": RULE, "say_reason": say_reason}
    shown |= {"offered": offered, "rig": rig, "tied": any(record.tied_to for record in records)}
    shown |= {"again": again, "area": partial(show_area, units=here.units)}
    shown["unit"] = here.unit or valve.set_pressure.unit
    life = sorted([*rows, *worked], key=_when, reverse=True)
    return show(here, "seats.html", life=life, may=here.may(May.TEST), **shown)


def _when(one: Row | Worked) -> tuple[dt.date, int]:
    # a record of the very day is of the new seat: it comes after the work
    return (one.record.date, 1) if isinstance(one, Row) else (one.word.date or one.word.at.date(), 0)


def _rows(
    reader: Reader, units: Units, records: Sequence[SeatRecord], choice: Choice, said: Sequence[SeatWord]
) -> list[Row]:
    why = {left.record_id: left.reason for left in choice.left_out}
    wrong = wrong_of(said)
    rows: list[Row] = []
    for record in records:
        word = wrong.get(record.id)
        rows.append(
            Row(
                record,
                show_area(record, units),
                _by(reader, record.person_id),
                record == choice.record,
                say_reason(why[record.id]) if record.id in why else "",
                word,
                _by(reader, word.person_id) if word else "",
            )
        )
    return rows


def _by(reader: Reader, person_id: UUID | None) -> str:
    return names(reader, [person_id])[0] if person_id is not None else ""


def valve_and_position(reader: Reader, valve_id: str) -> tuple[RegisteredValve, Position | None]:
    """Give a valve by the identifier in an address, and where it hangs.

    Parameters
    ----------
    reader : Reader
    valve_id : str

    Returns
    -------
    valve : RegisteredValve
    position : Position or None
    """
    valve = reader.get(RegisteredValve, identifier(valve_id))
    hung = reader.list(Installation, valve_id=valve.id, until=None)
    return valve, reader.get(Position, hung[0].position_id) if hung else None


def rig_offered(reader: Reader, on: dt.date) -> list[str]:
    """Give the serials of the cells and gauges in use.

    Parameters
    ----------
    reader : Reader
    on : date

    Returns
    -------
    list of str
    """
    states = instrument_states(reader, on)
    return [state.instrument.serial for state in states if state.instrument.measures in READS]


def usual_rig(reader: Reader, valve_id: UUID, on: dt.date) -> list[str]:
    """Give the cells and the gauge that a test of a valve would use: those of its last one, else what is in date.

    Parameters
    ----------
    reader : Reader
    valve_id : UUID
    on : date

    Returns
    -------
    list of str
    """
    states = instrument_states(reader, on)
    reads = {state.instrument.serial for state in states if state.instrument.measures in READS}
    return [serial for serial in usual_instruments(reader, valve_id, states) if serial in reads]


def show_area(record: SeatRecord, units: Units) -> str:
    """Show a record's area with its expanded uncertainty at 95 %, in the unit that goes with a person's length.

    Parameters
    ----------
    record : SeatRecord
    units : Units

    Returns
    -------
    str
    """
    seat = seat_of(record)
    halves = (seat.half_width_m2,) if seat.half_width_m2 > 0.0 else ()
    expanded = Spread(seat.u_area_m2, seat.degrees_of_freedom, halves).expanded(0.95)
    return whole(format_pressure(seat.area_m2, area_unit(units), expanded))


def area_unit(units: Units) -> str:
    """Give the unit of areas that goes with a person's unit of lengths.

    Parameters
    ----------
    units : Units

    Returns
    -------
    str
    """
    return "in2" if units.length in ("in", "mil") else "mm2"


@router.get("/valves/{valve_id}/seats/work")
def work_page(here: HereNow, valve_id: str, work: str = "", date: str = "", why: str = "", look: str = "") -> Response:
    """Ask what was done to the seat, and say what that would set aside."""
    here.must(May.TEST)
    would: Consequence | None = None
    problems: tuple[Problem, ...] = ()
    with here.store.read() as reader:
        valve, position = valve_and_position(reader, valve_id)
        try:
            if look:
                word = _word(valve.id, work, date, why)
                would = preview_overhaul(reader, word, usual_rig(reader, valve.id, today()))
        except FirstliftError as error:
            problems = error.problems
    typed = {"work": work, "date": date, "why": why}
    shown: dict[str, Any] = {"valve": valve, "position": position, "would": would, "problems": problems}
    lost = _lost(would) if would else []
    shown |= {"typed": typed, "works": WORKED_ON, "today": today(), "lost": lost, "say_reason": say_reason}
    status = 422 if problems else 200
    return show(here, "seat_work.html", status=status, area=lambda record: show_area(record, here.units), **shown)


def _word(valve_id: UUID, work: str, date: str, why: str) -> SeatWord:
    try:
        day = dt.date.fromisoformat(date.strip()) if date.strip() else today()
    except ValueError:
        raise FirstliftError(Problem("SEA-015", f"'{date[:40]}' is not a date", "Date", "YYYY-MM-DD")) from None
    return overhaul(valve_id, worked_on(work.strip()) or Said.RELAPPED, day, why[:500])


def _lost(would: Consequence) -> list[UUID]:
    """Name the records that serve now and would not then."""
    before = {left.record_id for left in would.before.left_out if left.reason.code == "seat-overhauled-since"}
    after = {left.record_id for left in would.after.left_out if left.reason.code == "seat-overhauled-since"}
    return sorted(after - before)


@router.post("/valves/{valve_id}/seats/work")
def keep_work(here: HereNow, valve_id: str, work: Text = "", date: Text = "", why: Text = "") -> Response:
    """Keep that the seat was made anew."""
    here.must(May.TEST)
    say_overhaul(here.store, _word(identifier(valve_id), work, date, why), by=here.person.id)
    return RedirectResponse(f"/valves/{identifier(valve_id)}/seats", 303)


@router.post("/valves/{valve_id}/seats/{record_id}/wrong")
def keep_wrong(here: HereNow, valve_id: str, record_id: str, why: Text = "") -> Response:
    """Keep that a record was wrong, with nothing in its place."""
    here.must(May.TEST)
    say_wrong(here.store, identifier(valve_id), identifier(record_id), why[:500], by=here.person.id)
    return _back(valve_id)


@router.post("/valves/{valve_id}/seats/said/{word_id}/back")
def keep_back(here: HereNow, valve_id: str, word_id: str, why: Text = "") -> Response:
    """Take a word on the valve's seat records back."""
    here.must(May.TEST)
    take_back(here.store, identifier(valve_id), identifier(word_id), why[:500], by=here.person.id)
    return _back(valve_id)


def _back(valve_id: str) -> Response:
    return RedirectResponse(f"/valves/{identifier(valve_id)}/seats#records", 303)
