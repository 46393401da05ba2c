"""Make a store, open one, bring an older one up to this release.

A store is a folder (``register.sqlite`` and ``recordings/``), or a PostgreSQL database with a folder beside it.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from uuid import UUID

import sqlalchemy as sa
from sqlalchemy.exc import ArgumentError

from firstlift.core.errors import FirstliftError, Problem
from firstlift.core.register.chain import first_link
from firstlift.core.register.codec import instant_text
from firstlift.store.engine import postgres_engines, sqlite_engines
from firstlift.store.read import Reader
from firstlift.store.schema import HEAD, step_of, upgrade
from firstlift.store.tables import store_table
from firstlift.store.told import told
from firstlift.store.work import Work

DATABASE = "register.sqlite"


@dataclass(frozen=True, slots=True, eq=False)
class Store:
    """An open store. ``folder`` holds its recordings; ``where`` is how it is said in messages."""

    id: UUID
    folder: Path
    where: str
    writer: sa.Engine
    reader: sa.Engine

    @contextmanager
    def work(self, *, at: dt.datetime, who: str) -> Iterator[Work]:
        """Open a unit of work: committed when the block ends, undone whole when it raises."""
        with told(self.where), self.writer.begin() as connection:
            work = Work(connection, self.folder, at=at, who=who)
            yield work
            work.finish()

    @contextmanager
    def read(self) -> Iterator[Reader]:
        """Open a reader: everything read in the block is from one moment."""
        with told(self.where), self.reader.connect() as connection:
            if connection.dialect.name == "postgresql":
                connection = connection.execution_options(isolation_level="REPEATABLE READ")
            yield Reader(connection, self.id, self.folder)

    def close(self) -> None:
        """Let go of the database."""
        self.writer.dispose()
        self.reader.dispose()


def create_store(where: str | Path, *, store_id: UUID, at: dt.datetime, folder: Path | None = None) -> Store:
    """Make a new, empty store.

    Parameters
    ----------
    where : str or Path
        A folder, or a PostgreSQL URL.
    store_id : UUID
        Stands in every entry of its chain.
    at : datetime
    folder : Path or None
        Where recordings go; of a folder store, itself.

    Returns
    -------
    Store

    Raises
    ------
    FirstliftError
        STO-003 there is a store already; STO-004 the folder cannot be made; STO-001, STO-002, STO-005.
    """
    base = folder_of(where, folder)
    try:
        (base / "recordings").mkdir(parents=True, exist_ok=True)
    except OSError as error:
        raise FirstliftError(
            Problem("STO-004", f"the folder cannot be made: {error.strerror or error}", str(base), "one to write to")
        ) from error
    writer, reader = engines_of(where, base)
    said = said_place(where)
    try:
        with told(said), writer.begin() as connection:
            if step_of(connection) is not None:
                raise FirstliftError(
                    Problem("STO-003", "there is a register already", said, "another place", "Open it, or name another")
                )
            upgrade(connection)
            connection.execute(
                sa.insert(store_table).values(
                    id=store_id, made_at=instant_text(at), entries=0, head_sha256=first_link(store_id)
                )
            )
    except BaseException:
        writer.dispose()
        reader.dispose()
        raise
    return Store(store_id, base, said, writer, reader)


def open_store(where: str | Path, *, folder: Path | None = None) -> Store:
    """Open a store that is there and up to date.

    Parameters
    ----------
    where : str or Path
        A folder, or a PostgreSQL URL.
    folder : Path or None
        Where recordings are; of a folder store, itself.

    Returns
    -------
    Store

    Raises
    ------
    FirstliftError
        STO-008 there is no register, STO-009 it is of an older or a newer release; STO-001, STO-002, STO-005.
    """
    base = folder_of(where, folder)
    said = said_place(where)
    if not is_url(where) and not (base / DATABASE).is_file():
        raise _none_there(said)
    writer, reader = engines_of(where, base)
    try:
        with told(said), reader.connect() as connection:
            _check_step(step_of(connection), said)
            store_id = connection.execute(sa.select(store_table.c.id)).scalar_one()
    except BaseException:
        writer.dispose()
        reader.dispose()
        raise
    return Store(store_id, base, said, writer, reader)


def upgrade_store(where: str | Path, *, folder: Path | None = None) -> tuple[str, str]:
    """Bring a store's schema up to this release, in one transaction.

    Parameters
    ----------
    where : str or Path
    folder : Path or None

    Returns
    -------
    before, after : str
        The steps it stood and stands at.

    Raises
    ------
    FirstliftError
        STO-008 there is no register, STO-009 it is of a newer release.
    """
    base = folder_of(where, folder)
    said = said_place(where)
    if not is_url(where) and not (base / DATABASE).is_file():
        raise _none_there(said)
    writer, reader = engines_of(where, base)
    try:
        with told(said), writer.begin() as connection:
            before = step_of(connection)
            if before is None or before > HEAD:
                _check_step(before, said)
            upgrade(connection)
            return str(before), HEAD
    finally:
        writer.dispose()
        reader.dispose()


def _check_step(step: str | None, said: str) -> None:
    if step is None:
        raise _none_there(said)
    if step != HEAD:
        older = step < HEAD
        raise FirstliftError(
            Problem(
                "STO-009",
                f"the register is of {'an older' if older else 'a newer'} release: its schema is {step}",
                said,
                f"schema {HEAD}",
                "Back it up, then run: firstlift register upgrade" if older else "Use that release",
            )
        )


def _none_there(said: str) -> FirstliftError:
    return FirstliftError(
        Problem("STO-008", "there is no register", said, "a store", "Make one: firstlift register create, or --store")
    )


def is_url(where: str | Path) -> bool:
    """Say whether a place is a database's address.

    Parameters
    ----------
    where : str or Path

    Returns
    -------
    bool
    """
    return isinstance(where, str) and "://" in where


def folder_of(where: str | Path, folder: Path | None) -> Path:
    """Give the folder of a store's recordings.

    Parameters
    ----------
    where : str or Path
    folder : Path or None

    Returns
    -------
    Path
    """
    if folder is not None:
        return folder
    return Path("firstlift-recordings") if is_url(where) else Path(where)


def engines_of(where: str | Path, base: Path) -> tuple[sa.Engine, sa.Engine]:
    """Open engines to write and to read.

    Parameters
    ----------
    where : str or Path
    base : Path

    Returns
    -------
    writer, reader : Engine
    """
    return postgres_engines(str(where)) if is_url(where) else sqlite_engines(base / DATABASE)


def said_place(where: str | Path) -> str:
    """Say a store's place without a password.

    Parameters
    ----------
    where : str or Path

    Returns
    -------
    str
    """
    if not is_url(where):
        return str(where)
    try:
        return sa.make_url(str(where)).render_as_string(hide_password=True)
    except ArgumentError:
        return "store"
