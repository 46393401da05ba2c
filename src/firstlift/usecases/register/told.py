"""All there is to tell of one entry: itself, its changes, and of a valve or position its tests."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import sqlalchemy as sa

from firstlift.core.register.equipment import RegisteredValve
from firstlift.core.register.places import Position
from firstlift.core.register.work import ValveTest
from firstlift.store.history import PastTest, past_tests
from firstlift.store.read import Reader
from firstlift.store.tables import audit_table
from firstlift.usecases.register.confirmed import Confirmed, confirmed_of


@dataclass(frozen=True, slots=True)
class Told:
    """An entry, its changes (number, at, who, action), its tests, the latest first; of a test its hold points."""

    entry: Any
    changes: list[dict[str, Any]]
    tests: list[PastTest]
    confirmed: tuple[Confirmed, ...] = ()


def tell(reader: Reader, entry: Any) -> Told:
    """Tell all of an entry.

    Parameters
    ----------
    reader : Reader
    entry : Any

    Returns
    -------
    Told
    """
    columns = [audit_table.c[name] for name in ("number", "at", "who", "action")]
    query = sa.select(*columns).where(audit_table.c.entry_id == entry.id).order_by(audit_table.c.number)
    changes = [dict(row) for row in reader.connection.execute(query).mappings()]
    tests: list[PastTest] = []
    if isinstance(entry, RegisteredValve):
        tests = past_tests(reader, valve_id=entry.id)
    elif isinstance(entry, Position):
        tests = past_tests(reader, position_id=entry.id)
    confirmed = confirmed_of(reader, entry) if isinstance(entry, ValveTest) else ()
    return Told(entry, changes, tests, confirmed)
