"""Sessions of people in browsers: begun, looked up at every request, ended one by one or all together.

A session's identifier is random and kept as its hash only: who reads the file cannot take a session over.
"""

from __future__ import annotations

import datetime as dt
import hashlib
import secrets
import sqlite3
from dataclasses import dataclass
from uuid import UUID

from firstlift.store.side_file import text_of
from firstlift.usecases.register.place import now
from firstlift.web.access_file import AccessFile

_LONGEST = dt.timedelta(hours=12)
_IDLE = dt.timedelta(hours=2)
_KEPT = dt.timedelta(days=30)
# one person on many devices is usual; a flood of sessions is not: the oldest gives way
_MOST = 20
_MARK = 12


@dataclass(frozen=True, slots=True)
class Session:
    """Who works in a browser. ``mark`` names it in lists: the beginning of the hash of its identifier."""

    mark: str
    person_id: UUID
    csrf: str
    made_at: str
    seen_at: str
    client: str


class Sessions(AccessFile):
    """The sessions in the file of sign-ins."""

    def begin(self, person_id: UUID, client: str) -> str:
        """Begin a session; gives its secret identifier, which is not kept."""
        secret, at = secrets.token_urlsafe(32), now()
        values = (hashed(secret), str(person_id), secrets.token_urlsafe(24), text_of(at), text_of(at),
                  text_of(at + _LONGEST), client[:120])  # fmt: skip
        with self.changed() as connection:
            connection.execute("DELETE FROM session WHERE ends_at < ?", (text_of(at - _KEPT),))
            connection.execute("INSERT INTO session VALUES (?, ?, ?, ?, ?, ?, ?, NULL)", values)
            connection.execute(
                "UPDATE session SET revoked_at = ? WHERE revoked_at IS NULL AND person_id = ? AND id_sha256 NOT IN "
                "(SELECT id_sha256 FROM session WHERE person_id = ? AND revoked_at IS NULL "
                "ORDER BY made_at DESC, rowid DESC LIMIT ?)",
                (text_of(at), str(person_id), str(person_id), _MOST),
            )
        return secret

    def find(self, secret: str) -> Session | None:
        """Give a session that holds: not revoked, not over, not idle for two hours."""
        if not secret:
            return None
        at = now()
        with self.opened() as connection:
            query = "SELECT * FROM session WHERE id_sha256 = ? AND revoked_at IS NULL AND ends_at > ? AND seen_at > ?"
            row = connection.execute(query, (hashed(secret), text_of(at), text_of(at - _IDLE))).fetchone()
            if row is not None and row["seen_at"] < text_of(at - dt.timedelta(minutes=1)):
                seen = (text_of(at), row["id_sha256"])
                connection.execute("UPDATE session SET seen_at = ? WHERE id_sha256 = ?", seen)
        return None if row is None else _session(row)

    def every(self, person_id: UUID) -> list[Session]:
        """Give a person's sessions that hold, the latest first."""
        at = now()
        with self.opened() as connection:
            rows = connection.execute(
                "SELECT * FROM session WHERE person_id = ? AND revoked_at IS NULL AND ends_at > ? AND seen_at > ? "
                "ORDER BY seen_at DESC",
                (str(person_id), text_of(at), text_of(at - _IDLE)),
            ).fetchall()
        return [_session(row) for row in rows]

    def end(self, person_id: UUID, mark: str) -> None:
        """End one session of a person."""
        with self.opened() as connection:
            query = "UPDATE session SET revoked_at = ? WHERE person_id = ? AND substr(id_sha256, 1, ?) = ?"
            connection.execute(query, (text_of(now()), str(person_id), _MARK, mark))

    def end_all(self, person_id: UUID, *, but: str = "") -> None:
        """End all sessions of a person, but for the one with a mark where one is named."""
        with self.opened() as connection:
            query = (
                "UPDATE session SET revoked_at = ? WHERE person_id = ? AND revoked_at IS NULL "
                "AND substr(id_sha256, 1, ?) <> ?"
            )
            connection.execute(query, (text_of(now()), str(person_id), _MARK, but))


def _session(row: sqlite3.Row) -> Session:
    mark = row["id_sha256"][:_MARK]
    return Session(mark, UUID(row["person_id"]), row["csrf"], row["made_at"], row["seen_at"], row["client"])


def hashed(secret: str) -> str:
    """Give what is kept of a random secret.

    Parameters
    ----------
    secret : str
        Of 256 random bits: a plain hash of it cannot be turned back.

    Returns
    -------
    str
        SHA-256, hexadecimal.
    """
    return hashlib.sha256(secret.encode()).hexdigest()
