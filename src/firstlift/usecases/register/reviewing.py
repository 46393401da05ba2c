"""Reject a pull of a kept test, move its first lift, or take that back: a new test corrects the old one."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass
from typing import Any
from uuid import UUID
from zoneinfo import ZoneInfo

from firstlift.core.errors import FirstliftError, Problem
from firstlift.core.job import ReviewAction
from firstlift.core.register.people import Person
from firstlift.core.register.work import ValveTest
from firstlift.core.units import Kind, parse_quantity
from firstlift.store.open import Store
from firstlift.usecases.papers.find import name_of
from firstlift.usecases.register.analyse import kept_document, recompute
from firstlift.usecases.register.correcting import check_counts, corrected_test, keep_corrected
from firstlift.usecases.register.place import now

TAKE_BACK = "take-back"
ACTIONS = (*ReviewAction, TAKE_BACK)
_DONE = {
    ReviewAction.REJECT: "pull {pull} rejected",
    ReviewAction.MOVE: "first lift of pull {pull} moved to {first_lift}",
    TAKE_BACK: "review of pull {pull} taken back",
}


@dataclass(frozen=True, slots=True)
class Word:
    """What a person says of one pull, as it was typed. ``first_lift`` is a time, "12.43 s", where it is moved."""

    pull: int
    action: str
    reason: str
    first_lift: str = ""


def review_pull(store: Store, test_id: UUID, word: Word, *, by: UUID) -> ValveTest:
    """Keep a person's word on a pull, and judge the test again by the same way.

    The recording stays as it is; the job sheet gets a ``[[review]]``; the test that comes out corrects the old one, and
    its entry in the audit chain holds who, when and the reason. A certificate of the old test that was not issued yet
    is withdrawn, and whoever spoke here belongs to the test: somebody else reviews what is certified.

    Parameters
    ----------
    store : Store
    test_id : UUID
    word : Word
    by : UUID
        The person.

    Returns
    -------
    ValveTest

    Raises
    ------
    FirstliftError
        REV-001 to REV-003 as the core refuses it; REV-004 the test was corrected already; REV-005 no reason, no such
        action, or nothing to take back; REG-026 it keeps no recording.
    """
    at = now()
    with store.read() as reader:
        test = reader.get(ValveTest, test_id)
        check_counts(reader, test)
        document = _with_word(kept_document(reader, test), word, name_of(reader.get(Person, by)), at, test.zone)
        result = recompute(reader, test, document)
    done = f"{_done(word)}: {word.reason.strip()}"
    reviewed = corrected_test(store, test, document, result, by=by, done=done, seat_record_id=test.seat_record_id)
    with store.work(at=at, who=str(by)) as work:
        keep_corrected(work, reviewed, test, done)
    return reviewed


def _with_word(document: dict[str, Any], word: Word, name: str, at: dt.datetime, zone: str) -> dict[str, Any]:
    """Give the job sheet's tables with the review of one pull put in, put in anew, or taken out."""
    if not word.reason.strip():
        raise _refuse(
            f"no reason is given for pull {word.pull}", "a reason: it is kept, and printed on the certificate"
        )
    if word.action not in ACTIONS:
        raise _refuse(f"'{word.action[:40]}' cannot be done to a pull", f"one of {', '.join(ACTIONS)}")
    before = list(document.get("review", []))
    others = [review for review in before if review.get("pull") != word.pull]
    if word.action == TAKE_BACK:
        if len(others) == len(before):
            raise _refuse(f"nobody said anything of pull {word.pull}", "a pull that was rejected or moved")
        kept = {key: value for key, value in document.items() if key != "review"}
        return {**kept, "review": others} if others else kept
    said: dict[str, Any] = {"pull": word.pull, "action": str(word.action)}
    if word.action == ReviewAction.MOVE:
        # refused here by the unit's own problem, before the whole sheet is read again
        parse_quantity(word.first_lift, Kind.TIME, where="First lift")
        said["first_lift"] = word.first_lift.strip()
    said |= {"reason": word.reason.strip(), "by": name, "at": at.astimezone(ZoneInfo(zone))}
    return {**document, "review": sorted([*others, said], key=lambda review: review["pull"])}


def _done(word: Word) -> str:
    action = word.action if word.action == TAKE_BACK else ReviewAction(word.action)
    return _DONE[action].format(pull=word.pull, first_lift=word.first_lift.strip())


def _refuse(what: str, needed: str) -> FirstliftError:
    return FirstliftError(Problem("REV-005", what, "Review", needed))
