"""The outbox: messages with papers on their way, beside a register, so that none is lost and none is sent twice.

A message goes from ``made`` (not yet in the chain) to ``waiting``, ``under-way``, ``given`` (all of it is with the
server but its answer is not here yet) and ``sent``; or to ``failed``, ``stopped``, ``unsure``. What a crash left
under way was not taken by any server, which takes a message at its end only, and is tried again; what it left given
may have arrived: a person decides. The file is no part of the register, of its exports or of its backups: a copy that
is brought back sends nothing again. Addresses are not in it: they are looked up when a message goes.
"""

from __future__ import annotations

import json
import sqlite3
from collections.abc import Iterator, Sequence
from contextlib import closing, contextmanager
from dataclasses import asdict, dataclass
from enum import StrEnum
from pathlib import Path
from uuid import UUID

from firstlift.store.side_file import SideFile

OUTBOX = "outbox.sqlite"
_LOCK = "outbox.lock"
# of those that are over, so many are still listed; the chain keeps that each was sent
_OVER_KEPT = 500
_LONGEST_SAID = 300
_SCHEMA = """
CREATE TABLE IF NOT EXISTS message (
    id TEXT PRIMARY KEY, made_at TEXT NOT NULL, made_by TEXT NOT NULL, way TEXT NOT NULL, contact_id TEXT NOT NULL,
    language TEXT NOT NULL, subject TEXT NOT NULL, body TEXT NOT NULL, papers TEXT NOT NULL, state TEXT NOT NULL,
    state_at TEXT NOT NULL, tries INTEGER NOT NULL DEFAULT 0, next_at TEXT, said TEXT NOT NULL DEFAULT '',
    told INTEGER NOT NULL DEFAULT 1);
CREATE INDEX IF NOT EXISTS message_state ON message (state, next_at);
"""


class Way(StrEnum):
    """How a message goes: by the mail server, or as a file into somebody's own mail program."""

    SERVER = "server"
    FILE = "file"


class State(StrEnum):
    """Where a message stands."""

    MADE = "made"
    WAITING = "waiting"
    UNDER_WAY = "under-way"
    GIVEN = "given"
    SENT = "sent"
    FAILED = "failed"
    UNSURE = "unsure"
    STOPPED = "stopped"
    READY = "ready"
    BY_HAND = "by-hand"


OVER = (State.SENT, State.STOPPED, State.BY_HAND)
# what a person has to look at
ASKING = (State.FAILED, State.UNSURE)
_STOPPABLE = (State.WAITING, State.READY, State.FAILED, State.UNSURE)


@dataclass(frozen=True, slots=True)
class SentPaper:
    """A paper of a message: ``about`` is its certificate, or the visit it is of; ``sha256`` names the kept file."""

    about: UUID
    number: str
    sha256: str
    file: str
    size: int
    state: str


@dataclass(frozen=True, slots=True)
class Message:
    """A message; instants are UTC texts that sort as instants do. ``said`` is what came of its last try."""

    id: UUID
    made_at: str
    made_by: str
    way: Way
    contact_id: UUID
    language: str
    subject: str
    body: str
    papers: tuple[SentPaper, ...]
    state: State = State.MADE
    state_at: str = ""
    tries: int = 0
    next_at: str | None = None
    said: str = ""


