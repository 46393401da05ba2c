"""What is said of a valve's seat records after they were entered: the seat was worked on, or a record was wrong.

Records themselves are never edited. A word stands beside them with who said it, when and why, and is taken back, if it
was wrong itself, by another one.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from enum import StrEnum
from uuid import UUID

from firstlift.core.errors import FirstliftError, Problem


class Said(StrEnum):
    """What is said: work that made a new seat, that a record was wrong, or that a word was."""

    RELAPPED = "re-lapped"
    REMACHINED = "re-machined"
    RENEWED = "renewed"
    WRONG = "wrong"
    TAKEN_BACK = "taken-back"


WORKED_ON = (Said.RELAPPED, Said.REMACHINED, Said.RENEWED)


@dataclass(frozen=True, slots=True)
class SeatWord:
    """One word on the seat records of a valve.

    ``date`` is the day on which the seat was re-lapped, re-machined or renewed: records from before describe a seat
    that is no more. ``record_id`` names a record that was wrong, ``replaced_by`` the one that takes its place (None:
    none does). ``takes_back`` names another word that no longer holds. ``at`` is when it was said, ``note`` why.
    """

    id: UUID
    valve_id: UUID
    said: Said
    at: dt.datetime
    zone: str
    note: str
    person_id: UUID | None = None
    date: dt.date | None = None
    record_id: UUID | None = None
    replaced_by: UUID | None = None
    takes_back: UUID | None = None


def check_word(word: SeatWord) -> None:
    """Hold a word to what it must say.

    Parameters
    ----------
    word : SeatWord

    Raises
    ------
    FirstliftError
        SEA-021 no reason, or not what its kind needs.
    """
    if not word.note.strip():
        raise FirstliftError(Problem("SEA-021", "no reason is given", needed="a reason: it is kept for ever"))
    told = (word.date is not None, word.record_id is not None, word.takes_back is not None)
    wanted = (word.said in WORKED_ON, word.said is Said.WRONG, word.said is Said.TAKEN_BACK)
    if told != wanted or (word.replaced_by is not None and word.said is not Said.WRONG):
        raise FirstliftError(
            Problem(
                "SEA-021",
                f"a word on a seat that is '{word.said}' does not say what of",
                needed="the day of the work, the record that was wrong, or the word that is taken back",
            )
        )


def standing(words: Sequence[SeatWord]) -> tuple[SeatWord, ...]:
    """Give the words that hold: none that was taken back.

    Parameters
    ----------
    words : sequence of SeatWord
        Of one valve.

    Returns
    -------
    tuple of SeatWord
    """
    gone = {word.takes_back for word in words}
    return tuple(word for word in words if word.said is not Said.TAKEN_BACK and word.id not in gone)


def overhauls_of(words: Sequence[SeatWord]) -> tuple[dt.date, ...]:
    """Give the days on which the seat was made anew, oldest first.

    Parameters
    ----------
    words : sequence of SeatWord

    Returns
    -------
    tuple of date
    """
    return tuple(sorted({word.date for word in standing(words) if word.date is not None}))


def wrong_of(words: Sequence[SeatWord]) -> Mapping[UUID, SeatWord]:
    """Give the records that were said to be wrong, each with the word on it.

    Parameters
    ----------
    words : sequence of SeatWord

    Returns
    -------
    mapping of record's identifier to SeatWord
    """
    return {word.record_id: word for word in standing(words) if word.record_id is not None}
