"""Compute a kept test again with the seat record that is in force now for its day, and keep it as a correction.

A test keeps the seat record that it was computed with. Where that record was said to be wrong since, its set pressure
and verdict are wrong too: the part of the set pressure that the pull lifted goes with one over the area. Nothing is
changed by itself; whoever says so, with a reason, adds a test that corrects the earlier one.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Any
from uuid import UUID

from firstlift.core.errors import FirstliftError, Problem
from firstlift.core.job import Measures, Purpose
from firstlift.core.register.work import Certificate, ValveTest
from firstlift.core.result import Result
from firstlift.core.seat.choose import Choice, Held, choose_record
from firstlift.core.seat.reason import Reason
from firstlift.core.seat.record import SeatRecord
from firstlift.core.seat.word import SeatWord, overhauls_of, wrong_of
from firstlift.core.valve import Seat
from firstlift.formats.jobsheet import parse_jobsheet
from firstlift.formats.sheet_write import write_sheet
from firstlift.store.history import tests_on_seats
from firstlift.store.open import Store
from firstlift.store.read import Reader
from firstlift.usecases.register.analyse import kept_document, recompute, seat_of_test
from firstlift.usecases.register.correcting import (
    check_counts,
    corrected_test,
    issued_certificates,
    keep_corrected,
    open_certificates,
)
from firstlift.usecases.register.place import now
from firstlift.usecases.register.seats import held_by_serial, held_of, seat_table
from firstlift.words.numbers import format_short

_READS = (Measures.PULL_FORCE, Measures.LINE_PRESSURE)
# areas closer than this are one area written in two ways
_SAME = 1e-9


@dataclass(frozen=True, slots=True)
class OffSeat:
    """A test that rests on another seat record than the one in force for its day (None: no record serves).

    ``reason`` says why its own record is not in force, ``wrong`` is the word that it was wrong, where that was said.
    ``kept`` tells whether the test keeps what it can be computed from.
    """

    test: ValveTest
    rests_on: SeatRecord
    in_force: SeatRecord | None
    reason: Reason
    wrong: SeatWord | None
    kept: bool


@dataclass(frozen=True, slots=True, eq=False)
class SeatAgain:
    """A kept test, and what it would say with the seat record in force for its day.

    ``wrong`` is the word that the earlier record was wrong, where that was said. ``issued`` are the certificates of the
    test that stand, ``drafts`` those that would be withdrawn. ``document`` are the tables of the job sheet to keep.
    """

    test: ValveTest
    rests_on: SeatRecord
    wrong: SeatWord | None
    choice: Choice
    in_force: SeatRecord
    before: Seat
    after: Seat
    document: dict[str, Any]
    result: Result
    issued: tuple[Certificate, ...]
    drafts: tuple[Certificate, ...]


def all_off_seat(reader: Reader, valve_id: UUID) -> list[OffSeat]:
    """List the tests of a valve that rest on another seat record than the one in force for their day.

    Parameters
    ----------
    reader : Reader
    valve_id : UUID

    Returns
    -------
    list of OffSeat
        The latest first; tests that were corrected already are left out.
    """
    found = (off_seat(reader, reader.get(ValveTest, each.test_id)) for each in tests_on_seats(reader, valve_id))
    return [one for one in found if one is not None]


def off_seat(reader: Reader, test: ValveTest) -> OffSeat | None:
    """Say whether a test rests on another seat record than the one in force for its day.

    Parameters
    ----------
    reader : Reader
    test : ValveTest

    Returns
    -------
    OffSeat or None
        None where its own record is in force, or where it was computed with none of the register.
    """
    if test.seat_record_id is None:
        return None
    held = [held_by_serial(reader, used.serial, test.day) for used in test.instruments if used.measures in _READS]
    choice = _choice_for(reader, test, held)
    if choice.record is not None and choice.record.id == test.seat_record_id:
        return None
    own = reader.get(SeatRecord, test.seat_record_id)
    why = {left.record_id: left.reason for left in choice.left_out}
    wrong = wrong_of(reader.list(SeatWord, valve_id=test.valve_id)).get(own.id)
    kept = bool(test.sheet_sha256 and test.recording_sha256)
    return OffSeat(test, own, choice.record, why.get(own.id, choice.reason), wrong, kept)


def compute_with_seat_in_force(reader: Reader, test_id: UUID) -> SeatAgain:
    """Compute a kept test with the seat record in force for its day; nothing is kept.

    Parameters
    ----------
    reader : Reader
    test_id : UUID

    Returns
    -------
    SeatAgain

    Raises
    ------
    FirstliftError
        REG-010 no such test; REV-004 it was corrected already; REG-026 it keeps no recording; SEA-027 its seat was
        stated on its job sheet; SEA-018 no record serves on its day; SEA-026 nothing changes; STO-010, STO-011 a kept
        file is not whole.
    """
    test = reader.get(ValveTest, test_id)
    check_counts(reader, test)
    document = kept_document(reader, test)
    if test.seat_record_id is None:
        raise FirstliftError(
            Problem(
                "SEA-027",
                "this test was computed with the seat that its job sheet states, with no seat record",
                f"test {test.id}",
                "a test that rests on a seat record of the register",
                "Analyse the recording again with a job sheet that states the right seat, or none",
            )
        )
    job = parse_jobsheet(write_sheet(document).encode(), where=f"job sheet of test {test.id}")
    own = reader.get(SeatRecord, test.seat_record_id)
    choice = _choice_for(reader, test, held_of(reader, job))
    record = choice.record
    if record is None:
        raise _none_serves(reader, test)
    changed = replace(test, seat_record_id=record.id)
    before, after = seat_of_test(reader, test, job), seat_of_test(reader, changed, job)
    if record.id == own.id or _alike(before, after):
        raise _nothing_changes(test, record, after)
    document = {**document, "seat": seat_table(after, record)}
    return SeatAgain(
        test,
        own,
        wrong_of(reader.list(SeatWord, valve_id=test.valve_id)).get(own.id),
        choice,
        record,
        before,
        after,
        document,
        recompute(reader, changed, document),
        tuple(issued_certificates(reader, test)),
        tuple(open_certificates(reader, test)),
    )


def keep_with_seat_in_force(
    store: Store,
    test_id: UUID,
    why: str,
    *,
    by: UUID,
    seen: UUID | None = None,
    despite_certificate: bool = False,
) -> ValveTest:
    """Compute a kept test with the seat record in force for its day, and keep that as a correction of it.

    The earlier test stays as it is. The new one's entry in the audit chain holds who, when and why, and whoever kept it
    belongs to the test: somebody else reviews what is certified. A certificate that was not issued yet is withdrawn;
    one that was stands until the new test's takes its place or it is withdrawn.

    Parameters
    ----------
    store : Store
    test_id : UUID
    why : str
    by : UUID
        The person.
    seen : UUID or None
        The seat record that was looked at before; None where nobody looked.
    despite_certificate : bool
        Whoever keeps it knows that a certificate of the test stands and has to be superseded or withdrawn.

    Returns
    -------
    ValveTest

    Raises
    ------
    FirstliftError
        As `compute_with_seat_in_force`; SEA-021 no reason; SEA-023 another record is in force than was looked at;
        SEA-028 a certificate of the test is issued.
    """
    if not why.strip():
        raise FirstliftError(
            Problem("SEA-021", "no reason is given", f"test {test_id}", "why it is computed again: it is kept for ever")
        )
    with store.read() as reader:
        again = compute_with_seat_in_force(reader, test_id)
    if seen is not None and again.in_force.id != seen:
        raise _changed_meanwhile(again.test)
    _check_certificates(again.issued, again.test, known=despite_certificate)
    done = _done(again, why)
    made = corrected_test(
        store, again.test, again.document, again.result, by=by, done=done, seat_record_id=again.in_force.id
    )
    with store.work(at=now(), who=str(by)) as work:
        job = parse_jobsheet(write_sheet(again.document).encode(), where=f"job sheet of test {test_id}")
        if _choice_for(work, again.test, held_of(work, job)).record != again.in_force:
            raise _changed_meanwhile(again.test)
        _check_certificates(issued_certificates(work, again.test), again.test, known=despite_certificate)
        keep_corrected(work, made, again.test, done)
    return made


def _choice_for(reader: Reader, test: ValveTest, held: Sequence[Held]) -> Choice:
    """Choose for a test's day, and for the seat that the valve had when it was pulled."""
    records = reader.list(SeatRecord, valve_id=test.valve_id)
    words = reader.list(SeatWord, valve_id=test.valve_id)
    overhauls, wrong = overhauls_of(words), wrong_of(words)
    own = next((record for record in records if record.id == test.seat_record_id), None)
    marked = {record.superseded_by_overhaul for record in records}
    if (
        own is None
        or test.purpose is not Purpose.AS_FOUND
        or own.date >= test.day
        or test.day not in {*overhauls, *marked}
    ):
        return choose_record(records, test.day, held, overhauls, wrong)
    # as found on the day of the work: it was pulled before it, so what was made or measured that day is another seat
    its_own = {own.id}
    while (word := wrong.get(own.id)) is not None and word.replaced_by is not None and word.replaced_by not in its_own:
        own = reader.get(SeatRecord, word.replaced_by)
        its_own.add(own.id)
    of_then = [
        replace(record, superseded_by_overhaul=None) if record.superseded_by_overhaul == test.day else record
        for record in records
        if record.date != test.day or record.id in its_own
    ]
    choice = choose_record(of_then, test.day, held, [day for day in overhauls if day != test.day], wrong)
    if choice.record is None:
        return choice
    return replace(choice, record=reader.get(SeatRecord, choice.record.id))


