"""Engines: SQLite in a file (write-ahead log, BEGIN IMMEDIATE), or PostgreSQL by URL.

The driver's own transactions begin too late on SQLite: two processes that read and then write lose updates
without a word. So they are switched off, and BEGIN is written out here: IMMEDIATE for a writer, plain for a
reader. Definitions of tables are then part of a transaction too.
"""

from __future__ import annotations

from pathlib import Path
from typing import Any

import sqlalchemy as sa
from sqlalchemy import event
from sqlalchemy.exc import ArgumentError

from firstlift.core.errors import FirstliftError, Problem

_BUSY_MS = 30_000


def sqlite_engines(file: Path) -> tuple[sa.Engine, sa.Engine]:
    """Open a SQLite file twice: to write and to read.

    Parameters
    ----------
    file : Path

    Returns
    -------
    writer, reader : Engine
    """
    url = sa.URL.create("sqlite", database=str(file))
    writer = sa.create_engine(url, poolclass=sa.pool.QueuePool, pool_size=1, max_overflow=0)
    reader = sa.create_engine(url, poolclass=sa.pool.QueuePool, pool_size=4, max_overflow=12)
    event.listen(writer, "connect", _prepare_writer)
    event.listen(reader, "connect", _prepare_reader)
    event.listen(writer, "begin", lambda connection: connection.exec_driver_sql("BEGIN IMMEDIATE"))
    event.listen(reader, "begin", lambda connection: connection.exec_driver_sql("BEGIN"))
    return writer, reader


def _prepare_writer(dbapi: Any, _record: Any) -> None:
    _prepare(dbapi, ("journal_mode=WAL", "synchronous=FULL", "foreign_keys=ON"))


def _prepare_reader(dbapi: Any, _record: Any) -> None:
    _prepare(dbapi, ("query_only=ON",))


def _prepare(dbapi: Any, pragmas: tuple[str, ...]) -> None:
    dbapi.isolation_level = None
    cursor = dbapi.cursor()
    for pragma in (f"busy_timeout={_BUSY_MS}", *pragmas):
        cursor.execute(f"PRAGMA {pragma}")
    cursor.close()


def postgres_engines(url: str) -> tuple[sa.Engine, sa.Engine]:
    """Open a PostgreSQL database by URL; one engine serves to write and to read.

    Parameters
    ----------
    url : str
        "postgresql://user@host/name".

    Returns
    -------
    writer, reader : Engine

    Raises
    ------
    FirstliftError
        STO-001 the URL is no PostgreSQL URL, STO-002 the driver is not installed.
    """
    try:
        made = sa.make_url(url)
    except ArgumentError:
        made = None
    if made is None or made.get_backend_name() != "postgresql":
        shown = url.split("://", maxsplit=1)[0]
        raise FirstliftError(
            Problem(
                "STO-001",
                f"'{shown}://...' is no address of a store",
                needed="a folder, or postgresql://user@host/database",
            )
        )
    try:
        engine = sa.create_engine(made.set(drivername="postgresql+psycopg"), pool_size=4, max_overflow=12)
    except ModuleNotFoundError as error:
        raise FirstliftError(
            Problem(
                "STO-002",
                "the driver for PostgreSQL is not installed",
                needed="the package psycopg",
                next="Install firstlift[postgres]",
            )
        ) from error
    return engine, engine
