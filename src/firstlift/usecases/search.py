"""Search the register by what people know: names, how a tag or serial begins, what is overdue."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass, replace
from typing import TypeVar
from zoneinfo import ZoneInfo

from firstlift.core.errors import FirstliftError, Problem
from firstlift.core.register.places import Owner, Site
from firstlift.core.valve import Medium
from firstlift.formats.sheet_table import did_you_mean
from firstlift.store.open import Store
from firstlift.store.read import Reader
from firstlift.store.search import Listed, SiteSummary, Wanted, count, search, site_summary

_Named = TypeVar("_Named", Owner, Site)


@dataclass(frozen=True, slots=True)
class Asked:
    """What is looked for; what is not stated does not matter. ``text`` begins a tag or, where none does, a serial."""

    text: str = ""
    serial: str = ""
    owner: str = ""
    site: str = ""
    unit: str = ""
    medium: str | None = None
    verdict: str = ""
    overdue: bool = False
    everywhere: bool = False


@dataclass(frozen=True, slots=True)
class Found:
    """A page of what was found, and how many there are. ``today``: what overdue is measured by."""

    lines: tuple[Listed, ...]
    total: int
    today: dt.date


def search_valves(store: Store, asked: Asked, *, at: dt.datetime, limit: int, offset: int = 0) -> Found:
    """Find valves.

    Parameters
    ----------
    store : Store
    asked : Asked
    at : datetime
        Now; overdue is measured by its date at the site asked for, else by UTC's.
    limit, offset : int

    Returns
    -------
    Found

    Raises
    ------
    FirstliftError
        FND-001 the register has no such owner or site.
    """
    with store.read() as reader:
        site = _named(reader, Site, asked.site, "--site") if asked.site else None
        owner = _named(reader, Owner, asked.owner, "--owner") if asked.owner else None
        today = at.astimezone(ZoneInfo(site.zone) if site else dt.UTC).date()
        wanted = Wanted(
            tag="" if asked.serial else asked.text,
            serial=asked.serial,
            owner_id=owner.id if owner else None,
            site_id=site.id if site else None,
            unit=asked.unit,
            medium=Medium(asked.medium) if asked.medium else None,
            last_verdict=asked.verdict,
            due_by=today - dt.timedelta(days=1) if asked.overdue else None,
            active=None if asked.everywhere else True,
        )
        total = count(reader, wanted)
        if total == 0 and asked.text and not asked.serial:
            wanted = replace(wanted, tag="", serial=asked.text)
            total = count(reader, wanted)
        return Found(tuple(search(reader, wanted, limit=limit, offset=offset)), total, today)


def sites_at_a_glance(store: Store, *, site: str, owner: str, at: dt.datetime) -> list[tuple[Site, Owner, SiteSummary]]:
    """Sum up sites: one by its name, those of an owner, or all.

    Parameters
    ----------
    store : Store
    site, owner : str
        Empty where it does not matter.
    at : datetime

    Returns
    -------
    list of (Site, Owner, SiteSummary)

    Raises
    ------
    FirstliftError
        FND-001 the register has no such owner or site.
    """
    with store.read() as reader:
        if site:
            sites = [_named(reader, Site, site, "--site")]
        elif owner:
            sites = reader.list(Site, owner_id=_named(reader, Owner, owner, "--owner").id, order=("name_key",))
        else:
            sites = reader.list(Site, order=("name_key",))
        return [
            (one, reader.get(Owner, one.owner_id), site_summary(reader, one.id, on=_today(at, one))) for one in sites
        ]


def _today(at: dt.datetime, site: Site) -> dt.date:
    return at.astimezone(ZoneInfo(site.zone)).date()


def _named(reader: Reader, kind: type[_Named], name: str, option: str) -> _Named:
    found = reader.by_key(kind, name)
    if len(found) == 1:
        return found[0]
    said = kind.__name__.lower()
    if found:
        owners = (reader.get(Owner, one.owner_id) for one in found if isinstance(one, Site))
        names = ", ".join(f"'{owner.name}'" for owner in owners)
        what, next_step = f"{len(found)} sites are named '{name}', of {names}", "Rename one, or search by tag"
    else:
        known = [one.name for one in reader.list(kind, order=("name_key",), limit=500)]
        what, next_step = f"the register has no {said} '{name}'", did_you_mean(name, known)
    raise FirstliftError(Problem("FND-001", what, option, f"one {said} by its name", next_step))
