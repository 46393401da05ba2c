"""Plan a visit: a site, a day, the valves."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass
from uuid import UUID

from firstlift.core.register.equipment import RegisteredValve
from firstlift.core.register.places import Site
from firstlift.core.register.work import SiteVisit
from firstlift.store.open import Store
from firstlift.usecases.register.place import now

_LONGEST_NAME = 200
_LONGEST_PERMIT = 100


@dataclass(frozen=True, slots=True)
class VisitAsked:
    """A visit to plan. ``name`` "": the site and the day; ``people`` who goes, as far as it is known."""

    site_id: UUID
    start: dt.date
    valves: tuple[UUID, ...]
    name: str = ""
    permits: tuple[str, ...] = ()
    people: tuple[UUID, ...] = ()


def plan_visit(store: Store, asked: VisitAsked, *, who: str, visit_id: UUID) -> SiteVisit:
    """Plan a visit; one with that identifier that is there already is given as it stands.

    Parameters
    ----------
    store : Store
    asked : VisitAsked
    who : str
    visit_id : UUID

    Returns
    -------
    SiteVisit

    Raises
    ------
    FirstliftError
        REG-010 the site or a valve is not in the register.
    """
    with store.work(at=now(), who=who) as work:
        there = work.find(SiteVisit, visit_id)
        if there is not None:
            return there
        site = work.get(Site, asked.site_id)
        planned = tuple(dict.fromkeys(asked.valves))
        for valve in planned:
            work.get(RegisteredValve, valve)
        visit = SiteVisit(
            visit_id,
            site.id,
            asked.name.strip()[:_LONGEST_NAME] or f"{site.name}, {asked.start}",
            asked.start,
            people=asked.people,
            planned=planned,
            permits=tuple(text.strip()[:_LONGEST_PERMIT] for text in asked.permits if text.strip()),
        )
        work.add(visit)
    return visit
