"""Lists that are asked every day: search, the due list, a site at a glance. All answer from the standings."""

from __future__ import annotations

import dataclasses
import datetime as dt
import functools
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
    order = "serial_key" if wanted.serial and not wanted.tag else "tag_key"
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
    return _listed(reader, dataclasses.replace(wanted, active=None), "due", limit, offset, "due")


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
    values = _values(wanted)
    query = sa.select(sa.func.count()).select_from(standing_table).where(*_conditions(frozenset(values)))
    return int(reader.connection.execute(query, values).scalar_one())


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
    return _listed(reader, dataclasses.replace(wanted, active=None), "tag_key", limit, offset, "no date")


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
    rows = reader.connection.execute(_summary(), {"site_id": site_id, "today": on}).all()
    totals = [sum(int(row[column]) for row in rows) for column in (1, 2, 3, 4)]
    return SiteSummary(site_id, *totals, verdicts={row[0]: int(row[1]) for row in sorted(rows)})


def _listed(reader: Reader, wanted: Wanted, order: str, limit: int, offset: int, only: str = "") -> list[Listed]:
    values = _values(wanted)
    query = _page(frozenset(values), order, only)
    rows = reader.connection.execute(query, {**values, "most": limit, "first": offset})
    return [Listed(*row) for row in rows]


_KEYS = {"tag": "tag_key", "serial": "serial_key"}
_ONLY = {"": (), "due": (standing_table.c.due.is_not(None),), "no date": (standing_table.c.due.is_(None),)}


@functools.cache
def _page(asked: frozenset[str], order: str, only: str) -> sa.Select[*tuple[Any, ...]]:
    """Make a question once: building it takes longer than most answers.

    The page is cut out of the standings first, then the names that go with it are fetched.
    """
    table = standing_table
    used = (table.c.active.is_(True),) if only else ()
    page = (
        sa.select(table)
        .where(*used, *_ONLY[only], *_conditions(asked))
        .order_by(table.c[order], table.c.valve_id)
        .limit(sa.bindparam("most", type_=sa.Integer()))
        .offset(sa.bindparam("first", type_=sa.Integer()))
        .subquery()
    )
    valve, owner, position, site = (TABLES[name] for name in ("valve", "owner", "position", "site"))
    named = {
        "serial": valve.c.serial,
        "set_pressure": valve.c.set_pressure,
        "owner": owner.c.name,
        "tag": position.c.tag,
        "unit": position.c.unit,
        "site": site.c.name,
    }
    # in the order of the fields: a row is then a line as it stands
    columns = [named[name] if name in named else page.c[name] for name in Listed.__dataclass_fields__]
    return (
        sa.select(*columns)
        .select_from(page)
        .join(valve, valve.c.id == page.c.valve_id)
        .join(owner, owner.c.id == page.c.owner_id)
        .outerjoin(position, position.c.id == page.c.position_id)
        .outerjoin(site, site.c.id == page.c.site_id)
        .order_by(page.c[order], page.c.valve_id)
    )


def _values(wanted: Wanted) -> dict[str, Any]:
    """Give what is asked for, by the name of its condition."""
    values: dict[str, Any] = {}
    for name, text in (("tag", wanted.tag), ("serial", wanted.serial)):
        if text:
            values[name] = search_key(text)
            values[f"{name}_end"] = values[name] + _BEHIND
    plain = {
        "owner_id": wanted.owner_id,
        "site_id": wanted.site_id,
        "unit_key": search_key(wanted.unit) or None,
        "medium": str(wanted.medium) if wanted.medium else None,
        "last_verdict": wanted.last_verdict or None,
        "active": wanted.active,
        "due_by": wanted.due_by,
    }
    return values | {name: value for name, value in plain.items() if value is not None}


def _conditions(asked: frozenset[str]) -> list[sa.ColumnElement[bool]]:
    table = standing_table
    found: list[sa.ColumnElement[bool]] = []
    for name in sorted(asked):
        if name in _KEYS:
            column = table.c[_KEYS[name]]
            found += [column >= sa.bindparam(name), column < sa.bindparam(f"{name}_end")]
        elif name == "due_by":
            found.append(table.c.due <= sa.bindparam(name))
        elif not name.endswith("_end"):
            found.append(table.c[name] == sa.bindparam(name))
    return found


@functools.cache
def _summary() -> sa.Select[*tuple[Any, ...]]:
    table = standing_table
    verdict = sa.func.coalesce(table.c.last_verdict, "")
    return (
        sa.select(
            verdict,
            sa.func.count(),
            sa.func.sum(sa.case((table.c.due < sa.bindparam("today"), 1), else_=0)),
            sa.func.sum(sa.case((table.c.due.is_(None), 1), else_=0)),
            sa.func.sum(sa.case((table.c.not_tested.is_not(None), 1), else_=0)),
        )
        .where(table.c.site_id == sa.bindparam("site_id"), table.c.active.is_(True))
        .group_by(verdict)
    )
