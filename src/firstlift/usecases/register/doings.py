"""What was done to the register and to sign-ins: the chain as people ask for it, by person, kind and day."""

from __future__ import annotations

import datetime as dt
import json
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import Any
from uuid import UUID

import sqlalchemy as sa

from firstlift.core.register.chain import DEED
from firstlift.core.register.codec import instant_text
from firstlift.store.read import Reader
from firstlift.store.tables import audit_table

# groups of deeds and of kinds of entries, as people ask for them
DEEDS: Mapping[str, tuple[str, ...]] = {
    "group-sign-ins": (
        "signed-in", "signed-out", "too-many-tries", "session-ended", "sessions-ended", "sign-in-given",
        "sign-in-taken", "password-changed", "look-chosen",
    ),
    "group-systems": ("token-made", "token-ended", "hook-made", "hook-ended", "hook-gave-up"),
    "group-sent": (
        "paper-to-send", "paper-made-ready", "paper-sent", "paper-sent-by-hand", "paper-not-sent", "paper-maybe-sent",
        "paper-sending-stopped", "paper-to-send-again",
    ),
    "group-proofs": ("chain-proved",),
}  # fmt: skip
KIND_GROUPS: Mapping[str, tuple[str, ...]] = {
    "group-certificates": ("certificate", "attachment"),
    "group-tests": ("valve_test", "adjustment", "seat_record", "seat_word"),
    "group-visits": ("visit", "hold_point", "identity_check"),
    "group-valves": (
        "owner", "site", "protected_system", "position", "interval", "rule_choice", "valve", "installation",
    ),
    "group-instruments": ("instrument", "calibration", "use_check"),
    "group-people": ("person", "qualification", "contact"),
}  # fmt: skip
GROUPS = (*DEEDS, *KIND_GROUPS)
_CHUNK = 1000


@dataclass(frozen=True, slots=True)
class DoingsAsked:
    """Which entries of the chain. ``who`` as in the chain, "" for anybody; days are UTC's, both included."""

    who: str = ""
    group: str = ""
    first: dt.date | None = None
    last: dt.date | None = None


@dataclass(frozen=True, slots=True)
class Doing:
    """An entry of the chain, told: ``deed`` is what was done where the entry has no row of its own, else "".

    ``said`` is more of a deed: identifiers and hashes alone.
    """

    number: int
    at: str
    who: str
    action: str
    kind: str
    about: UUID
    deed: str
    said: Mapping[str, str]


def doings(reader: Reader, asked: DoingsAsked, *, before: int | None = None, limit: int = 50) -> list[Doing]:
    """Give entries of the chain, the latest first.

    Parameters
    ----------
    reader : Reader
    asked : DoingsAsked
    before : int or None
        Only those before this number: the next page goes on where the last one ended.
    limit : int

    Returns
    -------
    list of Doing
    """
    table = audit_table.c
    query = sa.select(table.number, table.at, table.who, table.action, table.kind, table.entry_id, table.after)
    query = query.where(*_conditions(asked))
    if before is not None:
        query = query.where(table.number < before)
    rows = reader.connection.execute(query.order_by(table.number.desc()).limit(limit))
    return [_doing(*row) for row in rows]


def all_doings(reader: Reader, asked: DoingsAsked) -> Iterator[Doing]:
    """Give every entry that is asked for, the latest first, a chunk at a time.

    Parameters
    ----------
    reader : Reader
    asked : DoingsAsked

    Returns
    -------
    iterator of Doing
    """
    before: int | None = None
    while True:
        found = doings(reader, asked, before=before, limit=_CHUNK)
        yield from found
        if len(found) < _CHUNK:
            return
        before = found[-1].number


def _conditions(asked: DoingsAsked) -> list[sa.ColumnElement[bool]]:
    table = audit_table.c
    found: list[sa.ColumnElement[bool]] = []
    if asked.who:
        found.append(table.who == asked.who)
    if asked.group in DEEDS:
        named = [table.after.contains(f'"deed":"{deed}"', autoescape=True) for deed in DEEDS[asked.group]]
        found += [table.kind == DEED, sa.or_(*named)]
    elif asked.group in KIND_GROUPS:
        found.append(table.kind.in_(KIND_GROUPS[asked.group]))
    if asked.first is not None:
        found.append(table.at >= _begin(asked.first))
    if asked.last is not None and asked.last < dt.date.max:
        found.append(table.at < _begin(asked.last + dt.timedelta(days=1)))
    return found


def _begin(day: dt.date) -> str:
    return instant_text(dt.datetime.combine(day, dt.time(), dt.UTC))


def _doing(number: int, at: str, who: str, action: str, kind: str, about: UUID, after: str) -> Doing:
    said: dict[str, Any] = json.loads(after) if kind == DEED and after else {}
    deed = str(said.pop("deed", ""))
    return Doing(number, at, who, action, kind, about, deed, {name: str(value) for name, value in said.items()})
