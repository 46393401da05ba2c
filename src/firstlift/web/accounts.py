"""Sign-ins, sessions and what each person likes to see: a small file of its own beside the register.

A session's identifier is random and kept as its hash only: who reads the file cannot take a session over. Passwords
and sessions are no part of the register, of its exports or of its chain.
"""

from __future__ import annotations

import datetime as dt
import functools
import hashlib
import secrets
import sqlite3
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from uuid import UUID

from firstlift.core.errors import FirstliftError, Problem
from firstlift.core.register.choose import search_key
from firstlift.usecases.register.place import now
from firstlift.web.passwords import check_password, fits, keep_password
from firstlift.web.roles import Role

_SCHEMA = """
CREATE TABLE IF NOT EXISTS account (
    person_id TEXT PRIMARY KEY, name_key TEXT NOT NULL UNIQUE, password TEXT NOT NULL, role TEXT NOT NULL,
    failed INTEGER NOT NULL DEFAULT 0, next_try_at TEXT NOT NULL DEFAULT '', active INTEGER NOT NULL DEFAULT 1);
CREATE TABLE IF NOT EXISTS session (
    id_sha256 TEXT PRIMARY KEY, person_id TEXT NOT NULL, csrf TEXT NOT NULL, made_at TEXT NOT NULL,
    seen_at TEXT NOT NULL, ends_at TEXT NOT NULL, client TEXT NOT NULL, revoked_at TEXT);
CREATE TABLE IF NOT EXISTS likes (
    person_id TEXT NOT NULL, name TEXT NOT NULL, value TEXT NOT NULL, PRIMARY KEY (person_id, name));
"""
_LONGEST_SESSION = dt.timedelta(hours=12)
_IDLE = dt.timedelta(hours=2)
_TRIES_BEFORE_WAIT = 5
_LONGEST_WAIT_S = 300


@dataclass(frozen=True, slots=True)
class Session:
    """Who works in a browser. ``mark`` names it in lists: the beginning of the hash of its identifier."""

    mark: str
    person_id: UUID
    csrf: str
    made_at: str
    seen_at: str
    client: str


