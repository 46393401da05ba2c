"""Get and list entries: what is committed, or, inside a unit of work, what it has done so far."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from pathlib import Path
from typing import Any, TypeVar, cast
from uuid import UUID

import sqlalchemy as sa

from firstlift.core.errors import FirstliftError, Problem
from firstlift.core.register.choose import search_key
from firstlift.core.register.codec import from_plain
from firstlift.core.register.kinds import NAME_OF
from firstlift.store.columns import plain_of_row
from firstlift.store.tables import KEYS, TABLES, columns_of

E = TypeVar("E")


class Reader:
    """Reads entries through one connection. ``store_id`` is the store's, ``folder`` where its files lie."""

    def __init__(self, connection: sa.Connection, store_id: UUID, folder: Path) -> None:
        self.connection = connection
        self.store_id = store_id
        self.folder = folder

    def find(self, kind: type[E], entry_id: UUID) -> E | None:
        """Give an entry by its identifier, or None."""
        name = NAME_OF[kind]
        query = sa.select(*columns_of(name)).where(TABLES[name].c.id == entry_id)
        row = self.connection.execute(query).mappings().first()
        return None if row is None else _entry(kind, row)

    def get(self, kind: type[E], entry_id: UUID) -> E:
        """Give an entry by its identifier; REG-010 where there is none."""
        entry = self.find(kind, entry_id)
        if entry is None:
            raise FirstliftError(
                Problem(
                    "REG-010", f"the register has no {_said(kind)} {entry_id}", needed="one that is in the register"
                )
            )
        return entry

    def list(
        self, kind: type[E], *, order: Sequence[str] = ("id",), limit: int | None = None, offset: int = 0, **equal: Any
    ) -> list[E]:
        """Give entries of a kind whose fields equal what is named, in an order of fields ("-at": falling).

        A frozenset names several values, of which a field is to be one: one question then serves a whole page.
        """
        name = NAME_OF[kind]
        query = sa.select(*columns_of(name)).where(*_conditions(name, equal)).order_by(*_order(name, order))
        if limit is not None:
            query = query.limit(limit)
        if offset:
            query = query.offset(offset)
        return [_entry(kind, row) for row in self.connection.execute(query).mappings()]

    def stream(self, kind: type[E], *, chunk: int = 1000) -> Iterator[E]:
        """Give all entries of a kind by identifier, a chunk at a time, so that a large register fits in memory."""
        for row in rows_by_id(self.connection, NAME_OF[kind], chunk=chunk):
            yield _entry(kind, row)

    def by_key(self, kind: type[E], text: str, **equal: Any) -> list[E]:
        """Give the entries whose tag, serial or name is ``text``, whatever its case or width of letters."""
        key = next(iter(KEYS[NAME_OF[kind]]))
        return self.list(kind, **{key: search_key(text)}, **equal)

    def count(self, kind: type[Any], **equal: Any) -> int:
        """Count the entries of a kind whose fields equal what is named."""
        name = NAME_OF[kind]
        query = sa.select(sa.func.count()).select_from(TABLES[name]).where(*_conditions(name, equal))
        return int(self.connection.execute(query).scalar_one())


def rows_by_id(connection: sa.Connection, name: str, *, chunk: int = 1000) -> Iterator[Mapping[str, Any]]:
    """Give all rows of a kind by identifier, a chunk at a time.

    Parameters
    ----------
    connection : Connection
    name : str
        The kind's name.
    chunk : int

    Returns
    -------
    iterator of mapping
        Column name to value; the entry's own fields only.
    """
    table, last = TABLES[name], None
    while True:
        query = sa.select(*columns_of(name)).order_by(table.c.id).limit(chunk)
        if last is not None:
            query = query.where(table.c.id > last)
        rows = connection.execute(query).mappings().all()
        yield from cast("Sequence[Mapping[str, Any]]", rows)
        if len(rows) < chunk:
            return
        last = rows[-1]["id"]


def _entry(kind: type[E], row: Any) -> E:
    return from_plain(kind, plain_of_row(kind, row), NAME_OF[kind])


def _conditions(name: str, equal: Mapping[str, Any]) -> list[sa.ColumnElement[bool]]:
    return [_condition(TABLES[name].c[key], value) for key, value in equal.items()]


def _condition(column: sa.Column[Any], value: Any) -> sa.ColumnElement[bool]:
    if value is None:
        return column.is_(None)
    return column.in_(sorted(value)) if isinstance(value, frozenset) else column == value


def _order(name: str, order: Sequence[str]) -> list[sa.ColumnElement[Any]]:
    table = TABLES[name]
    return [table.c[field[1:]].desc() if field.startswith("-") else table.c[field].asc() for field in order]


def _said(kind: type[Any]) -> str:
    return NAME_OF[kind].replace("_", " ")
