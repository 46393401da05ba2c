"""Web-hooks and their deliveries, in the file of sign-ins."""

from __future__ import annotations

import base64
import datetime as dt
import secrets
import sqlite3
from collections.abc import Sequence
from dataclasses import dataclass
from uuid import UUID

import sqlalchemy as sa

from firstlift.store.read import Reader
from firstlift.store.side_file import text_of
from firstlift.store.tables import store_table
from firstlift.usecases.register.place import now
from firstlift.usecases.retry import next_try
from firstlift.web.access_file import AccessFile
from firstlift.web.hooks.events import EventKind

_DONE_KEPT = 50


@dataclass(frozen=True, slots=True)
class Hook:
    """A web-hook; ``seen`` is the place in the chain up to which its events are taken up."""

    id: UUID
    token: str
    url: str
    events: tuple[EventKind, ...]
    secret: str
    made_at: dt.datetime
    seen: int
    waiting: int = 0
    said: str = ""


@dataclass(frozen=True, slots=True)
class Delivery:
    """An event on its way to a web-hook."""

    hook: Hook
    event_id: str
    body: str
    tries: int


class Hooks(AccessFile):
    """The web-hooks that hold: not ended, and their token not either."""

    @staticmethod
    def head(reader: Reader) -> int:
        """Give the last place of the chain."""
        return int(reader.connection.execute(sa.select(store_table.c.entries)).scalar_one())

    def make(self, hook_id: UUID, token: str, url: str, events: Sequence[EventKind], seen: int) -> Hook:
        """Make a web-hook; one with that identifier that is there already is given as it stands."""
        secret = "whsec_" + base64.b64encode(secrets.token_bytes(32)).decode()
        with self.opened() as connection:
            connection.execute(
                "INSERT OR IGNORE INTO hook (id, token, url, events, secret, made_at, seen) "
                "VALUES (?, ?, ?, ?, ?, ?, ?)",
                (str(hook_id), token, url, " ".join(events), secret, text_of(now()), seen),
            )
            row = connection.execute("SELECT *, 0 AS waiting, '' AS said FROM hook WHERE id = ?", (str(hook_id),))
            return _hook(row.fetchone())

    def every(self) -> list[Hook]:
        """Give the web-hooks, the oldest first."""
        with self.opened() as connection:
            rows = connection.execute(
                "SELECT hook.*, "
                "(SELECT COUNT(*) FROM delivery WHERE hook_id = hook.id AND next_at IS NOT NULL) AS waiting, "
                "COALESCE((SELECT said FROM delivery WHERE hook_id = hook.id AND said <> '' "
                "ORDER BY rowid DESC LIMIT 1), '') AS said "
                "FROM hook WHERE ended_at IS NULL AND EXISTS "
                "(SELECT 1 FROM token WHERE substr(id_sha256, 1, 12) = hook.token AND revoked_at IS NULL) "
                "ORDER BY made_at, id"
            ).fetchall()
        return [_hook(row) for row in rows]

    def end(self, hook_id: UUID) -> None:
        """End a web-hook; what was not delivered is not."""
        with self.changed() as connection:
            connection.execute("UPDATE hook SET ended_at = ? WHERE id = ?", (text_of(now()), str(hook_id)))
            connection.execute("DELETE FROM delivery WHERE hook_id = ?", (str(hook_id),))

    def take_up(self, hook_id: UUID, bodies: Sequence[tuple[str, str]], seen: int) -> None:
        """Put events on their way, and remember up to where: both or neither."""
        at = text_of(now())
        with self.changed() as connection:
            rows = [(str(hook_id), event_id, body, at) for event_id, body in bodies]
            connection.executemany(
                "INSERT OR IGNORE INTO delivery (hook_id, event_id, body, next_at) VALUES (?, ?, ?, ?)", rows
            )
            connection.execute("UPDATE hook SET seen = ? WHERE id = ?", (seen, str(hook_id)))

    def due(self) -> list[Delivery]:
        """Give the deliveries to try now, the longest waiting first."""
        hooks = {str(one.id): one for one in self.every()}
        with self.opened() as connection:
            rows = connection.execute(
                "SELECT * FROM delivery WHERE next_at <= ? ORDER BY next_at, rowid LIMIT 100", (text_of(now()),)
            ).fetchall()
        return [
            Delivery(hooks[row["hook_id"]], row["event_id"], row["body"], row["tries"])
            for row in rows
            if row["hook_id"] in hooks
        ]

    def arrived(self, one: Delivery, said: str) -> None:
        """Keep that a delivery was taken; old ones of the hook are cleared away."""
        self._set(one, None, said)
        with self.opened() as connection:
            connection.execute(
                "DELETE FROM delivery WHERE hook_id = ? AND next_at IS NULL AND rowid NOT IN "
                "(SELECT rowid FROM delivery WHERE hook_id = ? AND next_at IS NULL ORDER BY rowid DESC LIMIT ?)",
                (str(one.hook.id), str(one.hook.id), _DONE_KEPT),
            )

    def failed(self, one: Delivery, said: str) -> bool:
        """Keep that a delivery was not taken; says whether it is tried again."""
        again = next_try(one.tries, now())
        self._set(one, text_of(again) if again else None, said if again else f"gave up: {said}")
        return again is not None

    def _set(self, one: Delivery, next_at: str | None, said: str) -> None:
        with self.opened() as connection:
            connection.execute(
                "UPDATE delivery SET tries = ?, next_at = ?, said = ? WHERE hook_id = ? AND event_id = ?",
                (one.tries + 1, next_at, said[:200], str(one.hook.id), one.event_id),
            )


def _hook(row: sqlite3.Row) -> Hook:
    return Hook(
        UUID(row["id"]),
        row["token"],
        row["url"],
        tuple(EventKind(event) for event in row["events"].split()),
        row["secret"],
        dt.datetime.fromisoformat(row["made_at"]),
        row["seen"],
        row["waiting"],
        row["said"],
    )
