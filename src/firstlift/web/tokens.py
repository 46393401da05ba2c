"""Tokens of other systems: a name, what it may read, and a secret that is shown once and kept as its hash."""

from __future__ import annotations

import hashlib
import secrets
import sqlite3
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from enum import StrEnum
from pathlib import Path

from firstlift.usecases.register.place import now

_SCHEMA = """
CREATE TABLE IF NOT EXISTS token (
    id_sha256 TEXT PRIMARY KEY, name TEXT NOT NULL, scopes TEXT NOT NULL, made_at TEXT NOT NULL, made_by TEXT NOT NULL,
    revoked_at TEXT);
"""
_MARK = 12


class Scope(StrEnum):
    """What a client may read."""

    VALVES = "valves"
    RESULTS = "results"
    CERTIFICATES = "certificates"


@dataclass(frozen=True, slots=True)
class Token:
    """A client's token; ``mark`` names it in lists."""

    mark: str
    name: str
    scopes: tuple[Scope, ...]
    made_at: str


class Tokens:
    """The tokens in the file of sign-ins."""

    def __init__(self, path: Path) -> None:
        self.path = path
        with self._open() as connection:
            connection.executescript(_SCHEMA)

    @contextmanager
    def _open(self) -> Iterator[sqlite3.Connection]:
        connection = sqlite3.connect(self.path, timeout=10.0)
        connection.row_factory = sqlite3.Row
        try:
            with connection:
                yield connection
        finally:
            connection.close()

    def make(self, name: str, scopes: Sequence[Scope], made_by: str) -> str:
        """Make a token; gives its secret, which is not kept."""
        secret = f"flt_{secrets.token_urlsafe(32)}"
        row = (_hashed(secret), name, " ".join(scopes), now().isoformat(timespec="seconds"), made_by)
        with self._open() as connection:
            connection.execute("INSERT INTO token VALUES (?, ?, ?, ?, ?, NULL)", row)
        return secret

    def find(self, secret: str) -> Token | None:
        """Give the token of a secret that holds."""
        with self._open() as connection:
            query = "SELECT * FROM token WHERE id_sha256 = ? AND revoked_at IS NULL"
            row = connection.execute(query, (_hashed(secret),)).fetchone()
        return None if row is None else _token(row)

    def every(self) -> list[Token]:
        """Give the tokens that hold, the latest first."""
        with self._open() as connection:
            rows = connection.execute("SELECT * FROM token WHERE revoked_at IS NULL ORDER BY made_at DESC").fetchall()
        return [_token(row) for row in rows]

    def revoke(self, mark: str) -> None:
        """End a token at once."""
        with self._open() as connection:
            query = "UPDATE token SET revoked_at = ? WHERE substr(id_sha256, 1, 12) = ?"
            connection.execute(query, (now().isoformat(timespec="seconds"), mark))


def _token(row: sqlite3.Row) -> Token:
    scopes = tuple(Scope(scope) for scope in row["scopes"].split())
    return Token(row["id_sha256"][:_MARK], row["name"], scopes, row["made_at"])


def _hashed(secret: str) -> str:
    return hashlib.sha256(secret.encode()).hexdigest()
