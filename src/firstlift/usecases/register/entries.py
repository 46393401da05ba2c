"""Entries from words: ``key=value`` as a person types them, references by name, tag or serial."""

from __future__ import annotations

import dataclasses
import datetime as dt
import difflib
import json
import mimetypes
import secrets
from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import Any
from uuid import UUID, uuid4
from zoneinfo import ZoneInfo

from firstlift.core.errors import FirstliftError, Problem, UsageError
from firstlift.core.register.choose import identity_mismatches, search_key
from firstlift.core.register.codec import from_plain, hints_of, to_plain, with_details
from firstlift.core.register.contacts import Contact, contact_name, mail_address
from firstlift.core.register.equipment import Installation, RegisteredValve
from firstlift.core.register.kinds import KINDS, NAME_OF, WITH_DETAILS
from firstlift.core.register.people import Person, PersonalDetails
from firstlift.core.register.places import Position, Site
from firstlift.core.register.work import IdentityCheck
from firstlift.store.columns import bare_type
from firstlift.store.files import keep_file
from firstlift.store.open import Store
from firstlift.store.read import Reader
from firstlift.store.tables import KEYS, REFERENCES
from firstlift.usecases.register.place import now
from firstlift.words.catalogue import check_language

_PERSONAL = ("name", "email", "phone")
# these are made whole elsewhere: from a recording, from a fit, in a numbered series
_ELSEWHERE = {
    "seat_record": "firstlift register seat add",
    "certificate": "firstlift certificate",
}


def add_entry(store: Store, kind: str, words: Sequence[str], *, who: str) -> Any:
    """Add an entry.

    Parameters
    ----------
    store : Store
    kind : str
        Its name, such as "site".
    words : sequence of str
        "key=value"; ``owner=``, ``site=``, ``valve=`` and the like take a name, tag, serial or identifier.
    who : str

    Returns
    -------
    Any
        The entry.

    Raises
    ------
    FirstliftError
        REG-027 a key or kind that is not known, REG-028 a name that is not, or not one; REG-002, REG-011, REG-012.
    """
    known = _kind(kind)
    if kind in _ELSEWHERE:
        raise UsageError(
            Problem("REG-027", f"a {kind} is not added by its fields", needed="the command that makes it whole",
                    next=f"Use {_ELSEWHERE[kind]}")
        )  # fmt: skip
    pairs = _pairs(words)
    _keep_named_file(store.folder, kind, pairs)
    with store.work(at=now(), who=who) as work:
        plain = _plain(work, kind, pairs)
        plain.setdefault("id", str(uuid4()))
        _fill_instants(work, known, plain)
        entry = _whole(work, known, plain, pairs)
        work.add(entry)
    return entry


def change_entry(store: Store, kind: str, name: str, words: Sequence[str], *, who: str) -> Any:
    """Change fields of an entry that may be edited.

    Parameters
    ----------
    store : Store
    kind, name : str
        Which: name, tag, serial or identifier.
    words : sequence of str
        "key=value".
    who : str

    Returns
    -------
    Any
        The entry as it is now.

    Raises
    ------
    FirstliftError
        REG-015 it is of a kind that is never edited; REG-027, REG-028, REG-002.
    """
    known = _kind(kind)
    pairs = _pairs(words)
    with store.work(at=now(), who=who) as work:
        before = find_entry(work, kind, name)
        plain = {**to_plain(before), **_plain(work, kind, pairs)}
        entry = from_plain(known, plain, kind)
        personal = {key: value for key, value in pairs.items() if key in _PERSONAL}
        if isinstance(entry, (Person, Contact)) and personal:
            details = before.details or PersonalDetails(secrets.token_hex(16), "")
            entry = _named(entry, dataclasses.replace(details, **personal))
        work.change(entry)
    return entry


