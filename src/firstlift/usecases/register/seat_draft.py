"""A seat record made from what was typed or from kept tests, with calibrations from the register; not kept yet."""

from __future__ import annotations

import dataclasses
import datetime as dt
from dataclasses import dataclass
from uuid import UUID, uuid4

from firstlift.core.errors import FirstliftError, Problem
from firstlift.core.job import Job
from firstlift.core.register.choose import calibration_in_force
from firstlift.core.register.equipment import Calibration, Instrument, RegisteredValve
from firstlift.core.register.work import AdjustmentMade, ValveTest
from firstlift.core.seat.fit import record_of
from firstlift.core.seat.orifice import refuse_orifice
from firstlift.core.seat.record import SeatRecord, Source, Tie, check_record, name_calibrations
from firstlift.core.seat.word import SeatWord, overhauls_of
from firstlift.formats.jobsheet import parse_jobsheet
from firstlift.store.files import read_kept
from firstlift.store.read import Reader
from firstlift.usecases.seat import cells_of, find_seat, read_edges
from firstlift.usecases.seat_answer import SeatAnswer
from firstlift.usecases.seat_asked import KnownInstrument, SeatAsked
from firstlift.usecases.seat_from_tests import seat_from_results


@dataclass(frozen=True, slots=True)
class SeatStatement:
    """What is entered: the seat as typed, when, by whom, measured with what.

    ``measured_with`` are serials; a stated seat without any is a maker's figure. ``overhauled``: the seat was
    re-lapped or re-machined on that day, so that no older record serves any more. ``tests``: kept tests to whose pulls
    the area is fitted, in the place of what is typed; the record then is of the last one's day.
    """

    asked: SeatAsked
    date: dt.date
    measured_with: tuple[str, ...] = ()
    person_id: UUID | None = None
    note: str = ""
    overhauled: bool = False
    tests: tuple[UUID, ...] = ()


@dataclass(frozen=True, slots=True)
class Drafted:
    """A record that holds, and the calculation it came from."""

    record: SeatRecord
    answer: SeatAnswer


def draft_record(reader: Reader, valve: RegisteredValve, statement: SeatStatement) -> Drafted:
    """Make a seat record, and hold it to what it must say.

    Parameters
    ----------
    reader : Reader
    valve : RegisteredValve
    statement : SeatStatement

    Returns
    -------
    Drafted

    Raises
    ------
    UsageError, FirstliftError
        As `firstlift.usecases.seat.find_seat` and `firstlift.usecases.seat_from_tests.seat_from_results`; SEA-001 to
        SEA-004 and SEA-010 the record itself; SEA-022 the valve was adjusted or its seat made anew between the tests.
    """
    drafted = _of_tests(reader, valve, statement) if statement.tests else _as_typed(reader, valve, statement)
    check_record(drafted.record)
    refuse_orifice(drafted.record)
    return drafted


def _as_typed(reader: Reader, valve: RegisteredValve, statement: SeatStatement) -> Drafted:
    asked = statement.asked
    known = {
        serial: found
        for serial in (*cells_of(asked.cell), asked.gauge, asked.bench_gauge)
        if (found := _known(reader, serial, statement.date)) is not None
    }
    answer = find_seat(asked, known)
    if answer.fit is not None:
        return Drafted(_fitted(reader, valve, statement, answer, statement.date), answer)
    record = SeatRecord(
        uuid4(),
        valve.id,
        Source.MEASURED if statement.measured_with else Source.MAKER,
        statement.date,
        statement.person_id,
        statement.note,
        asked.reference,
        measured_with=statement.measured_with,
    )
    if asked.inner is None:
        seat = answer.seat
        return Drafted(dataclasses.replace(record, area_m2=seat.area_m2, u_area_m2=seat.u_area_m2), answer)
    inner, outer, u = read_edges(asked)
    edges = {"inner_diameter_m": inner.si, "outer_diameter_m": outer.si, "u_inner_m": u, "u_outer_m": u}
    return Drafted(dataclasses.replace(record, **edges), answer)