class Outbox(SideFile):
    """The messages of a register.

    Parameters
    ----------
    folder : Path
        The register's.
    """

    def __init__(self, folder: Path) -> None:
        super().__init__(folder / OUTBOX, _SCHEMA)

    def add(self, message: Message) -> None:
        """Put a message in, made: nothing sends it before `release`."""
        papers = json.dumps([{**asdict(paper), "about": str(paper.about)} for paper in message.papers])
        values = (
            str(message.id), message.made_at, message.made_by, str(message.way), str(message.contact_id),
            message.language, message.subject, message.body, papers, str(State.MADE), message.made_at,
        )  # fmt: skip
        with self.opened() as connection:
            connection.execute(
                "INSERT INTO message (id, made_at, made_by, way, contact_id, language, subject, body, papers, state, "
                "state_at) VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?)",
                values,
            )

    def release(self, message_id: UUID, at: str) -> None:
        """Let a made message go its way."""
        with self.opened() as connection:
            connection.execute(
                "UPDATE message SET state = CASE way WHEN 'server' THEN 'waiting' ELSE 'ready' END, "
                "next_at = CASE way WHEN 'server' THEN ? END, state_at = ? WHERE id = ? AND state = 'made'",
                (at, at, str(message_id)),
            )

    def drop(self, message_id: UUID) -> None:
        """Take a made message out again."""
        with self.opened() as connection:
            connection.execute("DELETE FROM message WHERE id = ? AND state = 'made'", (str(message_id),))

    def find(self, message_id: UUID) -> Message | None:
        """Give a message."""
        with self.opened() as connection:
            row = connection.execute("SELECT * FROM message WHERE id = ?", (str(message_id),)).fetchone()
        return None if row is None else _message(row)

    def every(self, states: Sequence[State] = (), *, limit: int = 1000, offset: int = 0) -> list[Message]:
        """Give messages, the latest first."""
        marks = ", ".join("?" * len(states))
        where = f"WHERE state IN ({marks})" if states else ""
        query = f"SELECT * FROM message {where} ORDER BY made_at DESC, rowid DESC LIMIT ? OFFSET ?"
        with self.opened() as connection:
            return [_message(row) for row in connection.execute(query, (*states, limit, offset))]

    def of_contact(self, contact_id: UUID) -> list[Message]:
        """Give a contact's messages."""
        with self.opened() as connection:
            rows = connection.execute("SELECT * FROM message WHERE contact_id = ?", (str(contact_id),))
            return [_message(row) for row in rows]

    def forget(self, contact_id: UUID) -> None:
        """Take out of a contact's messages what was written to them and what servers said of their address."""
        with self.opened() as connection:
            connection.execute(
                "UPDATE message SET subject = '', body = '', said = '' WHERE contact_id = ?", (str(contact_id),)
            )

    def counts(self) -> dict[State, int]:
        """Count messages by where they stand."""
        with self.opened() as connection:
            rows = connection.execute("SELECT state, COUNT(*) FROM message GROUP BY state").fetchall()
        return {State(state): count for state, count in rows}

    def due(self, at: str) -> list[Message]:
        """Give what is to be tried now, the longest waiting first."""
        query = "SELECT * FROM message WHERE state = 'waiting' AND next_at <= ? ORDER BY next_at, rowid LIMIT 100"
        with self.opened() as connection:
            return [_message(row) for row in connection.execute(query, (at,))]

    def claim(self, message_id: UUID, at: str) -> bool:
        """Take a waiting message up to send it; False where somebody stopped it or took it up first."""
        return self._move(message_id, (State.WAITING,), State.UNDER_WAY, at)

    def given(self, message_id: UUID, at: str) -> None:
        """Keep that the whole message is about to be with the server."""
        self._move(message_id, (State.UNDER_WAY,), State.GIVEN, at)

    def settle(self, message_id: UUID, state: State, said: str, at: str, next_at: str | None = None) -> None:
        """Keep what came of a try; what is over loses its text, and is not in the chain yet."""
        with self.opened() as connection:
            connection.execute(
                "UPDATE message SET state = ?, state_at = ?, said = ?, next_at = ?, tries = tries + 1, told = ?, "
                "body = CASE WHEN ? THEN '' ELSE body END WHERE id = ?",
                (state, at, said[:_LONGEST_SAID], next_at, int(state is State.WAITING), state in OVER, str(message_id)),
            )

    def stop(self, message_id: UUID, at: str) -> bool:
        """Stop a message; False where it is under way or over."""
        return self._move(message_id, _STOPPABLE, State.STOPPED, at)

    def by_hand(self, message_id: UUID, at: str) -> bool:
        """Keep that somebody sent a ready message themselves."""
        return self._move(message_id, (State.READY,), State.BY_HAND, at)

    def again(self, message_id: UUID, at: str) -> bool:
        """Try again from the beginning what failed or may not have arrived, or at once what waits."""
        states = (State.FAILED, State.UNSURE, State.WAITING)
        if not self._move(message_id, states, State.WAITING, at):
            return False
        with self.opened() as connection:
            query = "UPDATE message SET tries = 0, next_at = ? WHERE id = ? AND state = 'waiting'"
            connection.execute(query, (at, str(message_id)))
        return True

    def _move(self, message_id: UUID, states: Sequence[State], state: State, at: str) -> bool:
        # told: 1 unless the new state has to be told to the chain by whoever carries; acts of people tell it themselves
        marks = ", ".join("?" * len(states))
        with self.opened() as connection:
            moved = connection.execute(
                f"UPDATE message SET state = ?, state_at = ?, body = CASE WHEN ? THEN '' ELSE body END, "
                f"told = CASE WHEN ? THEN 0 ELSE told END WHERE id = ? AND state IN ({marks})",
                (state, at, state in OVER, state in (*OVER, *ASKING), str(message_id), *states),
            )
            return moved.rowcount == 1

    def mend(self, at: str) -> None:
        """Bring back what a crash left under way; only for whoever holds `carrying`."""
        with self.changed() as connection:
            connection.execute(
                "UPDATE message SET state = 'waiting', next_at = ?, state_at = ?, said = ? WHERE state = 'under-way'",
                (at, at, "broken off before the end of the message"),
            )
            connection.execute(
                "UPDATE message SET state = 'unsure', state_at = ?, said = ?, told = 0 WHERE state = 'given'",
                (at, "broken off before the server answered"),
            )

    def untold(self) -> list[Message]:
        """Give what is over, failed or unsure and not in the chain yet, the longest first."""
        with self.opened() as connection:
            rows = connection.execute("SELECT * FROM message WHERE told = 0 ORDER BY state_at, rowid").fetchall()
        return [_message(row) for row in rows]

    def told(self, message_id: UUID) -> None:
        """Keep that the chain has it; of what is over only the latest stay in the list."""
        marks = ", ".join(f"'{state}'" for state in OVER)
        with self.opened() as connection:
            connection.execute("UPDATE message SET told = 1 WHERE id = ?", (str(message_id),))
            connection.execute(
                f"DELETE FROM message WHERE told = 1 AND state IN ({marks}) AND rowid NOT IN "
                f"(SELECT rowid FROM message WHERE state IN ({marks}) ORDER BY state_at DESC, rowid DESC LIMIT ?)",
                (_OVER_KEPT,),
            )

    @contextmanager
    def carrying(self) -> Iterator[bool]:
        """Be the one who carries, for as long as the block lasts; False where another is, in whatever process.

        The lock is the engine's, on a file of its own: the system lets go of it when a process ends, however it ends.
        """
        path = self.path.with_name(_LOCK)
        with closing(sqlite3.connect(path, timeout=0.0, isolation_level=None)) as connection:
            try:
                connection.execute("BEGIN EXCLUSIVE")
            except sqlite3.OperationalError:
                yield False
                return
            yield True


def _message(row: sqlite3.Row) -> Message:
    papers = tuple(SentPaper(**{**one, "about": UUID(one["about"])}) for one in json.loads(row["papers"]))
    return Message(
        UUID(row["id"]), row["made_at"], row["made_by"], Way(row["way"]), UUID(row["contact_id"]), row["language"],
        row["subject"], row["body"], papers, State(row["state"]), row["state_at"], row["tries"], row["next_at"],
        row["said"],
    )  # fmt: skip
