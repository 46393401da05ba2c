"""Keep who confirmed which hold point of a planned test, and give what was confirmed."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from dataclasses import dataclass
from uuid import UUID, uuid4
from zoneinfo import ZoneInfo

from firstlift.core.errors import FirstliftError, Problem
from firstlift.core.job import Job
from firstlift.core.plan.holds import Confirmation
from firstlift.core.plan.plan import Plan
from firstlift.core.register.people import Person
from firstlift.core.register.work import HoldPoint, SiteVisit, ValveTest
from firstlift.store.open import Store
from firstlift.store.read import Reader
from firstlift.usecases.register.fill import find_by_tag


@dataclass(frozen=True, slots=True)
class Confirmed:
    """A hold point confirmed at a valve: its code, by whom, when (in the site's zone), with what note."""

    code: str
    person: str
    at: dt.datetime
    note: str = ""


def confirmable(plan: Plan) -> tuple[str, ...]:
    """Give the codes that may be confirmed: the plan's hold points, and of each card that the owner was told.

    Parameters
    ----------
    plan : Plan

    Returns
    -------
    tuple of str
    """
    return (*(point.code for point in plan.hold_points), *(f"owner-told-{card.event}" for card in plan.cards))


def confirm(
    store: Store, job: Job, plan: Plan, notes: Sequence[tuple[str, str]], *, person: UUID, at: dt.datetime
) -> None:
    """Keep that a person confirmed hold points of a valve, in the visit that was there on the job's day.

    Parameters
    ----------
    store : Store
    job : Job
    plan : Plan
    notes : sequence of (str, str)
        Code and note; a code may go without its "hold-".
    person : UUID
    at : datetime
        With its zone.

    Raises
    ------
    FirstliftError
        PLN-005 no hold point of the plan, PLN-013 no visit, or several; REG-020 no such tag.
    """
    known = confirmable(plan)
    codes = [code if code in known else f"hold-{code}" for code, _ in notes]
    wrong = [given for code, (given, _) in zip(codes, notes, strict=True) if code not in known]
    if wrong:
        needed = "one of " + ", ".join(known)
        raise FirstliftError([Problem("PLN-005", f"'{c[:60]}' is no hold point", "--confirm", needed) for c in wrong])
    with store.work(at=at, who=str(person)) as work:
        found = find_by_tag(work, job.valve.tag, job.visit.date, site=job.visit.site)
        visit, zone = _visit(work, found.site.id, job.visit.date), found.site.zone
        for code, (_, note) in zip(codes, notes, strict=True):
            work.add(
                HoldPoint(
                    uuid4(), visit.id, code, at.astimezone(ZoneInfo(zone)), zone, released=True,
                    valve_id=found.valve.id, person_id=person, note=note.strip()[:300],
                )
            )  # fmt: skip


def _visit(reader: Reader, site_id: UUID, on: dt.date) -> SiteVisit:
    there = [v for v in reader.list(SiteVisit, site_id=site_id) if v.start <= on <= (v.finish or v.start)]
    if len(there) != 1:
        what = f"the register holds {len(there) or 'no'} visit{'s' if there else ''} to this site on {on}"
        raise FirstliftError(
            Problem("PLN-013", what, "--confirm", "one visit", "Add it: register add visit site=... name=... start=...")
        )
    return there[0]


def confirmed_at(store: Store, job: Job) -> tuple[Confirmed, ...]:
    """Give what was confirmed of a job's valve in the visit of its day; empty where there was no such visit.

    Parameters
    ----------
    store : Store
    job : Job

    Returns
    -------
    tuple of Confirmed
        Oldest first.

    Raises
    ------
    FirstliftError
        REG-020 no such tag, several, or no valve there.
    """
    with store.read() as reader:
        found, on = find_by_tag(reader, job.valve.tag, job.visit.date, site=job.visit.site), job.visit.date
        visits = reader.list(SiteVisit, site_id=found.site.id)
        there = {visit.id for visit in visits if visit.start <= on <= (visit.finish or visit.start)}
        return _told(reader, [p for p in _points(reader, found.valve.id) if p.visit_id in there])


def confirmed_of(reader: Reader, test: ValveTest) -> tuple[Confirmed, ...]:
    """Give what was confirmed for a kept test: at its valve, in its visit, or on its day where it names none.

    Parameters
    ----------
    reader : Reader
    test : ValveTest

    Returns
    -------
    tuple of Confirmed
    """
    points = _points(reader, test.valve_id)
    if test.visit_id is None:
        return _told(reader, [p for p in points if p.at.astimezone(ZoneInfo(p.zone)).date() == test.day])
    return _told(reader, [p for p in points if p.visit_id == test.visit_id])


def _points(reader: Reader, valve_id: UUID) -> list[HoldPoint]:
    return [point for point in reader.list(HoldPoint, valve_id=valve_id, order=("at", "id")) if point.released]


def _told(reader: Reader, points: Sequence[HoldPoint]) -> tuple[Confirmed, ...]:
    return tuple(
        Confirmed(p.code, _name(reader, p.person_id), p.at.astimezone(ZoneInfo(p.zone)), p.note) for p in points
    )


def _name(reader: Reader, person_id: UUID | None) -> str:
    person = None if person_id is None else reader.find(Person, person_id)
    return person.details.name if person is not None and person.details is not None else str(person_id or "nobody")


def as_confirmations(points: Sequence[Confirmed], plan: Plan) -> tuple[Confirmation, ...]:
    """Give those of a plan's own hold points, for `firstlift.core.plan.holds.still_open`.

    Parameters
    ----------
    points : sequence of Confirmed
    plan : Plan

    Returns
    -------
    tuple of Confirmation
    """
    known = {point.code for point in plan.hold_points}
    return tuple(Confirmation(p.code, p.person, p.at, p.note) for p in points if p.code in known)