def _of_tests(reader: Reader, valve: RegisteredValve, statement: SeatStatement) -> Drafted:
    tests = sorted((_test(reader, valve, each) for each in dict.fromkeys(statement.tests)), key=lambda test: test.at)
    _check_untouched(reader, tests)
    answer = seat_from_results(
        [
            (f"test of {test.day.isoformat()}", _job(reader, test), test.result)
            for test in tests
            if test.result is not None
        ]
    )
    return Drafted(_fitted(reader, valve, statement, answer, tests[-1].day), answer)


def _job(reader: Reader, test: ValveTest) -> Job:
    return parse_jobsheet(read_kept(reader.folder, test.sheet_sha256), where=f"job sheet of test {test.id}")


def _test(reader: Reader, valve: RegisteredValve, test_id: UUID) -> ValveTest:
    test = reader.get(ValveTest, test_id)
    if test.valve_id != valve.id or test.result is None or not test.sheet_sha256:
        raise FirstliftError(
            Problem(
                "SEA-019",
                "no pull of this test tells the seat area of this valve",
                f"test of {test.day.isoformat()}",
                "a test of this valve made from a recording",
            )
        )
    return test


def _check_untouched(reader: Reader, tests: list[ValveTest]) -> None:
    """Refuse tests between which something was done that moves what a pull has to lift."""
    first, last, valve_id = tests[0], tests[-1], tests[0].valve_id
    turned = [made.at for made in reader.list(AdjustmentMade, valve_id=valve_id) if first.at < made.at < last.at]
    lapped = [day for day in overhauls_of(reader.list(SeatWord, valve_id=valve_id)) if first.day < day <= last.day]
    if turned or lapped:
        what = "the valve was adjusted" if turned else "the seat was made anew"
        when = turned[0].date() if turned else lapped[0]
        raise FirstliftError(
            Problem(
                "SEA-022",
                f"{what} on {when.isoformat()}, between the tests that were chosen",
                f"tests of {first.day.isoformat()} and {last.day.isoformat()}",
                "tests of one setting and one seat",
                "Choose tests from before that day, or from after it",
            )
        )


def _fitted(
    reader: Reader, valve: RegisteredValve, statement: SeatStatement, answer: SeatAnswer, on: dt.date
) -> SeatRecord:
    assert answer.fit is not None
    record = record_of(answer.fit, uuid4(), valve.id, on, statement.person_id, statement.note)
    ties = tuple(_with_certificate(reader, tie, on) for tie in record.tied_to)
    return dataclasses.replace(record, reference=statement.asked.reference, tied_to=ties)


def _with_certificate(reader: Reader, tie: Tie, on: dt.date) -> Tie:
    named = name_calibrations(certificate_of(reader, serial, on) for serial in tie.serials)
    return dataclasses.replace(tie, calibration=named or tie.calibration)


def _calibration(reader: Reader, serial: str, on: dt.date) -> Calibration | None:
    instruments = reader.by_key(Instrument, serial) if serial.strip() else []
    if len(instruments) != 1:
        return None
    return calibration_in_force(reader.list(Calibration, instrument_id=instruments[0].id), on)


def certificate_of(reader: Reader, serial: str, on: dt.date) -> str:
    """Give the number of the certificate of an instrument's calibration in force, "" where there is none.

    Parameters
    ----------
    reader : Reader
    serial : str
    on : date

    Returns
    -------
    str
    """
    calibration = _calibration(reader, serial, on)
    return "" if calibration is None else calibration.certificate_number


def _known(reader: Reader, serial: str, on: dt.date) -> KnownInstrument | None:
    calibration = _calibration(reader, serial, on)
    if calibration is None:
        return None
    relative, absolute = calibration.relative_standard_uncertainty, calibration.standard_uncertainty_si
    if relative is None and absolute is None:
        return None
    return KnownInstrument(
        relative or 0.0, absolute or 0.0, calibration.reference_standard, calibration.certificate_number
    )
