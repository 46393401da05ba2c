"""All there is to tell of one entry: itself, its changes, and of a valve or position its tests."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import sqlalchemy as sa

from firstlift.core.register.equipment import RegisteredValve
from firstlift.core.register.places import Position
from firstlift.store.history import PastTest, past_tests
from firstlift.store.read import Reader
from firstlift.store.tables import audit_table


@dataclass(frozen=True, slots=True)
class Told:
    """An entry, its changes (number, at, who, action), and its tests, the latest first."""

    entry: Any
    changes: list[dict[str, Any]]
    tests: list[PastTest]


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
    return Told(entry, changes, tests)
