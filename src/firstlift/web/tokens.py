"""Tokens of other systems: a name, what it may read, and a secret that is shown once and kept as its hash."""

from __future__ import annotations

import secrets
import sqlite3
from collections.abc import Sequence
from dataclasses import dataclass
from enum import StrEnum
from uuid import UUID, uuid5

from firstlift.usecases.register.place import now
from firstlift.web.access_file import AccessFile
from firstlift.web.sessions import hashed

_MARK = 12
_TOKENS = UUID("5f0c2f5e-6d3c-5d0e-9c55-1d0a4f0f7a11")


class Scope(StrEnum):
    """What a client may read; the last two, what it may ask for."""

    VALVES = "valves"
    RESULTS = "results"
    CERTIFICATES = "certificates"
    VISITS = "visits"
    HOOKS = "web-hooks"


@dataclass(frozen=True, slots=True)
class Token:
    """A client's token; ``mark`` names it in lists."""

    mark: str
    name: str
    scopes: tuple[Scope, ...]
    made_at: str

    @property
    def who(self) -> str:
        """What stands in the chain for this client."""
        return f"program:client-{self.mark}"

    @property
    def id(self) -> UUID:
        """What deeds are about that are done to this token."""
        return id_of(self.mark)


class Tokens(AccessFile):
    """The tokens in the file of sign-ins."""

    def make(self, name: str, scopes: Sequence[Scope], made_by: str) -> str:
        """Make a token; gives its secret, which is not kept."""
        secret = f"flt_{secrets.token_urlsafe(32)}"
        row = (hashed(secret), name, " ".join(scopes), now().isoformat(timespec="seconds"), made_by)
        with self.opened() as connection:
            connection.execute("INSERT INTO token VALUES (?, ?, ?, ?, ?, NULL)", row)
        return secret

    def find(self, secret: str) -> Token | None:
        """Give the token of a secret that holds."""
        with self.opened() as connection:
            query = "SELECT * FROM token WHERE id_sha256 = ? AND revoked_at IS NULL"
            row = connection.execute(query, (hashed(secret),)).fetchone()
        return None if row is None else _token(row)

    def every(self) -> list[Token]:
        """Give the tokens that hold, the latest first."""
        with self.opened() as connection:
            rows = connection.execute("SELECT * FROM token WHERE revoked_at IS NULL ORDER BY made_at DESC").fetchall()
        return [_token(row) for row in rows]

    def revoke(self, mark: str) -> None:
        """End a token at once."""
        with self.opened() as connection:
            query = "UPDATE token SET revoked_at = ? WHERE substr(id_sha256, 1, 12) = ?"
            connection.execute(query, (now().isoformat(timespec="seconds"), mark))


def id_of(mark: str) -> UUID:
    """Give the identifier by which the chain names a token.

    Parameters
    ----------
    mark : str

    Returns
    -------
    UUID
        Made from the mark, so that it needs no place of its own.
    """
    return uuid5(_TOKENS, mark)


def _token(row: sqlite3.Row) -> Token:
    scopes = tuple(Scope(scope) for scope in row["scopes"].split())
    return Token(row["id_sha256"][:_MARK], row["name"], scopes, row["made_at"])
