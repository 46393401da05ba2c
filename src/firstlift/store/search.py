"""Lists that are asked every day: search, the due list, a site at a glance. All answer from the standings."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass
from typing import Any
from uuid import UUID

import sqlalchemy as sa

from firstlift.core.register.choose import search_key
from firstlift.core.valve import Medium
from firstlift.store.read import Reader
from firstlift.store.tables import TABLES, standing_table

# behind every character a text may hold: the end of a range of keys that begin alike
_BEHIND = "\U0010ffff"


@dataclass(frozen=True, slots=True)
class Wanted:
    """What a search asks for; what is not stated does not matter.

    ``tag`` and ``serial`` are beginnings, whatever their case. ``due_by``: due on that date or before.
    ``active``: hangs at a position in use (None: all, those in the workshop too).
    """

    tag: str = ""
    serial: str = ""
    owner_id: UUID | None = None
    site_id: UUID | None = None
    unit: str = ""
    medium: Medium | None = None
    last_verdict: str = ""
    due_by: dt.date | None = None
    active: bool | None = None


@dataclass(frozen=True, slots=True)
class Listed:
    """A valve in a list. Pressures as the nameplate writes them; None where it hangs nowhere or has no test."""

    valve_id: UUID
    serial: str
    set_pressure: str
    owner: str
    active: bool
    position_id: UUID | None
    tag: str | None
    site: str | None
    unit: str | None
    medium: str | None
    due: dt.date | None
    last_test_id: UUID | None
    last_day: dt.date | None
    last_verdict: str | None
    last_disposition: str | None
    not_tested: str | None


@dataclass(frozen=True, slots=True)
class SiteSummary:
    """A site at a glance, of the valves in use there. ``verdicts``: how many by last verdict ("" none yet)."""

    site_id: UUID
    valves: int
    overdue: int
    without_date: int
    not_tested: int
    verdicts: dict[str, int]


def search(reader: Reader, wanted: Wanted, *, limit: int = 50, offset: int = 0) -> list[Listed]:
    """Find valves, by tag and then serial.

    Parameters
    ----------
    reader : Reader
    wanted : Wanted
    limit, offset : int

    Returns
    -------
    list of Listed
    """
    order = (standing_table.c.tag_key, standing_table.c.valve_id)
    if wanted.serial and not wanted.tag:
        order = (standing_table.c.serial_key, standing_table.c.valve_id)
    return _listed(reader, wanted, order, limit, offset)


def due_list(reader: Reader, wanted: Wanted, *, limit: int = 100, offset: int = 0) -> list[Listed]:
    """Give the valves in use that have a due date, the most urgent first.

    Parameters
    ----------
    reader : Reader
    wanted : Wanted
        ``due_by`` bounds it; ``active`` plays no part.
    limit, offset : int

    Returns
    -------
    list of Listed
    """
    table = standing_table
    only = (table.c.active.is_(True), table.c.due.is_not(None))
    return _listed(reader, wanted, (table.c.due, table.c.valve_id), limit, offset, *only)


def count(reader: Reader, wanted: Wanted) -> int:
    """Count what a search would find.

    Parameters
    ----------
    reader : Reader
    wanted : Wanted

    Returns
    -------
    int
    """
    query = sa.select(sa.func.count()).select_from(standing_table).where(*_conditions(wanted))
    return int(reader.connection.execute(query).scalar_one())


def without_interval(reader: Reader, wanted: Wanted, *, limit: int = 100, offset: int = 0) -> list[Listed]:
    """Give the valves in use that have no due date, because no interval is in force for their position.

    Parameters
    ----------
    reader : Reader
    wanted : Wanted
    limit, offset : int

    Returns
    -------
    list of Listed
    """
    table = standing_table
    only = (table.c.active.is_(True), table.c.due.is_(None))
    return _listed(reader, wanted, (table.c.tag_key, table.c.valve_id), limit, offset, *only)


def site_summary(reader: Reader, site_id: UUID, *, on: dt.date) -> SiteSummary:
    """Give a site at a glance.

    Parameters
    ----------
    reader : Reader
    site_id : UUID
    on : date
        Local at the site; due before it is overdue.

    Returns
    -------
    SiteSummary
    """
    table = standing_table
    verdict = sa.func.coalesce(table.c.last_verdict, "")
    query = (
        sa.select(
            verdict,
            sa.func.count(),
            sa.func.sum(sa.case((table.c.due < on, 1), else_=0)),
            sa.func.sum(sa.case((table.c.due.is_(None), 1), else_=0)),
            sa.func.sum(sa.case((table.c.not_tested.is_not(None), 1), else_=0)),
        )
        .where(table.c.site_id == site_id, table.c.active.is_(True))
        .group_by(verdict)
    )
    rows = reader.connection.execute(query).all()
    totals = [sum(int(row[column]) for row in rows) for column in (1, 2, 3, 4)]
    return SiteSummary(site_id, *totals, verdicts={row[0]: int(row[1]) for row in sorted(rows)})


def _listed(
    reader: Reader, wanted: Wanted, order: tuple[Any, ...], limit: int, offset: int, *only: sa.ColumnElement[bool]
) -> list[Listed]:
    """Cut the page out of the standings first, then fetch the names that go with it."""
    page = (
        sa.select(standing_table)
        .where(*only, *_conditions(wanted))
        .order_by(*order)
        .limit(limit)
        .offset(offset)
        .subquery()
    )
    valve, owner, position, site = (TABLES[name] for name in ("valve", "owner", "position", "site"))
    columns = [page.c[name] for name in Listed.__dataclass_fields__ if name in page.c]
    named = [valve.c.serial, valve.c.set_pressure, owner.c.name.label("owner"), position.c.tag, position.c.unit]
    query = (
        sa.select(*columns, *named, site.c.name.label("site"))
        .select_from(page)
        .join(valve, valve.c.id == page.c.valve_id)
        .join(owner, owner.c.id == page.c.owner_id)
        .outerjoin(position, position.c.id == page.c.position_id)
        .outerjoin(site, site.c.id == page.c.site_id)
        .order_by(*(page.c[column.name] for column in order))
    )
    return [Listed(**row) for row in reader.connection.execute(query).mappings()]


def _conditions(wanted: Wanted) -> list[sa.ColumnElement[bool]]:
    table = standing_table
    found: list[sa.ColumnElement[bool]] = []
    for column, text in ((table.c.tag_key, wanted.tag), (table.c.serial_key, wanted.serial)):
        if text:
            key = search_key(text)
            found += [column >= key, column < key + _BEHIND]
    equal = {
        "owner_id": wanted.owner_id,
        "site_id": wanted.site_id,
        "unit_key": search_key(wanted.unit) or None,
        "medium": str(wanted.medium) if wanted.medium else None,
        "last_verdict": wanted.last_verdict or None,
        "active": wanted.active,
    }
    found += [table.c[name] == value for name, value in equal.items() if value is not None]
    if wanted.due_by is not None:
        found.append(table.c.due <= wanted.due_by)
    return found