def find_entry(reader: Reader, kind: str, text: str) -> Any:
    """Find an entry by identifier, or by name, tag or serial.

    Parameters
    ----------
    reader : Reader
    kind, text : str

    Returns
    -------
    Any

    Raises
    ------
    FirstliftError
        REG-010 no such identifier, REG-027 the kind is not known, REG-028 no such name, or several.
    """
    known = _kind(kind)
    try:
        return reader.get(known, UUID(text))
    except ValueError:
        pass
    found = _by_name(reader, kind, known, text)
    if len(found) != 1:
        number = "no" if not found else f"{len(found)}"
        raise FirstliftError(
            Problem(
                "REG-028",
                f"{number} {kind.replace('_', ' ')} called '{text}'",
                needed="one",
                next=f"List them: firstlift register list {kind}, and name it by its identifier",
            )
        )
    return found[0]


def list_entries(reader: Reader, kind: str, words: Sequence[str], *, limit: int, offset: int = 0) -> list[Any]:
    """List entries of a kind, by name where it has one, whose fields equal what is named.

    Parameters
    ----------
    reader : Reader
    kind : str
    words : sequence of str
        "key=value".
    limit, offset : int

    Returns
    -------
    list

    Raises
    ------
    FirstliftError
        REG-027, REG-028.
    """
    known = _kind(kind)
    plain = _plain(reader, kind, _pairs(words))
    asked = {name: _row_value(hints_of(known)[name], value) for name, value in plain.items()}
    order = (*KEYS.get(kind, {}), "id")
    return reader.list(known, order=order, limit=limit, offset=offset, **asked)


def _row_value(hint: Any, value: Any) -> Any:
    bare, _ = bare_type(hint)
    if value is None:
        return None
    return UUID(value) if bare is UUID else dt.date.fromisoformat(value) if bare is dt.date else value


def _by_name(reader: Reader, kind: str, known: type[Any], text: str) -> list[Any]:
    if kind == "valve":
        hung = [
            reader.get(RegisteredValve, each.valve_id)
            for position in reader.by_key(Position, text)
            for each in reader.list(Installation, position_id=position.id, until=None)
        ]
        return hung or reader.by_key(RegisteredValve, text)
    if kind in KEYS:
        return reader.by_key(known, text)
    if kind in WITH_DETAILS:
        people = reader.list(known)
        return [each for each in people if each.details and search_key(each.details.name) == search_key(text)]
    return reader.list(known, name=text) if "name" in hints_of(known) else []


def _kind(kind: str) -> type[Any]:
    if kind not in KINDS:
        near = difflib.get_close_matches(kind, KINDS, n=1)
        hint = f"Did you mean '{near[0]}'" if near else ""
        raise UsageError(
            Problem("REG-027", f"there is no kind '{kind}'", needed=f"one of {', '.join(KINDS)}", next=hint)
        )
    return KINDS[kind]


def _pairs(words: Sequence[str]) -> dict[str, str]:
    pairs: dict[str, str] = {}
    for word in words:
        key, equals, value = word.partition("=")
        if not equals or not key.strip() or key.strip() in pairs:
            twice = key.strip() in pairs
            what = f"'{key.strip()}' is given twice" if twice else f"'{word}' is not key=value"
            raise UsageError(Problem("REG-027", what, needed='such as name="Tern Street works", each key once'))
        pairs[key.strip()] = value.strip()
    return pairs


def _plain(reader: Reader, kind: str, pairs: Mapping[str, str]) -> dict[str, Any]:
    """Turn words into an entry's plain values: references resolved, each value of its field's type."""
    hints, references = hints_of(KINDS[kind]), REFERENCES.get(kind, {})
    plain: dict[str, Any] = {}
    for key, text in pairs.items():
        if kind in WITH_DETAILS and key in _PERSONAL:
            continue
        field = f"{key}_id" if key not in hints and f"{key}_id" in hints else key
        if field not in hints:
            near = difflib.get_close_matches(field, hints, n=1)
            raise UsageError(
                Problem(
                    "REG-027",
                    f"a {kind} has no '{key}'",
                    needed=f"one of {', '.join(hints)}",
                    next=f"Did you mean '{near[0]}'" if near else "",
                )
            )
        if field in references and text:
            plain[field] = str(find_entry(reader, references[field], text).id)
        else:
            plain[field] = _typed(hints[field], text, f"{kind} {key}")
    return plain


