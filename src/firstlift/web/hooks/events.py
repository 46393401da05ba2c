"""Events that others wait for, read from the register's chain: none is lost, whoever made it and by which command.

The chain is the list of what happened; an event's number is its place there. So who follows it sees each event once, in
order, and can begin again where they left off.
"""

from __future__ import annotations

import datetime as dt
import json
from collections.abc import Mapping
from dataclasses import dataclass
from enum import StrEnum
from typing import Any
from uuid import UUID

import sqlalchemy as sa

from firstlift.core.register.codec import parse_instant
from firstlift.core.register.equipment import RegisteredValve
from firstlift.core.register.places import Position
from firstlift.core.register.work import ValveTest
from firstlift.store.read import Reader
from firstlift.store.tables import audit_table

_CHUNK = 500


class EventKind(StrEnum):
    """What is told."""

    CERTIFICATE_ISSUED = "certificate-issued"
    FOUND_OUTSIDE = "found-outside"
    FOUND_UNFIT = "found-unfit"


@dataclass(frozen=True, slots=True)
class Event:
    """Something others wait for; ``number`` is its place in the register's chain, pressures in Pa, gauge.

    ``certificate`` is its number where one was issued.
    """

    number: int
    id: str
    type: EventKind
    timestamp: dt.datetime
    test_id: UUID
    valve_id: UUID
    serial: str
    tag: str | None
    day: dt.date
    purpose: str
    verdict: str
    disposition: str
    set_pressure_pa: float | None
    expanded_uncertainty_pa: float | None
    lower_bound_pa: float | None
    certificate: str | None


def kind_of(kind: str, action: str, before: Mapping[str, Any], after: Mapping[str, Any]) -> EventKind | None:
    """Say whether an entry of the chain is an event, and which.

    Parameters
    ----------
    kind, action : str
    before, after : mapping
        The entry's forms in the chain; empty where there was none.

    Returns
    -------
    EventKind or None
    """
    if kind == "certificate":
        issued = after.get("state") == "issued" and before.get("state") != "issued"
        return EventKind.CERTIFICATE_ISSUED if issued else None
    if kind != "valve_test" or action != "add":
        return None
    if after.get("verdict") == "outside":
        return EventKind.FOUND_OUTSIDE
    # stuck, leaking or left open: graver than a value out of its limits, and there may be no value at all
    return EventKind.FOUND_UNFIT if after.get("disposition") in ("unfit", "inoperable") else None


def events_after(reader: Reader, after: int, most: int) -> tuple[list[Event], int]:
    """Give the events behind a place of the chain.

    Parameters
    ----------
    reader : Reader
    after : int
    most : int

    Returns
    -------
    list of Event, int
        In order; and the place to go on from.
    """
    found: list[Event] = []
    table = audit_table.c
    while len(found) < most:
        query = (
            sa.select(table.number, table.at, table.action, table.kind, table.entry_id, table.before, table.after)
            .where(table.number > after, table.kind.in_(("certificate", "valve_test")))
            .order_by(table.number)
            .limit(_CHUNK)
        )
        rows = reader.connection.execute(query).mappings().all()
        for row in rows:
            after = row["number"]
            event = _event(reader, row)
            if event is not None:
                found.append(event)
                if len(found) == most:
                    break
        if len(rows) < _CHUNK:
            break
    return found, int(after)


def _event(reader: Reader, row: Any) -> Event | None:
    before, after = (json.loads(row[side]) if row[side] else {} for side in ("before", "after"))
    kind = kind_of(row["kind"], row["action"], before, after)
    if kind is None:
        return None
    issued = kind is EventKind.CERTIFICATE_ISSUED
    test = reader.get(ValveTest, UUID(after["test_id"]) if issued else row["entry_id"])
    position = reader.find(Position, test.position_id) if test.position_id else None
    return Event(
        row["number"],
        f"{reader.store_id}.{row['number']}",
        kind,
        parse_instant(row["at"]),
        test.id,
        test.valve_id,
        reader.get(RegisteredValve, test.valve_id).serial,
        position.tag if position else None,
        test.day,
        str(test.purpose),
        test.verdict,
        test.disposition,
        test.set_pressure_pa,
        test.expanded_uncertainty_pa,
        test.lower_bound_pa,
        str(after["text"]) if issued else None,
    )
