"""Where each valve stands today: its place, when it is due, what its last test said.

Made from the entries and brought up with every change, so that lists and searches ask one table.
"""

from __future__ import annotations

import datetime as dt
from collections import defaultdict
from collections.abc import Collection, Iterator, Sequence
from typing import Any
from uuid import UUID

import sqlalchemy as sa

from firstlift.core.register.choose import due_date, interval_in_force, search_key
from firstlift.core.register.equipment import Installation, RegisteredValve
from firstlift.core.register.places import Interval, Position
from firstlift.core.register.work import HowTested, ValveTest
from firstlift.store.tables import TABLES, standing_table

_CHUNK = 400


def note_touched(entry: Any, valves: set[UUID], positions: set[UUID]) -> None:
    """Remember the valve or position whose standing an entry moves.

    Parameters
    ----------
    entry : Any
    valves, positions : set of UUID
        Added to.
    """
    if isinstance(entry, RegisteredValve):
        valves.add(entry.id)
    elif isinstance(entry, (Installation, ValveTest)):
        valves.add(entry.valve_id)
    elif isinstance(entry, Position):
        positions.add(entry.id)
    elif isinstance(entry, Interval):
        positions.add(entry.position_id)


def refresh_standing(connection: sa.Connection, valves: Collection[UUID], positions: Collection[UUID]) -> None:
    """Make the standing of valves anew from the entries.

    Parameters
    ----------
    connection : Connection
        Of the unit of work.
    valves, positions : collection of UUID
        Whose standing may have moved; of a position, the valve that hangs there.
    """
    wanted = set(valves)
    installation = TABLES["installation"]
    for chunk in _chunks(positions):
        query = sa.select(installation.c.valve_id).where(
            installation.c.position_id.in_(chunk), installation.c.until.is_(None)
        )
        wanted.update(connection.execute(query).scalars())
    for chunk in _chunks(wanted):
        rows = standing_rows(connection, chunk)
        connection.execute(sa.delete(standing_table).where(standing_table.c.valve_id.in_(chunk)))
        connection.execute(sa.insert(standing_table), rows)


def standing_rows(connection: sa.Connection, valves: Sequence[UUID]) -> list[dict[str, Any]]:
    """Work out where valves stand.

    Parameters
    ----------
    connection : Connection
    valves : sequence of UUID
        At most some hundred.

    Returns
    -------
    list of dict
        Rows of the table of standings, by valve.
    """
    places = {row["valve_id"]: row for row in connection.execute(_places(valves)).mappings()}
    intervals = _intervals(connection, [row["position_id"] for row in places.values() if row["position_id"]])
    last = {row["valve_id"]: row for row in connection.execute(_last_tests(valves, real=False)).mappings()}
    real = {row["valve_id"]: row for row in connection.execute(_last_tests(valves, real=True)).mappings()}
    rows = []
    for valve in sorted(places):
        place = places[valve]
        rows.append(_standing(place, intervals.get(place["position_id"], []), last.get(valve), real.get(valve)))
    return rows


def _standing(
    place: sa.RowMapping,
    intervals: Sequence[Interval],
    last: sa.RowMapping | None,
    real: sa.RowMapping | None,
) -> dict[str, Any]:
    hangs = place["position_id"] is not None
    tested: dt.date | None = real["day"] if real else None
    # an interval is entered once it holds (see Work.add), so that the last one is the one in force
    interval = interval_in_force(intervals, dt.date.max)
    return {
        "valve_id": place["valve_id"],
        "active": bool(place["valve_active"] and hangs and place["position_active"]),
        "serial_key": place["serial_key"],
        "owner_id": place["owner_id"],
        "position_id": place["position_id"],
        "site_id": place["site_id"],
        "tag_key": place["tag_key"],
        "unit_key": search_key(place["unit"]) if hangs else None,
        "medium": place["medium"],
        "due": due_date(interval, tested, place["since"]),
        "last_test_id": real["id"] if real else None,
        "last_day": tested,
        "last_verdict": real["verdict"] if real else None,
        "last_disposition": real["disposition"] if real else None,
        "not_tested": last["not_tested"] if last else None,
    }


def _places(valves: Sequence[UUID]) -> sa.Select[*tuple[Any, ...]]:
    valve, installation, position = TABLES["valve"], TABLES["installation"], TABLES["position"]
    hangs = sa.and_(installation.c.valve_id == valve.c.id, installation.c.until.is_(None))
    return (
        sa.select(
            valve.c.id.label("valve_id"),
            valve.c.active.label("valve_active"),
            valve.c.serial_key,
            valve.c.owner_id,
            installation.c.since,
            position.c.id.label("position_id"),
            position.c.active.label("position_active"),
            position.c.site_id,
            position.c.tag_key,
            position.c.unit,
            position.c.medium,
        )
        .select_from(valve.outerjoin(installation, hangs).outerjoin(position))
        .where(valve.c.id.in_(valves))
    )


def _intervals(connection: sa.Connection, positions: Sequence[UUID]) -> dict[UUID, list[Interval]]:
    table = TABLES["interval"]
    found: dict[UUID, list[Interval]] = defaultdict(list)
    for chunk in _chunks(positions):
        query = sa.select(table).where(table.c.position_id.in_(chunk))
        for row in connection.execute(query).mappings():
            found[row["position_id"]].append(Interval(**row))
    return found


def _last_tests(valves: Sequence[UUID], *, real: bool) -> sa.Select[*tuple[Any, ...]]:
    """Ask for each valve's last test that no other supersedes; a test that was none counts where asked."""
    test = TABLES["valve_test"]
    later = test.alias("later")
    # the valve is named too (a correction is of the same one): an index over it is always good, one over
    # supersedes looks useless to a planner while nearly all of its rows are empty
    superseded = sa.exists().where(later.c.valve_id == test.c.valve_id, later.c.supersedes == test.c.id)
    order = sa.func.row_number().over(partition_by=test.c.valve_id, order_by=(test.c.at.desc(), test.c.id.desc()))
    columns = [test.c[name] for name in ("id", "valve_id", "day", "verdict", "disposition", "not_tested")]
    query = sa.select(*columns, order.label("place")).where(test.c.valve_id.in_(valves), ~superseded)
    if real:
        query = query.where(test.c.kind != str(HowTested.NOT_TESTED))
    ranked = query.subquery()
    return sa.select(ranked).where(ranked.c.place == 1)


def _chunks(ids: Collection[UUID]) -> Iterator[list[UUID]]:
    ordered = sorted(ids)
    for first in range(0, len(ordered), _CHUNK):
        yield ordered[first : first + _CHUNK]
