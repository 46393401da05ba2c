"""A whole register on the move: out of a store or an export, into a new store or an export, row by row.

Rows go in the order in which the chain first names them, so that each comes after what it refers to.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any, TypeVar
from uuid import UUID

import sqlalchemy as sa

from firstlift.core.errors import FirstliftError, Problem
from firstlift.core.register.chain import Entry
from firstlift.core.register.kinds import KINDS
from firstlift.store.audit import named_files
from firstlift.store.columns import plain_of_row
from firstlift.store.files import stretches_kept
from firstlift.store.read import Reader
from firstlift.store.schema import HEAD, step_of, upgrade
from firstlift.store.standing import refresh_standing
from firstlift.store.tables import TABLES, audit_table, columns_of, store_table, test_instrument_table
from firstlift.store.work import instrument_rows, row_with_keys

_CHUNK = 500
T = TypeVar("T")


@dataclass(frozen=True, slots=True)
class Portable:
    """A register as streams. ``rows`` gives plain forms of a kind, ``file`` the bytes of a kept file."""

    store_id: UUID
    made_at: str
    count: int
    head_sha256: str
    rows: Callable[[str], Iterator[Mapping[str, Any]]]
    entries: Callable[[], Iterator[Entry]]
    files: tuple[str, ...]
    file: Callable[[str], Iterator[bytes]]


def portable_store(reader: Reader) -> Portable:
    """Give a store's register as streams, as it stands at one moment.

    Parameters
    ----------
    reader : Reader

    Returns
    -------
    Portable
    """
    connection = reader.connection
    head = connection.execute(sa.select(store_table)).mappings().one()
    return Portable(
        head["id"],
        head["made_at"],
        int(head["entries"]),
        head["head_sha256"],
        lambda name: _rows(connection, name),
        lambda: _entries(connection),
        tuple(sorted(named_files(connection))),
        lambda sha256: stretches_kept(reader.folder, sha256),
    )


def fill_store(connection: sa.Connection, register: Portable, said: str) -> None:
    """Make the schema in an empty database and fill it with a register, in the connection's transaction.

    Parameters
    ----------
    connection : Connection
    register : Portable
    said : str
        The target, said in messages.

    Raises
    ------
    FirstliftError
        STO-003 there is a register already.
    """
    if step_of(connection) is not None:
        raise FirstliftError(Problem("STO-003", "there is a register already", said, "an empty place"))
    upgrade(connection, HEAD)
    connection.execute(
        sa.insert(store_table).values(
            id=register.store_id, made_at=register.made_at, entries=register.count, head_sha256=register.head_sha256
        )
    )
    for name, kind in KINDS.items():
        for chunk in _chunks(register.rows(name)):
            connection.execute(sa.insert(TABLES[name]), [row_with_keys(kind, plain) for plain in chunk])
            if name == "valve_test":
                used = instrument_rows((UUID(plain["id"]), plain["instruments"]) for plain in chunk)
                if used:
                    connection.execute(sa.insert(test_instrument_table), used)
    names = [column.name for column in audit_table.columns]
    for chunk in _chunks(register.entries()):
        connection.execute(sa.insert(audit_table), [{name: getattr(entry, name) for name in names} for entry in chunk])
    valve = TABLES["valve"]
    refresh_standing(connection, connection.execute(sa.select(valve.c.id)).scalars().all(), ())


def copy_files(register: Portable, folder: Path, write: Callable[[Path, str, Iterator[bytes]], None]) -> int:
    """Copy every file that the register names.

    Parameters
    ----------
    register : Portable
    folder : Path
        The target's.
    write : callable (folder, sha256, stretches)

    Returns
    -------
    int
        How many.
    """
    for sha256 in register.files:
        write(folder, sha256, register.file(sha256))
    return len(register.files)


def _rows(connection: sa.Connection, name: str) -> Iterator[Mapping[str, Any]]:
    table = TABLES[name]
    born = (
        sa.select(audit_table.c.entry_id, sa.func.min(audit_table.c.number).label("born"))
        .where(audit_table.c.kind == name)
        .group_by(audit_table.c.entry_id)
        .subquery()
    )
    query = (
        sa.select(*columns_of(name))
        .select_from(table.outerjoin(born, born.c.entry_id == table.c.id))
        .order_by(sa.func.coalesce(born.c.born, 2**62), table.c.id)
        .execution_options(yield_per=_CHUNK)
    )
    for row in connection.execute(query).mappings():
        yield plain_of_row(KINDS[name], dict(row))


def _entries(connection: sa.Connection) -> Iterator[Entry]:
    query = sa.select(audit_table).order_by(audit_table.c.number).execution_options(yield_per=_CHUNK)
    for row in connection.execute(query).mappings():
        yield Entry(**row)


def _chunks(items: Iterable[T]) -> Iterator[list[T]]:
    chunk: list[T] = []
    for item in items:
        chunk.append(item)
        if len(chunk) == _CHUNK:
            yield chunk
            chunk = []
    if chunk:
        yield chunk
