"""Seat records in the register: add one, list a valve's, and give a test the seat that is in force."""

from __future__ import annotations

import dataclasses
import datetime as dt
from collections.abc import Sequence
from dataclasses import dataclass
from uuid import UUID

from firstlift.core.errors import FirstliftError, Problem
from firstlift.core.job import Job, Measures
from firstlift.core.register.equipment import Installation, RegisteredValve
from firstlift.core.register.places import Position
from firstlift.core.seat.choose import Choice, Held, choose_record
from firstlift.core.seat.record import SeatRecord, seat_of
from firstlift.core.seat.word import Said, SeatWord, overhauls_of, wrong_of
from firstlift.core.uncertainty.instruments import tag
from firstlift.core.valve import Seat
from firstlift.store.open import Store
from firstlift.store.read import Reader
from firstlift.usecases.register.seat_draft import SeatStatement, certificate_of, draft_record
from firstlift.usecases.register.seat_said import overhaul, zone_of
from firstlift.words.seat import SOURCES

# why, where nobody said it in words of their own
_NEW_SEAT = "entered with the record of the new seat"


@dataclass(frozen=True, slots=True)
class SeatsOfValve:
    """A valve's seat records, newest first, and which of them is in force and why."""

    valve: RegisteredValve
    records: tuple[SeatRecord, ...]
    choice: Choice


def add_seat(store: Store, name: str, statement: SeatStatement, *, at: dt.datetime, who: str) -> SeatRecord:
    """Add a seat record to a valve.

    Parameters
    ----------
    store : Store
    name : str
        The tag where the valve hangs, or its serial.
    statement : SeatStatement
    at : datetime
        Now, with its offset.
    who : str
        A person's identifier, or "program:<name>".

    Returns
    -------
    SeatRecord

    Raises
    ------
    UsageError, FirstliftError
        As `firstlift.usecases.seat.find_seat`; SEA-001 to SEA-004 and SEA-010 the record itself; SEA-016,
        SEA-017 the valve.
    """
    with store.work(at=at, who=who) as work:
        valve = find_valve(work, name)
        record = draft_record(work, valve, statement).record
        work.add(record)
        if statement.overhauled:
            word = overhaul(valve.id, Said.RELAPPED, record.date, statement.note or _NEW_SEAT)
            zone = zone_of(work, valve.id)
            work.add(dataclasses.replace(word, at=at, zone=zone, person_id=statement.person_id))
    return record


def list_seats(store: Store, name: str, on: dt.date, serials: Sequence[str] | None = None) -> SeatsOfValve:
    """List a valve's seat records and choose the one in force.

    Parameters
    ----------
    store : Store
    name : str
        The tag where the valve hangs, or its serial.
    on : date
        Of the test.
    serials : sequence of str or None
        Of the test's cells and gauge; None where they are not known.

    Returns
    -------
    SeatsOfValve

    Raises
    ------
    FirstliftError
        SEA-016, SEA-017 the valve.
    """
    with store.read() as reader:
        valve = find_valve(reader, name)
        held = None if serials is None else [held_by_serial(reader, serial, on) for serial in serials]
        records, choice = seats_on(reader, valve.id, on, held)
    return SeatsOfValve(valve, records, choice)


def seats_on(
    reader: Reader, valve_id: UUID, on: dt.date, held: Sequence[Held] | None
) -> tuple[tuple[SeatRecord, ...], Choice]:
    """Give a valve's seat records, newest first, and choose among them by what was said of them since.

    Parameters
    ----------
    reader : Reader
    valve_id : UUID
    on : date
        Of the test.
    held : sequence of Held or None
        The cells and the gauge of the test.

    Returns
    -------
    records : tuple of SeatRecord
    choice : Choice
    """
    records = tuple(reader.list(SeatRecord, valve_id=valve_id, order=("-date", "id")))
    words = reader.list(SeatWord, valve_id=valve_id)
    return records, choose_record(records, on, held, overhauls_of(words), wrong_of(words))


def seat_in_force(reader: Reader, valve_id: UUID, job: Job) -> Choice:
    """Choose the seat record that a test by this job sheet computes with.

    Parameters
    ----------
    reader : Reader
    valve_id : UUID
    job : Job
        Its date, and its cells and gauge by serial.

    Returns
    -------
    Choice
    """
    return seats_on(reader, valve_id, job.visit.date, held_of(reader, job))[1]