class Accounts:
    """The file of sign-ins and sessions."""

    def __init__(self, path: Path) -> None:
        self.path = path
        path.parent.mkdir(parents=True, exist_ok=True)
        path.touch(mode=0o600)
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

    def add(self, person_id: UUID, name: str, password: str, role: Role) -> None:
        """Give a person a sign-in, or a new password and role; their sessions end."""
        check_password(password, name)
        with self._open() as connection:
            connection.execute(
                "INSERT INTO account (person_id, name_key, password, role) VALUES (?, ?, ?, ?) ON CONFLICT (person_id) "
                "DO UPDATE SET name_key = excluded.name_key, password = excluded.password, role = excluded.role, "
                "failed = 0, next_try_at = '', active = 1",
                (str(person_id), search_key(name), keep_password(password), str(role)),
            )
        self.revoke_all(person_id)

    def close_account(self, person_id: UUID) -> None:
        """Take a sign-in away; the person's sessions end at once."""
        with self._open() as connection:
            connection.execute("UPDATE account SET active = 0 WHERE person_id = ?", (str(person_id),))
        self.revoke_all(person_id)

    def roles(self) -> dict[UUID, Role]:
        """Give who may sign in, and as what."""
        with self._open() as connection:
            rows = connection.execute("SELECT person_id, role FROM account WHERE active = 1").fetchall()
        return {UUID(row["person_id"]): Role(row["role"]) for row in rows}

    def role_of(self, person_id: UUID) -> Role | None:
        """Give a person's role, None without a sign-in."""
        with self._open() as connection:
            query = "SELECT role FROM account WHERE person_id = ? AND active = 1"
            row = connection.execute(query, (str(person_id),)).fetchone()
        return None if row is None else Role(row["role"])

    def sign_in(self, name: str, password: str) -> UUID:
        """Give who a name and password belong to.

        After five failures each try waits longer, up to five minutes: nobody is locked out for good.

        Raises
        ------
        FirstliftError
            WEB-001 they do not fit, WEB-002 too many tries.
        """
        with self._open() as connection:
            query = "SELECT * FROM account WHERE name_key = ? AND active = 1"
            row = connection.execute(query, (search_key(name),)).fetchone()
        if row is not None and row["next_try_at"] > _text(now()):
            wait = dt.datetime.fromisoformat(row["next_try_at"]) - now()
            raise FirstliftError(
                Problem(
                    "WEB-002",
                    f"too many tries; the next one counts in {int(wait.total_seconds()) + 1} s",
                    "sign-in",
                    "a short wait",
                    "Wait, or ask the office for a new password",
                )
            )
        if not fits(password, _nobody() if row is None else row["password"]) or row is None:
            if row is not None:
                self._failed(row["person_id"], row["failed"] + 1)
            raise FirstliftError(
                Problem("WEB-001", "name and password do not fit", "sign-in", "both as they were given to you")
            )
        with self._open() as connection:
            connection.execute(
                "UPDATE account SET failed = 0, next_try_at = '' WHERE person_id = ?", (row["person_id"],)
            )
        return UUID(row["person_id"])

    def _failed(self, person_id: str, failed: int) -> None:
        wait = 0 if failed < _TRIES_BEFORE_WAIT else min(2 ** (failed - _TRIES_BEFORE_WAIT + 1), _LONGEST_WAIT_S)
        after = _text(now() + dt.timedelta(seconds=wait)) if wait else ""
        with self._open() as connection:
            connection.execute(
                "UPDATE account SET failed = ?, next_try_at = ? WHERE person_id = ?", (failed, after, person_id)
            )

    def open_session(self, person_id: UUID, client: str) -> str:
        """Begin a session; gives its secret identifier, which is not kept."""
        secret, at = secrets.token_urlsafe(32), now()
        with self._open() as connection:
            connection.execute("DELETE FROM session WHERE ends_at < ?", (_text(at - dt.timedelta(days=30)),))
            connection.execute(
                "INSERT INTO session VALUES (?, ?, ?, ?, ?, ?, ?, NULL)",
                (
                    _hashed(secret),
                    str(person_id),
                    secrets.token_urlsafe(24),
                    _text(at),
                    _text(at),
                    _text(at + _LONGEST_SESSION),
                    client[:120],
                ),
            )
        return secret

    def session(self, secret: str) -> Session | None:
        """Give a session that holds: not revoked, not over, not idle for two hours."""
        at = now()
        with self._open() as connection:
            query = "SELECT * FROM session WHERE id_sha256 = ? AND revoked_at IS NULL AND ends_at > ? AND seen_at > ?"
            row = connection.execute(query, (_hashed(secret), _text(at), _text(at - _IDLE))).fetchone()
            if row is not None and row["seen_at"] < _text(at - dt.timedelta(minutes=1)):
                connection.execute("UPDATE session SET seen_at = ? WHERE id_sha256 = ?", (_text(at), row["id_sha256"]))
        return None if row is None else _session(row)

    def sessions(self, person_id: UUID) -> list[Session]:
        """Give a person's sessions that hold, the latest first."""
        at = now()
        with self._open() as connection:
            rows = connection.execute(
                "SELECT * FROM session WHERE person_id = ? AND revoked_at IS NULL AND ends_at > ? AND seen_at > ? "
                "ORDER BY seen_at DESC",
                (str(person_id), _text(at), _text(at - _IDLE)),
            ).fetchall()
        return [_session(row) for row in rows]

    def revoke(self, person_id: UUID, mark: str) -> None:
        """End one session of a person."""
        with self._open() as connection:
            connection.execute(
                "UPDATE session SET revoked_at = ? WHERE person_id = ? AND substr(id_sha256, 1, 12) = ?",
                (_text(now()), str(person_id), mark),
            )

    def revoke_all(self, person_id: UUID) -> None:
        """End all sessions of a person."""
        with self._open() as connection:
            query = "UPDATE session SET revoked_at = ? WHERE person_id = ? AND revoked_at IS NULL"
            connection.execute(query, (_text(now()), str(person_id)))

    def likes(self, person_id: UUID) -> dict[str, str]:
        """Give what a person chose to see: look, unit."""
        with self._open() as connection:
            rows = connection.execute("SELECT name, value FROM likes WHERE person_id = ?", (str(person_id),))
            return {row["name"]: row["value"] for row in rows}

    def like(self, person_id: UUID, name: str, value: str) -> None:
        """Keep what a person chose."""
        with self._open() as connection:
            connection.execute("INSERT OR REPLACE INTO likes VALUES (?, ?, ?)", (str(person_id), name, value))


@functools.cache
def _nobody() -> str:
    """Give what is compared against where no such name is known, so that the answer takes as long."""
    return keep_password(secrets.token_hex(16))


def _session(row: sqlite3.Row) -> Session:
    mark = row["id_sha256"][:12]
    return Session(mark, UUID(row["person_id"]), row["csrf"], row["made_at"], row["seen_at"], row["client"])


def _hashed(secret: str) -> str:
    return hashlib.sha256(secret.encode()).hexdigest()


def _text(at: dt.datetime) -> str:
    return at.astimezone(dt.UTC).isoformat(timespec="milliseconds")