def _alike(one: Seat, other: Seat) -> bool:
    """Whether two seats come to the same result: the same area and the same uncertainty, however it was stated."""
    sizes = [
        (one.area_m2, other.area_m2),
        (one.u_area_m2, other.u_area_m2),
        (one.half_width_m2, other.half_width_m2),
        (one.degrees_of_freedom, other.degrees_of_freedom),
    ]
    # what is below a billionth of the area is nothing, also beside an exact 0
    least = _SAME * one.area_m2
    return one.shares == other.shares and all(math.isclose(a, b, rel_tol=_SAME, abs_tol=least) for a, b in sizes)


def _check_certificates(issued: Sequence[Certificate], test: ValveTest, *, known: bool) -> None:
    if issued and not known:
        named = ", ".join(paper.text for paper in issued)
        raise FirstliftError(
            Problem(
                "SEA-028",
                f"certificate {named} of this test is issued, and stands with the earlier set pressure",
                f"test {test.id}",
                "somebody who knows that it must be superseded or withdrawn",
                "Say so when you keep the corrected test; then draft its certificate in the place of that one, or "
                "withdraw that one",
            )
        )


def _done(again: SeatAgain, why: str) -> str:
    old, new = (format_short(seat.area_m2, "mm2", digits=5) for seat in (again.before, again.after))
    of_old, of_new = (
        f"record of {record.date.isoformat()}, {record.source}" for record in (again.rests_on, again.in_force)
    )
    return f"computed again with seat area {new} ({of_new}) in place of {old} ({of_old}): {why.strip()}"


