"""Prove that nothing was changed behind the register's back, and name what was.

Held against each other: the chain's links; every row and the last entry of the chain that wrote it; personal
data, results and files and their hashes; what is made from the entries; the numbers of certificates.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any
from uuid import UUID

import sqlalchemy as sa
from sqlalchemy.exc import SQLAlchemyError

from firstlift.core.errors import FirstliftError
from firstlift.core.register.chain import Entry, breaks, first_link
from firstlift.core.register.choose import search_key
from firstlift.core.register.codec import chain_form, sha256_of
from firstlift.core.register.kinds import KINDS
from firstlift.store.columns import plain_of_row
from firstlift.store.files import fault_of, kept_hashes
from firstlift.store.raw import with_raw, written_otherwise
from firstlift.store.read import Reader
from firstlift.store.standing import standing_rows
from firstlift.store.tables import (
    KEYS,
    TABLES,
    audit_table,
    columns_of,
    standing_table,
    store_table,
    test_instrument_table,
)

_CHUNK = 500


@dataclass(frozen=True, slots=True)
class Fault:
    """One thing that does not hold. ``number`` is the entry of the chain it hangs on, where there is one."""

    what: str
    reason: str
    number: int | None = None


@dataclass(frozen=True, slots=True)
class Report:
    """What an audit looked at and found; ``faults`` in the chain's order, files and the rest behind.

    ``head_sha256`` is the last entry's hash: noted elsewhere, it proves later that no entry was cut off.
    ``spare_files`` are kept files that nothing names: a crash may leave them, they do no harm.
    """

    store_id: UUID
    entries: int
    head_sha256: str
    rows: int
    files: int
    spare_files: int
    faults: tuple[Fault, ...]


def audit(reader: Reader, *, expect: tuple[int, str] | None = None) -> Report:
    """Audit a store.

    Parameters
    ----------
    reader : Reader
    expect : tuple of int and str, or None
        Number and hash of an entry that were noted before.

    Returns
    -------
    Report
    """
    connection = reader.connection
    head = connection.execute(sa.select(store_table)).mappings().one()
    chain = [*_chain_faults(connection, reader.store_id, head, expect), *_written_faults(connection)]
    faults = [*_engine_faults(connection), *sorted(chain, key=lambda fault: fault.number or 0)]
    rows = 0
    row_faults: list[Fault] = []
    for name in KINDS:
        count, found = _row_faults(connection, name)
        rows += count
        row_faults += found
    faults += sorted(row_faults, key=lambda fault: fault.number or 0)
    faults += [*_standing_faults(connection), *_instrument_faults(connection), *_series_faults(connection)]
    named = named_files(connection)
    for sha256, owner in sorted(named.items(), key=lambda item: item[1]):
        fault = fault_of(reader.folder, sha256)
        if fault is not None:
            faults.append(Fault(f"file {sha256} of {owner}", f"it is {fault}"))
    spare = sum(1 for sha256 in kept_hashes(reader.folder) if sha256 not in named)
    return Report(
        reader.store_id,
        int(head["entries"]),
        head["head_sha256"],
        rows,
        len(named),
        spare,
        tuple(dict.fromkeys(faults)),
    )


def _engine_faults(connection: sa.Connection) -> Iterator[Fault]:
    """Ask SQLite whether its own pages are whole; PostgreSQL says so itself when it reads them."""
    if connection.dialect.name == "sqlite":
        for (said,) in connection.exec_driver_sql("PRAGMA integrity_check(20)"):
            if said != "ok":
                yield Fault("the database file", str(said))


def _chain_faults(
    connection: sa.Connection, store_id: UUID, head: sa.RowMapping, expect: tuple[int, str] | None
) -> Iterator[Fault]:
    last: list[Entry] = []
    met: list[bool] = []

    def passing() -> Iterator[Entry]:
        for entry in _entries(connection):
            last[:] = [entry]
            if expect is not None and entry.number == expect[0]:
                met.append(entry.sha256 == expect[1])
            yield entry

    for broken in breaks(passing(), store_id):
        yield Fault(f"entry {broken.number}", broken.reason, broken.number)
    number, sha256 = (last[0].number, last[0].sha256) if last else (0, first_link(store_id))
    if (number, sha256) != (head["entries"], head["head_sha256"]):
        yield Fault(
            f"entry {number + 1}", f"the chain ends with entry {number}, the store says {head['entries']}", number + 1
        )
    if expect is not None and met != [True]:
        yield Fault(f"entry {expect[0]}", "it is not the one that was noted", expect[0])


def _entries(connection: sa.Connection) -> Iterator[Entry]:
    """Give the chain by number; an entry that cannot be read is left out, and so missed by who follows it."""
    for _, row in _readable(connection, list(audit_table.columns), audit_table.c.number):
        if row is not None:
            yield Entry(**row)


def _written_faults(connection: sa.Connection) -> Iterator[Fault]:
    """Hold the chain's cells to the one way of writing them."""
    for number, row in _readable(connection, with_raw(connection, list(audit_table.columns)), audit_table.c.number):
        if row is not None and (column := written_otherwise(row)):
            yield Fault(f"entry {number}", f"its {column} is not written as it was", number)


