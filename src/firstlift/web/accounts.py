"""Sign-ins: who may come in, as what, by which password; and what each person likes to see.

References
----------
.. [1] OWASP, "Slow Down Online Guessing Attacks with Device Cookies" (memory): a browser that signed in before is
   counted apart, so that somebody who guesses cannot keep its owner out.
"""

from __future__ import annotations

import datetime as dt
import functools
import secrets
import sqlite3
import threading
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from uuid import UUID

from firstlift.core.errors import FirstliftError, Problem
from firstlift.core.register.choose import search_key
from firstlift.store.side_file import text_of
from firstlift.usecases.register.place import now
from firstlift.web.access_file import AccessFile
from firstlift.web.passwords import check_password, fits, keep_password
from firstlift.web.roles import May, Role, allows
from firstlift.web.sessions import hashed

_TRIES_BEFORE_WAIT = 5
_LONGEST_WAIT_S = 300
_DEVICE_KEPT = dt.timedelta(days=180)
# a try costs 32 MB and a third of a second of one core: more than these at once would hold up everybody's work
_AT_ONCE = 2
_PATIENCE_S = 10.0
_MOST_STRANGERS = 10_000


@dataclass(frozen=True, slots=True)
class Came:
    """Who signed in. ``must_change``: somebody else knows the password, another must be chosen first."""

    person_id: UUID
    must_change: bool