def _typed(hint: Any, text: str, where: str) -> Any:
    bare, optional = bare_type(hint)
    if text == "" and optional:
        return None
    if bare is bool and text.lower() in ("yes", "true", "no", "false"):
        return text.lower() in ("yes", "true")
    if bare in (float, int):
        try:
            return bare(text)
        except ValueError:
            return text  # the codec says what is wrong with it
    is_list = getattr(bare, "__origin__", None) is tuple
    if is_list or (dataclasses.is_dataclass(bare) and text[:1] in "[{"):
        if is_list and text[:1] != "[":
            return [part.strip() for part in text.split(",") if part.strip()]
        try:
            return json.loads(text)
        except ValueError as error:
            raise UsageError(
                Problem("REG-027", f"'{text}' is not JSON: {error}", where, "a list or parts as JSON")
            ) from error
    return text


def _fill_instants(reader: Reader, known: type[Any], plain: dict[str, Any]) -> None:
    """Give what the clock and the place tell: the instant, the site's zone, the local day, the position."""
    hints = hints_of(known)
    position = _hangs_at(reader, plain)
    if "position_id" in hints and "kind" in hints and position is not None:
        plain.setdefault("position_id", str(position.id))
    if "at" in hints and "zone" in hints:
        site = reader.get(Site, position.site_id) if position else None
        plain.setdefault("zone", site.zone if site else "UTC")
        plain.setdefault("at", to_plain(now()))
        if "day" in hints:
            at = dt.datetime.fromisoformat(plain["at"])
            plain.setdefault("day", at.astimezone(ZoneInfo(plain["zone"])).date().isoformat())


def _hangs_at(reader: Reader, plain: Mapping[str, Any]) -> Position | None:
    if not plain.get("valve_id"):
        return None
    hung = reader.list(Installation, valve_id=UUID(plain["valve_id"]), until=None)
    return reader.get(Position, hung[0].position_id) if hung else None


def _whole(reader: Reader, known: type[Any], plain: dict[str, Any], pairs: Mapping[str, str]) -> Any:
    entry = from_plain(known, plain, NAME_OF[known])
    if isinstance(entry, (Person, Contact)):
        personal = {key: pairs[key] for key in _PERSONAL if key in pairs}
        details = PersonalDetails(secrets.token_hex(16), **{"name": "", **personal}) if personal else None
        return entry if details is None else _named(entry, details)
    if isinstance(entry, IdentityCheck):
        position = _hangs_at(reader, plain)
        valve = reader.get(RegisteredValve, entry.valve_id)
        found = identity_mismatches(valve, position.tag if position else "", entry)
        return dataclasses.replace(entry, mismatches=found)
    return entry


def _named(entry: Person | Contact, details: PersonalDetails) -> Person | Contact:
    """Give somebody their details; those of a contact are what a message can be written to."""
    if isinstance(entry, Person):
        return with_details(entry, details)
    check_language(entry.language)
    read = dataclasses.replace(details, name=contact_name(details.name), email=mail_address(details.email))
    return with_details(entry, read)


def _keep_named_file(folder: Path, kind: str, pairs: dict[str, str]) -> None:
    """Keep the file that an attachment or an identity check's photo names; it comes before the entry."""
    if kind == "attachment" and "file" in pairs:
        path = Path(pairs.pop("file"))
        pairs["sha256"] = keep_file(folder, path)
        pairs.setdefault("name", path.name)
        pairs.setdefault("media_type", mimetypes.guess_type(path.name)[0] or "application/octet-stream")
        pairs["size_bytes"] = str(path.stat().st_size)
    if kind == "identity_check" and "photo" in pairs:
        pairs["photo_sha256"] = keep_file(folder, Path(pairs.pop("photo")))


def erase_person(store: Store, name: str, *, who: str) -> Person:
    """Remove what identifies a person.

    Parameters
    ----------
    store : Store
    name : str
        Or identifier.
    who : str

    Returns
    -------
    Person
        As they stand before it.

    Raises
    ------
    FirstliftError
        REG-010, REG-028.
    """
    with store.work(at=now(), who=who) as work:
        person: Person = find_entry(work, "person", name)
        work.erase_person(person.id)
    return person
