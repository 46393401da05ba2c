"""The audit chain: who, when, what, before, after; each entry holds the hash of the one before it.

The first entry's predecessor is the store's own identifier, and every entry holds that identifier, so that
entries of one register cannot stand in another.
"""

from __future__ import annotations

import datetime as dt
import hashlib
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from enum import StrEnum
from uuid import UUID

from firstlift.core.register.codec import canonical, instant_text


class Action(StrEnum):
    """What was done."""

    ADD = "add"
    CHANGE = "change"
    ERASE = "erase-personal-data"
    DID = "did"


# the kind of an entry of the chain that has no row: something that was done, as giving somebody a sign-in
DEED = "deed"


@dataclass(frozen=True, slots=True)
class Entry:
    """One change. ``before`` and ``after`` are the chain's texts of the entry, "" where there was none.

    ``who`` is a person's identifier or "program:<name>", never a name. ``sha256`` covers all the rest.
    """

    number: int
    store_id: UUID
    at: str
    who: str
    action: str
    kind: str
    entry_id: UUID
    before: str
    after: str
    previous_sha256: str
    sha256: str


@dataclass(frozen=True, slots=True)
class Break:
    """The first place where the chain does not hold, and why."""

    number: int
    reason: str


@dataclass(frozen=True, slots=True)
class Change:
    """What an entry of the chain is made from."""

    action: Action
    kind: str
    entry_id: UUID
    before: str
    after: str


def first_link(store_id: UUID) -> str:
    """Give what stands before the first entry of a store.

    Parameters
    ----------
    store_id : UUID

    Returns
    -------
    str
        SHA-256, hexadecimal.
    """
    return hashlib.sha256(f"firstlift-register-1 {store_id}".encode()).hexdigest()


def entry_sha256(entry: Entry) -> str:
    """Give the hash that an entry should hold.

    Parameters
    ----------
    entry : Entry

    Returns
    -------
    str
        SHA-256 of the canonical JSON list of all its other fields.
    """
    parts = [
        entry.number,
        str(entry.store_id),
        entry.at,
        entry.who,
        entry.action,
        entry.kind,
        str(entry.entry_id),
        entry.before,
        entry.after,
        entry.previous_sha256,
    ]
    return hashlib.sha256(canonical(parts).encode()).hexdigest()


def next_entry(number: int, previous: str, *, store_id: UUID, at: dt.datetime, who: str, change: Change) -> Entry:
    """Make the entry that follows another.

    Parameters
    ----------
    number : int
        Its place, from 1.
    previous : str
        Hash of the entry before it, or `first_link`.
    store_id : UUID
    at : datetime
    who : str
    change : Change

    Returns
    -------
    Entry
    """
    bare = Entry(
        number, store_id, instant_text(at), who, str(change.action), change.kind, change.entry_id,
        change.before, change.after, previous, "",
    )  # fmt: skip
    return Entry(
        number, store_id, bare.at, who, bare.action, change.kind, change.entry_id,
        change.before, change.after, previous, entry_sha256(bare),
    )  # fmt: skip


def breaks(entries: Iterable[Entry], store_id: UUID) -> Iterator[Break]:
    """Say where the chain does not hold, in order; what follows a break is judged from the entry as it stands.

    Parameters
    ----------
    entries : iterable of Entry
        By number.
    store_id : UUID

    Returns
    -------
    iterator of Break
    """
    previous, expected = first_link(store_id), 1
    for entry in entries:
        if entry.number != expected:
            yield Break(expected, f"entry {expected} is missing: entry {entry.number} follows entry {expected - 1}")
        elif entry.previous_sha256 != previous:
            yield Break(entry.number, "it does not continue the entry before it")
        if entry.store_id != store_id:
            yield Break(entry.number, f"it belongs to the store {entry.store_id}")
        if entry.sha256 != entry_sha256(entry):
            yield Break(entry.number, "its content does not fit its hash")
        previous, expected = entry.sha256, entry.number + 1