class Accounts(AccessFile):
    """The sign-ins."""

    _trying = threading.BoundedSemaphore(_AT_ONCE)

    def __init__(self, path: Path, on_wait: Callable[[UUID], None] = lambda person_id: None) -> None:
        super().__init__(path)
        # told once when a person's tries begin to wait
        self._on_wait = on_wait
        self._strangers: dict[str, tuple[int, str]] = {}
        self._counting = threading.Lock()

    def add(self, person_id: UUID, name: str, password: str, role: Role, *, must_change: bool = False) -> None:
        """Give a person a sign-in, or a new password and role; end their sessions beside it."""
        check_password(password, name, self.path.parent)
        kept = keep_password(password)
        with self.changed() as connection:
            self._check_office_stays(connection, person_id, role)
            connection.execute(
                "INSERT INTO account (person_id, name_key, password, role, must_change) VALUES (?, ?, ?, ?, ?) "
                "ON CONFLICT (person_id) DO UPDATE SET name_key = excluded.name_key, password = excluded.password, "
                "role = excluded.role, must_change = excluded.must_change, failed = 0, next_try_at = '', active = 1",
                (str(person_id), search_key(name), kept, str(role), int(must_change)),
            )
            connection.execute("DELETE FROM device WHERE person_id = ?", (str(person_id),))

    def change_password(self, person_id: UUID, name: str, old: str, new: str) -> None:
        """Change one's own password.

        Raises
        ------
        FirstliftError
            WEB-001 the old one does not fit, WEB-002 too many tries, WEB-006 the new one is weak or the old one.
        """
        self.prove(person_id, old)
        if new == old:
            raise FirstliftError(Problem("WEB-006", "the new password is the old one", "password", "another password"))
        check_password(new, name, self.path.parent)
        with self.opened() as connection:
            query = "UPDATE account SET password = ?, must_change = 0 WHERE person_id = ?"
            connection.execute(query, (keep_password(new), str(person_id)))

    def close_account(self, person_id: UUID) -> None:
        """Take a sign-in away; WEB-003 where it is the last one of the office."""
        with self.changed() as connection:
            self._check_office_stays(connection, person_id, None)
            connection.execute("UPDATE account SET active = 0 WHERE person_id = ?", (str(person_id),))
            connection.execute("DELETE FROM device WHERE person_id = ?", (str(person_id),))

    def _check_office_stays(self, connection: sqlite3.Connection, person_id: UUID, role: Role | None) -> None:
        """Refuse what would leave nobody who can give sign-ins."""
        rows = connection.execute("SELECT person_id, role FROM account WHERE active = 1").fetchall()
        able = {row["person_id"] for row in rows if allows(Role(row["role"]), May.PEOPLE)}
        if able == {str(person_id)} and (role is None or not allows(role, May.PEOPLE)):
            raise FirstliftError(
                Problem(
                    "WEB-003",
                    "nobody would be left who can give sign-ins",
                    needed="somebody else of the office with a sign-in",
                    next="Give somebody else the role office first",
                )
            )

    def roles(self) -> dict[UUID, Role]:
        """Give who may sign in, and as what."""
        with self.opened() as connection:
            rows = connection.execute("SELECT person_id, role FROM account WHERE active = 1").fetchall()
        return {UUID(row["person_id"]): Role(row["role"]) for row in rows}

    def standing(self, person_id: UUID) -> tuple[Role | None, bool]:
        """Give a person's role, None without a sign-in; and whether another password must be chosen first."""
        with self.opened() as connection:
            query = "SELECT role, must_change FROM account WHERE person_id = ? AND active = 1"
            row = connection.execute(query, (str(person_id),)).fetchone()
        return (None, False) if row is None else (Role(row["role"]), bool(row["must_change"]))

    def role_of(self, person_id: UUID) -> Role | None:
        """Give a person's role, None without a sign-in."""
        return self.standing(person_id)[0]

    def sign_in(self, name: str, password: str, device: str = "") -> Came:
        """Give who a name and password belong to.

        After five failures each try waits longer, up to five minutes: nobody is locked out for good. ``device`` is
        what `know_device` gave this browser: its tries are counted apart from everybody else's.

        Raises
        ------
        FirstliftError
            WEB-001 they do not fit, WEB-002 too many tries.
        """
        with self.opened() as connection:
            query = "SELECT * FROM account WHERE name_key = ? AND active = 1"
            row = connection.execute(query, (search_key(name),)).fetchone()
        with self._one_of_few():
            if row is None:
                # so that the answer takes as long as where the name is known, and comes to wait as well
                self._count_stranger(search_key(name))
                fits(password, _nobody())
                raise _no_fit()
            self._try(row["person_id"], row["password"], password, device)
        return Came(UUID(row["person_id"]), bool(row["must_change"]))

    def prove(self, person_id: UUID, password: str) -> None:
        """Refuse where a password is not the person's: WEB-001, or WEB-002 after too many tries."""
        with self.opened() as connection:
            query = "SELECT password FROM account WHERE person_id = ? AND active = 1"
            row = connection.execute(query, (str(person_id),)).fetchone()
        if row is None:
            raise _no_fit()
        with self._one_of_few():
            self._try(str(person_id), row["password"], password, "")

    def _try(self, person_id: str, kept: str, password: str, device: str) -> None:
        # counted as failed before it is looked at: many tries at once are many tries
        table, column, value = self._counter(person_id, device)
        with self.changed() as connection:
            query = f"SELECT failed, next_try_at FROM {table} WHERE {column} = ?"
            counted = connection.execute(query, (value,)).fetchone()
            if counted["next_try_at"] > text_of(now()):
                raise _too_many(counted["next_try_at"])
            failed = counted["failed"] + 1
            query = f"UPDATE {table} SET failed = ?, next_try_at = ? WHERE {column} = ?"
            connection.execute(query, (failed, _next_try(failed), value))
        if not fits(password, kept):
            if failed == _TRIES_BEFORE_WAIT:
                self._on_wait(UUID(person_id))
            raise _no_fit()
        with self.opened() as connection:
            query = f"UPDATE {table} SET failed = 0, next_try_at = '' WHERE {column} = ?"
            connection.execute(query, (value,))

    def _count_stranger(self, name_key: str) -> None:
        """Count the tries under a name that nobody has; they are forgotten when the app ends."""
        with self._counting:
            failed, next_try_at = self._strangers.pop(name_key, (0, ""))
            if next_try_at > text_of(now()):
                self._strangers[name_key] = (failed, next_try_at)
                raise _too_many(next_try_at)
            self._strangers[name_key] = (failed + 1, _next_try(failed + 1))
            while len(self._strangers) > _MOST_STRANGERS:
                del self._strangers[next(iter(self._strangers))]

    def _counter(self, person_id: str, device: str) -> tuple[str, str, str]:
        if device:
            with self.opened() as connection:
                query = "SELECT 1 FROM device WHERE id_sha256 = ? AND person_id = ? AND ends_at > ?"
                known = connection.execute(query, (hashed(device), person_id, text_of(now()))).fetchone()
            if known:
                return "device", "id_sha256", hashed(device)
        return "account", "person_id", person_id

    def know_device(self, person_id: UUID, device: str) -> str:
        """Remember that a person signed in by this browser; gives what the browser keeps, or has kept already."""
        if self._counter(str(person_id), device)[0] == "device":
            return device
        secret = secrets.token_urlsafe(32)
        with self.opened() as connection:
            connection.execute("DELETE FROM device WHERE ends_at < ?", (text_of(now()),))
            connection.execute(
                "INSERT INTO device (id_sha256, person_id, ends_at) VALUES (?, ?, ?)",
                (hashed(secret), str(person_id), text_of(now() + _DEVICE_KEPT)),
            )
        return secret

    @contextmanager
    def _one_of_few(self) -> Iterator[None]:
        if not self._trying.acquire(timeout=_PATIENCE_S):
            raise FirstliftError(
                Problem("WEB-002", "too many sign in at once", "sign-in", "a short wait", "Try again in a minute")
            )
        try:
            yield
        finally:
            self._trying.release()

    def likes(self, person_id: UUID) -> dict[str, str]:
        """Give what a person chose to see: look, unit."""
        with self.opened() as connection:
            rows = connection.execute("SELECT name, value FROM likes WHERE person_id = ?", (str(person_id),))
            return {row["name"]: row["value"] for row in rows}

    def like(self, person_id: UUID, name: str, value: str) -> None:
        """Keep what a person chose."""
        with self.opened() as connection:
            connection.execute("INSERT OR REPLACE INTO likes VALUES (?, ?, ?)", (str(person_id), name, value))


@functools.cache
def _nobody() -> str:
    return keep_password(secrets.token_hex(16))


def _next_try(failed: int) -> str:
    """Give when the next try counts, "" where at once."""
    if failed < _TRIES_BEFORE_WAIT:
        return ""
    wait_s = min(2 ** min(failed - _TRIES_BEFORE_WAIT + 1, 10), _LONGEST_WAIT_S)
    return text_of(now() + dt.timedelta(seconds=wait_s))


def _no_fit() -> FirstliftError:
    return FirstliftError(
        Problem("WEB-001", "name and password do not fit", "sign-in", "both as they were given to you")
    )


def _too_many(next_try_at: str) -> FirstliftError:
    wait = dt.datetime.fromisoformat(next_try_at) - now()
    return FirstliftError(
        Problem(
            "WEB-002",
            f"too many tries; the next one counts in {max(int(wait.total_seconds()), 0) + 1} s",
            "sign-in",
            "a short wait",
            "Wait, or ask the office for a new password",
        )
    )
