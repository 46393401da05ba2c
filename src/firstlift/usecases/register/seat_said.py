"""Say that a valve's seat was made anew, or that a seat record was wrong, or take that back; each with a reason."""

from __future__ import annotations

import datetime as dt
from dataclasses import replace
from uuid import UUID, uuid4

from firstlift.core.errors import FirstliftError, Problem
from firstlift.core.register.equipment import Installation, RegisteredValve
from firstlift.core.register.places import Position, Site
from firstlift.core.seat.record import SeatRecord
from firstlift.core.seat.word import WORKED_ON, Said, SeatWord, check_word, standing, wrong_of
from firstlift.store.open import Store
from firstlift.store.read import Reader
from firstlift.usecases.register.place import now

# the site's date may run ahead of this machine's
_GRACE = dt.timedelta(days=1)


def overhaul(valve_id: UUID, worked_on: Said, date: dt.date, why: str) -> SeatWord:
    """Make the word that a seat was re-lapped, re-machined or renewed, as yet said by nobody.

    Parameters
    ----------
    valve_id : UUID
    worked_on : Said
    date : date
    why : str

    Returns
    -------
    SeatWord
    """
    return SeatWord(uuid4(), valve_id, worked_on, now(), "UTC", why.strip(), date=date)


def say_overhaul(store: Store, word: SeatWord, *, by: UUID) -> SeatWord:
    """Keep that a seat was made anew.

    Parameters
    ----------
    store : Store
    word : SeatWord
        Of `overhaul`.
    by : UUID

    Returns
    -------
    SeatWord

    Raises
    ------
    FirstliftError
        As `preview_overhaul`.
    """
    check_word(word)
    check_day(word.date or now().date())
    with store.work(at=now(), who=str(by)) as work:
        work.get(RegisteredValve, word.valve_id)
        said = replace(word, at=now(), zone=zone_of(work, word.valve_id), person_id=by)
        work.add(said)
    return said


def say_wrong(store: Store, valve_id: UUID, record_id: UUID, why: str, *, by: UUID) -> SeatWord:
    """Keep that a seat record was wrong and that none takes its place.

    Parameters
    ----------
    store : Store
    valve_id, record_id : UUID
    why : str
    by : UUID

    Returns
    -------
    SeatWord

    Raises
    ------
    FirstliftError
        SEA-021 no reason, SEA-023 it is of another valve or was said to be wrong already.
    """
    with store.work(at=now(), who=str(by)) as work:
        check_stands(work, valve_id, record_id)
        word = SeatWord(
            uuid4(), valve_id, Said.WRONG, now(), zone_of(work, valve_id), why.strip(), by, record_id=record_id
        )
        check_word(word)
        work.add(word)
    return word


def take_back(store: Store, valve_id: UUID, word_id: UUID, why: str, *, by: UUID) -> SeatWord:
    """Take a word on a valve's seat records back: both stay on record.

    Parameters
    ----------
    store : Store
    valve_id, word_id : UUID
    why : str
    by : UUID

    Returns
    -------
    SeatWord

    Raises
    ------
    FirstliftError
        SEA-021 no reason, SEA-023 there is no such word that holds, or a corrected record would count beside its
        correction.
    """
    with store.work(at=now(), who=str(by)) as work:
        holding = {word.id: word for word in standing(work.list(SeatWord, valve_id=valve_id))}
        if word_id not in holding:
            raise _gone("there is no such word on this valve's seat that holds", str(word_id))
        if holding[word_id].replaced_by is not None:
            raise _gone("this record was corrected: another stands in its place", str(word_id))
        word = SeatWord(
            uuid4(), valve_id, Said.TAKEN_BACK, now(), zone_of(work, valve_id), why.strip(), by, takes_back=word_id
        )
        check_word(word)
        work.add(word)
    return word


def worked_on(text: str) -> Said | None:
    """Read what was done to a seat, as a form names it; None where nothing was.

    Parameters
    ----------
    text : str

    Returns
    -------
    Said or None

    Raises
    ------
    FirstliftError
        SEA-021 it is no such work.
    """
    if not text:
        return None
    if text not in WORKED_ON:
        needed = "re-lapped, re-machined or renewed"
        raise FirstliftError(Problem("SEA-021", f"'{text[:40]}' is no work on a seat", "What was done", needed))
    return Said(text)


def check_stands(reader: Reader, valve_id: UUID, record_id: UUID) -> None:
    """Refuse a seat record of another valve, or one that was said to be wrong already: SEA-023."""
    record = reader.get(SeatRecord, record_id)
    if record.valve_id != valve_id:
        raise _gone("this seat record is of another valve", f"seat record of {record.date.isoformat()}")
    if record_id in wrong_of(reader.list(SeatWord, valve_id=valve_id)):
        raise _gone("this seat record was said to be wrong already", f"seat record of {record.date.isoformat()}")


def _gone(what: str, where: str) -> FirstliftError:
    return FirstliftError(
        Problem("SEA-023", what, where, "one that stands", "Load the list of the valve's seat records again")
    )


def check_day(day: dt.date) -> None:
    """Refuse a day that is still to come: SEA-024."""
    if day > now().date() + _GRACE:
        raise FirstliftError(
            Problem("SEA-024", f"{day.isoformat()} is still to come", "Date", "the day it was done", "Correct the date")
        )


def zone_of(reader: Reader, valve_id: UUID) -> str:
    """Give the zone of the site where a valve hangs, UTC where it hangs nowhere."""
    hung = reader.list(Installation, valve_id=valve_id, until=None)
    return reader.get(Site, reader.get(Position, hung[0].position_id).site_id).zone if hung else "UTC"