def held_of(reader: Reader, job: Job) -> list[Held]:
    """Give the cells and the gauge of a job, each with what names its calibration.

    Parameters
    ----------
    reader : Reader
    job : Job

    Returns
    -------
    list of Held
    """
    specs = (*job.of(Measures.PULL_FORCE), *job.of(Measures.LINE_PRESSURE))
    return [
        Held(tag(spec), spec.serial or spec.column, certificate_of(reader, spec.serial, job.visit.date))
        for spec in specs
    ]


def seat_table(seat: Seat, record: SeatRecord) -> dict[str, str]:
    """Give what a kept job sheet says of the seat that it was computed with.

    Parameters
    ----------
    seat : Seat
    record : SeatRecord
        Where it comes from.

    Returns
    -------
    dict of str to str
        The table ``[seat]``.
    """
    return {
        "area": f"{seat.area_m2 * 1e6!r} mm2",
        "standard_uncertainty": f"{seat.standard_uncertainty_m2 * 1e6!r} mm2",
        "source": f"{record.source}, {record.date.isoformat()}",
    }


def with_seat_in_force(reader: Reader, valve_id: UUID, job: Job) -> tuple[Job, Choice]:
    """Give a job the seat that is in force for its valve, whatever seat its sheet states.

    Parameters
    ----------
    reader : Reader
    valve_id : UUID
    job : Job

    Returns
    -------
    job : Job
    choice : Choice
        With the reason, what was left out and what is doubtful.

    Raises
    ------
    FirstliftError
        SEA-018 no record serves.
    """
    choice = seat_in_force(reader, valve_id, job)
    record = choice.record
    if record is None:
        raise FirstliftError(
            Problem(
                "SEA-018",
                f"no seat record of valve {job.valve.serial} serves on {job.visit.date.isoformat()}",
                needed="a seat that was measured, or found with the instruments of this test, since its last overhaul",
                next="Measure the seat and enter it: in the app on the valve's page, at the command line with "
                "'firstlift register seat add'; or state it on the job sheet",
            )
        )
    paper = f", {record.reference}" if record.reference else ""
    source = f"{SOURCES[str(record.source)]}, {record.date.isoformat()}{paper}"
    seat = dataclasses.replace(seat_of(record, choice.shared), source=source, stated=_stated(record))
    return dataclasses.replace(job, seat=seat), choice


def find_valve(reader: Reader, name: str) -> RegisteredValve:
    """Find the valve that hangs at a tag, or has a serial.

    Parameters
    ----------
    reader : Reader
    name : str

    Returns
    -------
    RegisteredValve

    Raises
    ------
    FirstliftError
        SEA-016 there is none, SEA-017 there are several.
    """
    here = [
        hung.valve_id
        for position in reader.by_key(Position, name)
        for hung in reader.list(Installation, position_id=position.id, until=None)
    ]
    found = list(dict.fromkeys(here)) or [valve.id for valve in reader.by_key(RegisteredValve, name)]
    if not found:
        raise FirstliftError(
            Problem(
                "SEA-016", f"no valve hangs at '{name}', nor has that serial", needed="a tag or serial in the register"
            )
        )
    if len(found) > 1:
        valves = [reader.get(RegisteredValve, each) for each in found]
        named = ", ".join(f"{valve.maker} {valve.serial}".strip() for valve in valves)
        raise FirstliftError(
            Problem(
                "SEA-017", f"'{name}' names {len(found)} valves: {named}", needed="one", next="Name it by its serial"
            )
        )
    return reader.get(RegisteredValve, found[0])


def held_by_serial(reader: Reader, serial: str, on: dt.date) -> Held:
    """Give an instrument of a test to come, by its serial.

    Parameters
    ----------
    reader : Reader
    serial : str
    on : date

    Returns
    -------
    Held
    """
    # the tag does not matter for the choice itself: a listing computes no test
    return Held(serial, serial, certificate_of(reader, serial, on))


def _stated(record: SeatRecord) -> str:
    if record.area_m2 is not None:
        return f"area {record.area_m2 * 1e6:.5g} mm2"
    inner, outer = record.inner_diameter_m or 0.0, record.outer_diameter_m or 0.0
    return f"contact from {inner * 1e3:.5g} mm to {outer * 1e3:.5g} mm"
