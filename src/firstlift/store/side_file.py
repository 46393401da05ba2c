"""A small file of its own beside a register: opened for each question, made at need, its owner's alone."""

from __future__ import annotations

import datetime as dt
import sqlite3
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

# (table, column, kind)
Later = tuple[tuple[str, str, str], ...]


class SideFile:
    """The file, made or brought up where needed.

    Parameters
    ----------
    path : Path
    schema : str
        Statements that make its tables where they are not there.
    later : tuple of (table, column, kind)
        Columns that came after the first release of a table.
    """

    def __init__(self, path: Path, schema: str, later: Later = ()) -> None:
        self.path = path
        path.parent.mkdir(parents=True, exist_ok=True)
        path.touch(mode=0o600)
        with self.opened() as connection:
            connection.executescript(schema)
            for table, column, kind in later:
                there = {row["name"] for row in connection.execute(f"PRAGMA table_info({table})")}
                if column not in there:
                    connection.execute(f"ALTER TABLE {table} ADD COLUMN {column} {kind}")

    @contextmanager
    def opened(self) -> Iterator[sqlite3.Connection]:
        """Open the file; each statement is kept at once."""
        connection = sqlite3.connect(self.path, timeout=10.0, isolation_level=None)
        connection.row_factory = sqlite3.Row
        # what is deleted may be personal: it is not left lying in the file's free pages
        connection.execute("PRAGMA secure_delete = ON")
        try:
            yield connection
        finally:
            connection.close()

    @contextmanager
    def changed(self) -> Iterator[sqlite3.Connection]:
        """Open the file to look and then write: nobody else writes in between."""
        with self.opened() as connection:
            connection.execute("BEGIN IMMEDIATE")
            try:
                yield connection
            except BaseException:
                connection.execute("ROLLBACK")
                raise
            connection.execute("COMMIT")


def text_of(at: dt.datetime) -> str:
    """Write an instant so that texts sort as instants do.

    Parameters
    ----------
    at : datetime

    Returns
    -------
    str
    """
    return at.astimezone(dt.UTC).isoformat(timespec="milliseconds")
