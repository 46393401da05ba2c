"""Enter seat records and what is said of them, with what each would do told before it is kept."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from dataclasses import dataclass, replace
from uuid import UUID, uuid4

from firstlift.core.errors import FirstliftError, Problem
from firstlift.core.register.equipment import RegisteredValve
from firstlift.core.seat.choose import Choice, Held, choose_record
from firstlift.core.seat.record import SeatRecord, Source
from firstlift.core.seat.word import Said, SeatWord, check_word, overhauls_of, wrong_of
from firstlift.store.history import Resting, tests_on_seats
from firstlift.store.open import Store
from firstlift.store.read import Reader
from firstlift.usecases.register.place import now
from firstlift.usecases.register.seat_draft import Drafted, SeatStatement, draft_record
from firstlift.usecases.register.seat_said import check_day, check_stands, zone_of
from firstlift.usecases.register.seats import held_by_serial


@dataclass(frozen=True, slots=True)
class SeatEntry:
    """A record to enter.

    ``corrects``: one that was wrong, in whose place it stands; ``worked_on``: the seat was made anew on the record's
    day, and how; ``why`` is the reason of either. ``same_conditions``: setting, temperature and back pressure were the
    same for all readings that were typed.
    """

    statement: SeatStatement
    corrects: UUID | None = None
    worked_on: Said | None = None
    why: str = ""
    same_conditions: bool = False


@dataclass(frozen=True, slots=True)
class Consequence:
    """What an entry that counts from a day would do. ``before`` and ``after`` are the choices for a test on ``on``.

    ``resting`` are the tests computed with a record that the entry sets aside: they stay as they are.
    """

    day: dt.date
    on: dt.date
    before: Choice
    after: Choice
    resting: tuple[Resting, ...]

    @property
    def issued(self) -> int:
        """How many of the tests that rest on another record have a certificate that stands."""
        return sum(each.issued for each in self.resting)

    @property
    def later(self) -> int:
        """How many of the tests that rest on another record were made on that day or after it."""
        return sum(each.day >= self.day for each in self.resting)


def preview_record(
    reader: Reader, valve_id: UUID, entry: SeatEntry, serials: Sequence[str]
) -> tuple[Drafted, Consequence]:
    """Make a seat record and say what it would do; nothing is kept.

    Parameters
    ----------
    reader : Reader
    valve_id : UUID
    entry : SeatEntry
    serials : sequence of str
        Cells and gauge that a test of the valve would use; a fitted record is told for its own.

    Returns
    -------
    Drafted
    Consequence

    Raises
    ------
    UsageError, FirstliftError
        As `firstlift.usecases.register.seat_draft.draft_record`; SEA-021 no reason; SEA-023 the record that it corrects
        is of another valve or was corrected already; SEA-024 a day that is still to come; SEA-009 nobody confirmed that
        typed readings were taken under the same conditions; SEA-025 a maker's figure that names no paper.
    """
    drafted = _drafted(reader, valve_id, entry)
    record = drafted.record
    added = _words_with(reader, entry, record, "UTC")
    held = [held_by_serial(reader, serial, record.date) for serial in record.serials or serials]
    return drafted, _consequence(reader, valve_id, record.date, held, records=(record,), words=added)


def keep_record(store: Store, valve_id: UUID, entry: SeatEntry, *, by: UUID) -> SeatRecord:
    """Keep a seat record, and the word that goes with it.

    Parameters
    ----------
    store : Store
    valve_id : UUID
    entry : SeatEntry
    by : UUID
        Who enters it.

    Returns
    -------
    SeatRecord

    Raises
    ------
    UsageError, FirstliftError
        As `preview_record`.
    """
    at = now()
    with store.work(at=at, who=str(by)) as work:
        record = _drafted(work, valve_id, replace(entry, statement=replace(entry.statement, person_id=by))).record
        words = _words_with(work, entry, record, zone_of(work, valve_id), at=at, by=by)
        work.add(record)
        work.add_all(words)
    return record


def _drafted(reader: Reader, valve_id: UUID, entry: SeatEntry) -> Drafted:
    asked = entry.statement.asked
    if asked.rows and not entry.same_conditions:
        raise FirstliftError(
            Problem(
                "SEA-009",
                "nobody confirmed that the readings were taken under the same conditions",
                needed="one setting, one temperature and one back pressure for all readings of a fit",
                next="Confirm it, or leave out what was taken otherwise",
            )
        )
    drafted = draft_record(reader, reader.get(RegisteredValve, valve_id), entry.statement)
    if drafted.record.source is Source.MAKER and not asked.reference.strip():
        raise FirstliftError(
            Problem(
                "SEA-025",
                "a maker's figure that names no paper",
                asked.where["reference"],
                "the drawing, data sheet or letter it stands on",
            )
        )
    check_day(drafted.record.date)
    return drafted


def preview_overhaul(reader: Reader, word: SeatWord, serials: Sequence[str]) -> Consequence:
    """Say what a word that the seat was made anew would do; nothing is kept.

    Parameters
    ----------
    reader : Reader
    word : SeatWord
    serials : sequence of str
        Cells and gauge that a test of the valve would use.

    Returns
    -------
    Consequence

    Raises
    ------
    FirstliftError
        SEA-021 what is missing, SEA-024 a day that is still to come.
    """
    check_word(word)
    day = word.date or now().date()
    check_day(day)
    held = [held_by_serial(reader, serial, day) for serial in serials]
    return _consequence(reader, word.valve_id, day, held, words=(word,))


def _words_with(
    reader: Reader,
    entry: SeatEntry,
    record: SeatRecord,
    zone: str,
    *,
    at: dt.datetime | None = None,
    by: UUID | None = None,
) -> tuple[SeatWord, ...]:
    """Make the words that go with a record: the one it corrects was wrong, the seat was made anew."""
    made: list[SeatWord] = []
    stamp = (at or now(), zone, entry.why.strip(), by)
    if entry.corrects is not None:
        check_stands(reader, record.valve_id, entry.corrects)
        made.append(
            SeatWord(uuid4(), record.valve_id, Said.WRONG, *stamp, record_id=entry.corrects, replaced_by=record.id)
        )
    if entry.worked_on is not None:
        made.append(SeatWord(uuid4(), record.valve_id, entry.worked_on, *stamp, date=record.date))
    for word in made:
        check_word(word)
    return tuple(made)


def _consequence(
    reader: Reader,
    valve_id: UUID,
    day: dt.date,
    held: Sequence[Held],
    *,
    records: tuple[SeatRecord, ...] = (),
    words: tuple[SeatWord, ...] = (),
) -> Consequence:
    """Choose with and without what is added, for a test today or on the day it counts from."""
    on = max(day, now().date())
    known, said = reader.list(SeatRecord, valve_id=valve_id), reader.list(SeatWord, valve_id=valve_id)
    before = choose_record(known, on, held, overhauls_of(said), wrong_of(said))
    every = [*said, *words]
    after = choose_record([*known, *records], on, held, overhauls_of(every), wrong_of(every))
    stays = after.record.id if after.record is not None else None
    resting = tuple(each for each in tests_on_seats(reader, valve_id) if each.record_id != stays)
    return Consequence(day, on, before, after, resting)