def _none_serves(reader: Reader, test: ValveTest) -> FirstliftError:
    records = {record.id: record for record in reader.list(SeatRecord, valve_id=test.valve_id)}
    word = wrong_of(reader.list(SeatWord, valve_id=test.valve_id)).get(test.seat_record_id or test.id)
    right = None if word is None or word.replaced_by is None else records[word.replaced_by]
    needed = "a seat record that counts on that day"
    then = "Enter one of the seat as it was then: in the app on the valve's page, Seat records"
    if right is not None and right.date > test.day:
        needed += f"; the one in the wrong one's place counts from {right.date.isoformat()} on"
        then = "Correct that record by one of the day from which the seat was so"
    return FirstliftError(
        Problem("SEA-018", f"no seat record serves on {test.day.isoformat()} any more", f"test {test.id}", needed, then)
    )


def _nothing_changes(test: ValveTest, record: SeatRecord, seat: Seat) -> FirstliftError:
    area = format_short(seat.area_m2, "mm2", digits=5)
    return FirstliftError(
        Problem(
            "SEA-026",
            f"nothing changes: the seat in force on {test.day.isoformat()} is the one this test was computed with",
            f"{area}, seat record of {record.date.isoformat()}",
            "a seat record that was corrected, or another one in force for that day",
            "Correct the seat record first",
        )
    )


def _changed_meanwhile(test: ValveTest) -> FirstliftError:
    return FirstliftError(
        Problem(
            "SEA-023",
            "the seat record in force for the day of this test is no longer the one that was looked at",
            f"test {test.id}",
            "the one that stands",
            "Look again at what it comes to, then keep it",
        )
    )