def _row_faults(connection: sa.Connection, name: str) -> tuple[int, list[Fault]]:
    """Hold every row of a kind against the last entry of the chain that wrote it."""
    faults: list[Fault] = []
    said = name.replace("_", " ")
    table, count = TABLES[name], 0
    raw_id = _raw(connection, table.c.id)
    columns = with_raw(connection, [*columns_of(name), *(table.c[key] for key in KEYS.get(name, {}))])
    for key, row in _readable(connection, columns, raw_id):
        count += 1
        if row is None:
            faults.append(Fault(f"{said} {_shown(key)}", "its row cannot be read"))
            continue
        number, after = _last_entry(connection, name, row["id"])
        reason = _row_fault(name, row, after)
        if reason is not None:
            faults.append(Fault(f"{said} {row['id']}", reason, number))
    gone = (
        sa.select(audit_table.c.number, audit_table.c.entry_id)
        .where(audit_table.c.kind == name, audit_table.c.action == "add")
        .where(~sa.exists().where(table.c.id == audit_table.c.entry_id))
        .order_by(audit_table.c.number)
    )
    for number, entry_id in connection.execute(gone):
        faults.append(Fault(f"{said} {entry_id}", "its row is gone", number))
    return count, faults


def _row_fault(name: str, row: sa.RowMapping, after: str | None) -> str | None:
    if after is None:
        return "the chain has no entry for it"
    try:
        plain = plain_of_row(KINDS[name], dict(row))
        form = chain_form(KINDS[name], plain)
        # of people and contacts: the only kinds with what can be removed
        details = plain.get("details") if "details_sha256" in plain else None
        fits = details is None or sha256_of(details) == plain["details_sha256"]
    except (FirstliftError, ValueError, TypeError, AttributeError):
        return "its row cannot be read"
    if form != after:
        return "its row is not what the chain says"
    if any(row[key] != search_key(plain[field]) for key, field in KEYS.get(name, {}).items()):
        return "its search key is not what its row says"
    if column := written_otherwise(row):
        return f"its {column} is not written as it was"
    return None if fits else "its personal data are not what their hash says"


def _last_entry(connection: sa.Connection, name: str, entry_id: UUID) -> tuple[int | None, str | None]:
    query = (
        sa.select(audit_table.c.number, audit_table.c.after)
        .where(audit_table.c.entry_id == entry_id, audit_table.c.kind == name)
        .order_by(audit_table.c.number.desc())
        .limit(1)
    )
    found = connection.execute(query).first()
    return (None, None) if found is None else (int(found[0]), str(found[1]))


