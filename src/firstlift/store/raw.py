"""Whether a row's cells are written as this release writes them.

Two texts may mean one value: an identifier in other letters, a JSON with a space more. The chain's hash covers the
value; here the cells themselves are held to the one way of writing it, so that no changed byte goes unseen.
"""

from __future__ import annotations

import datetime as dt
import json
from collections.abc import Sequence
from typing import Any
from uuid import UUID

import sqlalchemy as sa

_PREFIX = "raw_"


def with_raw(connection: sa.Connection, columns: Sequence[Any]) -> list[Any]:
    """Give columns, each with its bare cell beside it where the engine may hold it written in several ways.

    Parameters
    ----------
    connection : Connection
    columns : sequence of Column

    Returns
    -------
    list
        PostgreSQL has types of its own for all but JSON, and writes each value one way.
    """
    if connection.dialect.name == "sqlite":
        raw = [sa.type_coerce(column, sa.types.NULLTYPE).label(_PREFIX + column.name) for column in columns]
    else:
        raw = [
            sa.cast(column, sa.Text()).label(_PREFIX + column.name)
            for column in columns
            if isinstance(column.type, sa.JSON)
        ]
    return [*columns, *raw]


def written_otherwise(row: sa.RowMapping) -> str | None:
    """Name a column whose cell is not written as this release writes its value.

    Parameters
    ----------
    row : RowMapping
        Of columns from `with_raw`.

    Returns
    -------
    str or None
    """
    for name, raw in row.items():
        if str(name).startswith(_PREFIX):
            column = str(name).removeprefix(_PREFIX)
            expected = _cell(row[column])
            if type(raw) is not type(expected) or raw != expected:
                return column
    return None


def _cell(value: Any) -> Any:
    if isinstance(value, UUID):
        return value.hex
    if isinstance(value, bool):
        return int(value)
    if isinstance(value, dt.date):
        return value.isoformat()
    if isinstance(value, (list, dict)):
        return json.dumps(value)
    return value
