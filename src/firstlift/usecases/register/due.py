"""The due list, by what people ask for: names in place of identifiers, today at the sites' own clocks."""

from __future__ import annotations

import dataclasses
import datetime as dt
from dataclasses import dataclass
from zoneinfo import ZoneInfo

from firstlift.core.register.places import Site
from firstlift.core.valve import Medium
from firstlift.store.open import Store
from firstlift.store.search import Listed, Wanted, due_list, without_interval
from firstlift.usecases.register.entries import find_entry
from firstlift.usecases.register.place import now


@dataclass(frozen=True, slots=True)
class DueAsked:
    """What a due list is asked for; ``overdue``: only those whose day has passed."""

    tag: str = ""
    owner: str | None = None
    site: str | None = None
    unit: str = ""
    medium: str | None = None
    verdict: str = ""
    due_by: dt.date | None = None
    overdue: bool = False
    without_interval: bool = False


def list_due(store: Store, asked: DueAsked, *, limit: int, offset: int = 0) -> tuple[dt.date, list[Listed]]:
    """Give the due list.

    Parameters
    ----------
    store : Store
    asked : DueAsked
    limit, offset : int

    Returns
    -------
    today : date
        At the site asked for, else in UTC.
    lines : list of Listed

    Raises
    ------
    FirstliftError
        REG-028 no such owner or site.
    """
    with store.read() as reader:
        owner = find_entry(reader, "owner", asked.owner) if asked.owner else None
        site: Site | None = find_entry(reader, "site", asked.site) if asked.site else None
        today = now().astimezone(ZoneInfo(site.zone) if site else dt.UTC).date()
        wanted = Wanted(
            tag=asked.tag,
            owner_id=owner.id if owner else None,
            site_id=site.id if site else None,
            unit=asked.unit,
            medium=Medium(asked.medium) if asked.medium else None,
            last_verdict=asked.verdict,
            due_by=asked.due_by,
        )
        if asked.without_interval:
            return today, without_interval(reader, wanted, limit=limit, offset=offset)
        if asked.overdue:
            yesterday = today - dt.timedelta(days=1)
            latest = yesterday if asked.due_by is None else min(yesterday, asked.due_by)
            wanted = dataclasses.replace(wanted, due_by=latest)
        return today, due_list(reader, wanted, limit=limit, offset=offset)