def _standing_faults(connection: sa.Connection) -> Iterator[Fault]:
    """Make every standing anew and compare."""
    valves = TABLES["valve"]
    last: UUID | None = None
    while True:
        query = sa.select(valves.c.id).order_by(valves.c.id).limit(_CHUNK)
        try:
            chunk = list(connection.execute(query if last is None else query.where(valves.c.id > last)).scalars())
            stands = standing_table.c.valve_id
            now = connection.execute(sa.select(standing_table).where(stands.in_(chunk)).order_by(stands)).mappings()
            kept = {row["valve_id"]: dict(row) for row in now}
            fresh = {row["valve_id"]: row for row in standing_rows(connection, chunk)}
        except (ValueError, TypeError, AttributeError, FirstliftError):
            yield Fault("the table standing", "it cannot be read")
            return
        for valve in chunk:
            if kept.get(valve) != fresh.get(valve):
                yield Fault(f"standing of valve {valve}", "it is not what the entries say")
        if len(chunk) < _CHUNK:
            return
        last = chunk[-1]


def _instrument_faults(connection: sa.Connection) -> Iterator[Fault]:
    """Compare the index of instruments with the tests that it is made from."""
    test = TABLES["valve_test"]
    for _, row in _readable(connection, [test.c.id, test.c.instruments], _raw(connection, test.c.id)):
        if row is None or not isinstance(row["instruments"], list):
            continue
        told = {(search_key(used["serial"]), used["measures"]) for used in row["instruments"] if used["serial"]}
        query = sa.select(test_instrument_table.c.serial_key, test_instrument_table.c.measures)
        own = query.where(test_instrument_table.c.test_id == row["id"])
        kept = {(serial, measures) for serial, measures in connection.execute(own)}
        if told != kept:
            yield Fault(f"instruments of valve test {row['id']}", "their index is not what the test says")


def _series_faults(connection: sa.Connection) -> Iterator[Fault]:
    """Every number of a series of certificates is there, from 1 on."""
    table = TABLES["certificate"]
    numbers: dict[str, set[int]] = defaultdict(set)
    for series, number in connection.execute(sa.select(table.c.series, table.c.number)):
        numbers[series].add(number)
    for series, found in sorted(numbers.items()):
        for missing in sorted(set(range(1, max(found) + 1)) - found):
            yield Fault(f"certificates of series {series}", f"number {missing} is missing")


def named_files(connection: sa.Connection) -> dict[str, str]:
    """Give the hashes of all files that entries name, each with one that names it.

    Parameters
    ----------
    connection : Connection

    Returns
    -------
    dict of SHA-256 to words
    """
    found: dict[str, str] = {}
    for name, column in (
        ("attachment", "sha256"),
        ("identity_check", "photo_sha256"),
        ("valve_test", "sheet_sha256"),
        ("valve_test", "recording_sha256"),
    ):
        table = TABLES[name]
        query = sa.select(_raw(connection, table.c.id), table.c[column]).where(table.c[column] != "")
        for key, sha256 in connection.execute(query):
            found[sha256] = f"{name.replace('_', ' ')} {_shown(key)}"
    return found


def _readable(connection: sa.Connection, columns: list[Any], key: Any) -> Iterator[tuple[Any, sa.RowMapping | None]]:
    """Give rows by key, a chunk at a time; None for one whose values are not of their columns' types."""
    last: Any = None
    while True:
        query = sa.select(key).order_by(key).limit(_CHUNK)
        keys = list(connection.execute(query if last is None else query.where(key > last)).scalars())
        rows: list[Any]
        try:
            rows = list(connection.execute(sa.select(*columns).where(key.in_(keys)).order_by(key)).mappings())
        except (ValueError, TypeError, AttributeError, SQLAlchemyError):
            rows = [_one(connection, columns, key == value) for value in keys]
        yield from zip(keys, rows, strict=True)
        if len(keys) < _CHUNK:
            return
        last = keys[-1]


def _one(connection: sa.Connection, columns: list[Any], only: Any) -> sa.RowMapping | None:
    try:
        return connection.execute(sa.select(*columns).where(only)).mappings().first()
    except (ValueError, TypeError, AttributeError, SQLAlchemyError):
        return None


def _raw(connection: sa.Connection, column: sa.Column[Any]) -> Any:
    """Give an identifier as it lies there: SQLite may hold one that is none any more."""
    return column if connection.dialect.name == "postgresql" else sa.type_coerce(column, sa.Text())


def _shown(key: Any) -> str:
    try:
        return str(UUID(str(key)))
    except ValueError:
        return str(key)
