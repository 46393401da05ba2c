"""One unit of work: entries and their place in the chain are committed together, or nothing is.

What was observed or handed out is added, never changed; a correction names what it supersedes. Nothing is
deleted. The store's triggers hold the same (see migrations), whoever writes to it.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable, Mapping, Sequence
from pathlib import Path
from typing import Any
from uuid import UUID

import sqlalchemy as sa

from firstlift.core.errors import FirstliftError, Problem
from firstlift.core.register.chain import DEED, Action, Change, next_entry
from firstlift.core.register.choose import search_key
from firstlift.core.register.codec import canonical, chain_form, from_plain, sha256_of, to_plain
from firstlift.core.register.contacts import Contact
from firstlift.core.register.kinds import FROZEN, NAME_OF
from firstlift.core.register.people import Person
from firstlift.core.register.places import Interval
from firstlift.core.register.work import NEXT_STATES, Certificate, CertificateState, ValveTest
from firstlift.store.columns import row_of
from firstlift.store.read import Reader
from firstlift.store.standing import note_touched, refresh_standing
from firstlift.store.tables import KEY_LENGTH, KEYS, TABLES, audit_table, store_table, test_instrument_table

_CHUNK = 500
_CHAIN_COLUMNS = tuple(column.name for column in audit_table.columns)


class Work(Reader):
    """Adds and changes entries. Make one by ``Store.work``; it is committed when its block ends."""

    def __init__(self, connection: sa.Connection, folder: Path, *, at: dt.datetime, who: str) -> None:
        # the store's row is locked first: one writer at a time, also where the engine would allow several
        head = connection.execute(sa.select(store_table).with_for_update()).mappings().one()
        super().__init__(connection, head["id"], folder)
        self.at = at
        self.who = who
        self._number: int = head["entries"]
        self._head: str = head["head_sha256"]
        self._valves: set[UUID] = set()
        self._positions: set[UUID] = set()

    def add(self, entry: Any) -> None:
        """Add one entry; REG-003, REG-011 to REG-014, REG-017 where it cannot be kept."""
        self.add_all([entry])

    def add_all(self, entries: Iterable[Any]) -> int:
        """Add entries, of any kinds, each after those it refers to. Give how many."""
        total = 0
        for kind, group in _runs(entries):
            rows, changes = [], []
            for entry in group:
                if isinstance(entry, Interval):
                    _check_begun(entry, self.at)
                elif isinstance(entry, ValveTest) and entry.supersedes is not None:
                    self._check_same_valve(entry)
                plain = _checked(kind, entry)
                rows.append(row_with_keys(kind, plain))
                changes.append(Change(Action.ADD, NAME_OF[kind], entry.id, "", chain_form(kind, plain)))
            self.connection.execute(sa.insert(TABLES[NAME_OF[kind]]), rows)
            if kind is ValveTest:
                self._index_instruments(group)
            self._note(group, changes)
            total += len(group)
        return total

    def change(self, entry: Any) -> None:
        """Put an entry in the place of the one with its identifier; REG-015 where that kind is never edited."""
        kind = type(entry)
        name = NAME_OF[kind]
        if name in FROZEN:
            raise FirstliftError(
                Problem(
                    "REG-015",
                    f"a {name.replace('_', ' ')} is never edited",
                    str(entry.id),
                    "a new entry that supersedes it",
                    "Add the corrected one and name this one as superseded",
                )
            )
        before = self.get(kind, entry.id)
        if isinstance(entry, Certificate):
            _check_forward(before, entry)
        told = isinstance(entry, (Person, Contact))
        if told and before.details_sha256 != entry.details_sha256 and before.details is None:
            _refuse_erased(entry)
        plain = _checked(kind, entry)
        table = TABLES[name]
        row = row_with_keys(kind, plain)
        self.connection.execute(sa.update(table).where(table.c.id == entry.id).values(row))
        was = chain_form(kind, to_plain(before))
        self._note([before, entry], [Change(Action.CHANGE, name, entry.id, was, chain_form(kind, plain))])

    def erase_person(self, person_id: UUID) -> None:
        """Remove what identifies a person; the chain keeps its hash and goes on."""
        self._erase(Person, person_id)

    def erase_contact(self, contact_id: UUID) -> None:
        """Remove what identifies a contact; the chain keeps its hash and goes on."""
        self._erase(Contact, contact_id)

    def _erase(self, kind: type[Person] | type[Contact], entry_id: UUID) -> None:
        entry = self.get(kind, entry_id)
        name, form = NAME_OF[kind], chain_form(kind, to_plain(entry))
        table = TABLES[name]
        self.connection.execute(sa.update(table).where(table.c.id == entry_id).values(details=None))
        self._note([entry], [Change(Action.ERASE, name, entry_id, form, form)])

    def note_deed(self, deed: str, about: UUID, said: Mapping[str, str]) -> None:
        """Write into the chain what was done to somebody or something that has no row for it."""
        text = canonical({"deed": deed, **said})
        self._note([], [Change(Action.DID, DEED, about, "", text)])

    def finish(self) -> None:
        """Bring up what is made from the entries; called by the store before it commits."""
        refresh_standing(self.connection, self._valves, self._positions)
        self.connection.execute(sa.update(store_table).values(entries=self._number, head_sha256=self._head))

    def _note(self, entries: Sequence[Any], changes: Sequence[Change]) -> None:
        """Write the changes into the chain, and remember whose standing they move."""
        rows = []
        for change in changes:
            made = next_entry(
                self._number + 1, self._head, store_id=self.store_id, at=self.at, who=self.who, change=change
            )
            self._number, self._head = made.number, made.sha256
            rows.append({name: getattr(made, name) for name in _CHAIN_COLUMNS})
        self.connection.execute(sa.insert(audit_table), rows)
        for entry in entries:
            note_touched(entry, self._valves, self._positions)

    def _index_instruments(self, tests: Sequence[ValveTest]) -> None:
        rows = instrument_rows((test.id, to_plain(test.instruments)) for test in tests)
        if rows:
            self.connection.execute(sa.insert(test_instrument_table), rows)

    def _check_same_valve(self, test: ValveTest) -> None:
        table = TABLES["valve_test"]
        valve_id = self.connection.execute(sa.select(table.c.valve_id).where(table.c.id == test.supersedes)).scalar()
        if valve_id is not None and valve_id != test.valve_id:
            raise FirstliftError(
                Problem(
                    "REG-017", "a test supersedes one of another valve", f"test {test.supersedes}", "the same valve"
                )
            )


def _refuse_erased(entry: Person | Contact) -> None:
    if entry.details is None:
        where = f"{NAME_OF[type(entry)]} {entry.id}"
        raise FirstliftError(Problem("REG-014", "the hash of removed personal data cannot change", where, "new data"))


def _runs(entries: Iterable[Any]) -> Iterable[tuple[type[Any], list[Any]]]:
    """Cut entries into runs of one kind, none longer than a chunk."""
    group: list[Any] = []
    for entry in entries:
        if group and (type(entry) is not type(group[0]) or len(group) >= _CHUNK):
            yield type(group[0]), group
            group = []
        group.append(entry)
    if group:
        yield type(group[0]), group


def _checked(kind: type[Any], entry: Any) -> dict[str, Any]:
    """Give the plain form of an entry that can be kept: numbers as the store will give them back."""
    name = NAME_OF[kind]
    plain = to_plain(entry)
    canonical(plain)
    plain = to_plain(from_plain(kind, plain, name))
    for field in KEYS.get(name, {}).values():
        text = plain[field]
        if field != "maker" and not search_key(text):
            raise FirstliftError(Problem("REG-012", f"a {name} without {field}", str(entry.id), f"a {field}"))
        if len(search_key(text)) > KEY_LENGTH:
            raise FirstliftError(
                Problem(
                    "REG-012",
                    f"{field} of {len(text)} characters",
                    f"{name} {text[:40]}...",
                    f"a {field} of at most {KEY_LENGTH} characters",
                )
            )
    if isinstance(entry, (Person, Contact)) and entry.details is not None:
        _check_hash(entry)
    return plain


def _check_begun(entry: Interval, at: dt.datetime) -> None:
    # a day of grace: the site's date may run ahead of UTC's
    if entry.since > at.date() + dt.timedelta(days=1):
        raise FirstliftError(
            Problem(
                "REG-013",
                f"an interval that begins on {entry.since.isoformat()}",
                f"position {entry.position_id}",
                f"one that holds on {at.date().isoformat()}",
                "Enter it on the day it begins",
            )
        )


def _check_hash(entry: Person | Contact) -> None:
    if entry.details_sha256 != sha256_of(to_plain(entry.details)):
        name = NAME_OF[type(entry)]
        raise FirstliftError(
            Problem("REG-014", "personal data do not fit their hash", f"{name} {entry.id}", f"a {name} made whole")
        )


def _check_forward(before: Certificate, after: Certificate) -> None:
    fixed = ("test_id", "series", "number", "text", "reserved_at")
    if before.state not in (CertificateState.DRAFT, CertificateState.REVIEWED):
        fixed += ("issued_at", "unsigned_sha256", "signed_sha256", "signer_id", "reviewer_id", "supersedes")
    moved = [name for name in fixed if getattr(before, name) != getattr(after, name)]
    if moved or (after.state != before.state and after.state not in NEXT_STATES[before.state]):
        what = f"its {moved[0].replace('_', ' ')}" if moved else f"to go from {before.state} to {after.state}"
        raise FirstliftError(
            Problem(
                "REG-016",
                f"certificate {before.text} is {before.state}: {what} cannot change"
                if moved
                else f"certificate {before.text} is asked {what}",
                str(before.id),
                "a step forward, or a new certificate that supersedes it",
            )
        )


def instrument_rows(tests: Iterable[tuple[UUID, Iterable[Mapping[str, Any]]]]) -> list[dict[str, Any]]:
    """Give the rows of the index of instruments for tests.

    Parameters
    ----------
    tests : iterable of (UUID, iterable of mapping)
        Each test with the plain forms of its instruments.

    Returns
    -------
    list of dict
    """
    rows = {
        (test_id, search_key(used["serial"]), used["measures"])
        for test_id, instruments in tests
        for used in instruments
        if used["serial"]
    }
    return [dict(zip(("test_id", "serial_key", "measures"), row, strict=True)) for row in sorted(rows)]


def row_with_keys(kind: type[Any], plain: Mapping[str, Any]) -> dict[str, Any]:
    """Give the row of an entry's plain form, its search keys with it.

    Parameters
    ----------
    kind : type
    plain : mapping

    Returns
    -------
    dict
    """
    row = row_of(kind, plain)
    for key, field in KEYS.get(NAME_OF[kind], {}).items():
        row[key] = search_key(plain[field])
    return row
