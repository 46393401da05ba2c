"""An entry to and from plain values, and the form of it that the audit chain holds.

Plain values are what JSON knows: identifiers and dates as text, instants in UTC with six decimals and Z,
quantities as they were written, decimals as text. The plain form of an entry read back gives an equal entry.
"""

from __future__ import annotations

import dataclasses
import datetime as dt
import functools
import hashlib
import json
import types
import typing
from collections.abc import Callable, Mapping
from decimal import Decimal, InvalidOperation
from enum import StrEnum
from typing import Any, cast
from uuid import UUID

from firstlift.core.errors import FirstliftError, Problem
from firstlift.core.register.contacts import Contact
from firstlift.core.register.people import Person, PersonalDetails
from firstlift.core.result import Result, from_json, to_json
from firstlift.core.units import Kind, Quantity, parse_quantity

Named = typing.TypeVar("Named", Person, Contact)


def instant_text(at: dt.datetime) -> str:
    """Write an instant in UTC, always 27 characters, so that texts sort as instants do.

    Parameters
    ----------
    at : datetime
        With its offset from UTC.

    Returns
    -------
    str

    Raises
    ------
    FirstliftError
        REG-001 the instant has no offset.
    """
    if at.tzinfo is None:
        raise FirstliftError(
            Problem("REG-001", f"the instant {at.isoformat()} has no offset from UTC", needed="an instant with offset")
        )
    return at.astimezone(dt.UTC).strftime("%Y-%m-%dT%H:%M:%S.%f").zfill(26) + "Z"


def parse_instant(text: str) -> dt.datetime:
    """Read an instant that `instant_text` wrote.

    Parameters
    ----------
    text : str

    Returns
    -------
    datetime, UTC
    """
    return dt.datetime.fromisoformat(text).astimezone(dt.UTC)


def to_plain(value: Any) -> Any:
    """Turn an entry, or a part of one, into plain values.

    Parameters
    ----------
    value : Any
        A dataclass of the register, or a value in one.

    Returns
    -------
    Any
        Dicts, lists, strings, numbers, booleans, None.
    """
    kind = cast("type[Any]", type(value))
    if kind is str or value is None or isinstance(value, (bool, int, float)):
        return value
    if isinstance(value, str):
        return str(value)
    if isinstance(value, (UUID, Decimal)):
        return str(value)
    if isinstance(value, Quantity):
        return value.text
    if isinstance(value, dt.datetime):
        return instant_text(value)
    if isinstance(value, dt.date):
        return value.isoformat()
    if isinstance(value, Result):
        return to_json(value)
    if isinstance(value, (tuple, list)):
        return [to_plain(item) for item in cast("tuple[Any, ...]", value)]
    out: dict[str, Any] = {}
    for name in hints_of(kind):
        held = getattr(value, name)
        # nothing is gained by a call for a text or a blank, and an entry is mostly these
        out[name] = held if held is None or type(held) is str else to_plain(held)
    return out


@functools.cache
def hints_of(kind: type[Any]) -> Mapping[str, Any]:
    """Give the fields of a dataclass, in order, each with its resolved type.

    Parameters
    ----------
    kind : type
        A dataclass.

    Returns
    -------
    mapping of name to type
    """
    hints = typing.get_type_hints(kind)
    return {field.name: hints[field.name] for field in dataclasses.fields(kind)}


def from_plain(kind: Any, data: Any, where: str = "entry") -> Any:
    """Turn plain values back into an entry, or a part of one.

    Parameters
    ----------
    kind : type
        A dataclass of the register, or the type of a field.
    data : Any
        What `to_plain` gave.
    where : str
        Said in messages.

    Returns
    -------
    Any
        A value of that type.

    Raises
    ------
    FirstliftError
        REG-002 a value that is missing, or cannot be read as what it should be.
    """
    return _reader_of(kind)(data, where)


@functools.cache
def _reader_of(kind: Any) -> Callable[[Any, str], Any]:
    """Make what reads one type: found once, as a register holds few types and many values."""
    origin, args = typing.get_origin(kind), typing.get_args(kind)
    if origin in (types.UnionType, typing.Union):
        inner = _reader_of(next(a for a in args if a is not type(None)))
        if type(None) not in args:
            return inner
        return lambda data, where: None if data is None else inner(data, where)
    if origin is tuple:
        return _tuple_reader(_reader_of(args[0]))
    if kind is Result:
        return lambda data, where: from_json(data)
    if kind is not Quantity and dataclasses.is_dataclass(kind):
        return _dataclass_reader(cast("type[Any]", kind))
    return lambda data, where: _scalar_from(kind, data, where)


def _tuple_reader(inner: Callable[[Any, str], Any]) -> Callable[[Any, str], Any]:
    def read(data: Any, where: str) -> Any:
        if not isinstance(data, (list, tuple)):
            raise _wrong(where, "a list", data)
        return tuple(inner(item, f"{where}[{index}]") for index, item in enumerate(cast("list[Any]", data)))

    return read


def _dataclass_reader(kind: type[Any]) -> Callable[[Any, str], Any]:
    hints = hints_of(kind)
    readers = {name: (_reader_of(hint), f".{name}") for name, hint in hints.items()}
    # most of an entry is texts and blanks: these need no call
    texts = {name for name, hint in hints.items() if hint is str}
    blanks = {name for name, hint in hints.items() if type(None) in typing.get_args(hint)}
    needed = {
        field.name
        for field in dataclasses.fields(kind)
        if field.default is dataclasses.MISSING and field.default_factory is dataclasses.MISSING
    }

    def read(data: Any, where: str) -> Any:
        if not isinstance(data, Mapping):
            raise _wrong(where, "an object", data)
        found = cast("Mapping[str, Any]", data)
        unknown = sorted(found.keys() - readers.keys())
        if unknown:
            raise _wrong(where, f"the keys {sorted(readers)}", unknown)
        missing = sorted(needed - found.keys())
        if missing:
            raise _wrong(where, f"the keys {missing} too", sorted(found))
        values: dict[str, Any] = {}
        for name, value in found.items():
            if (value is None and name in blanks) or (name in texts and type(value) is str):
                values[name] = value
                continue
            reader, suffix = readers[name]
            values[name] = reader(value, where + suffix)
        return kind(**values)

    return read


def _scalar_from(kind: Any, data: Any, where: str) -> Any:
    try:
        if kind is str and isinstance(data, str):
            return data
        if kind is float and isinstance(data, (int, float)) and not isinstance(data, bool):
            return float(data)
        if kind in (int, bool) and type(data) is kind:
            return data
        if isinstance(data, str):
            return _text_from(kind, data, where)
    except (ValueError, InvalidOperation):
        pass
    raise _wrong(where, getattr(kind, "__name__", str(kind)), data)


def _text_from(kind: Any, text: str, where: str) -> Any:
    if kind is Quantity:
        try:
            return _pressure(text)
        except FirstliftError:
            return parse_quantity(text, Kind.PRESSURE, where=where)  # again, to say where
    if kind is dt.datetime:
        return parse_instant(text)
    if kind is dt.date:
        return dt.date.fromisoformat(text)
    if kind in (UUID, Decimal) or issubclass(kind, StrEnum):
        return kind(text)
    raise ValueError(text)


@functools.lru_cache(maxsize=4096)
def _pressure(text: str) -> Quantity:
    """Read a pressure; the same few stand on hundreds of nameplates."""
    return parse_quantity(text, Kind.PRESSURE)


def _wrong(where: str, needed: str, found: Any) -> FirstliftError:
    return FirstliftError(Problem("REG-002", f"an entry cannot be read: found {found!r}"[:200], where, needed))


def canonical(plain: Any) -> str:
    """Write plain values as the one JSON text that is hashed: sorted keys, no spaces, UTF-8 as it is.

    Parameters
    ----------
    plain : Any

    Returns
    -------
    str

    Raises
    ------
    FirstliftError
        REG-003 a number is not finite, or a text holds a character that cannot be kept.
    """
    try:
        text = json.dumps(plain, sort_keys=True, separators=(",", ":"), ensure_ascii=False, allow_nan=False)
        text.encode("utf-8")
    except ValueError as error:
        raise FirstliftError(
            Problem("REG-003", f"an entry cannot be kept: {error}", needed="finite numbers and whole characters")
        ) from error
    # JSON writes the character NUL as six others; PostgreSQL cannot keep it, so neither store does
    if "\\u0000" in text:
        raise FirstliftError(Problem("REG-003", "an entry holds the character NUL", needed="a text without it"))
    return text


def sha256_of(plain: Any) -> str:
    """Give the SHA-256 of the canonical text of plain values, in hexadecimal.

    Parameters
    ----------
    plain : Any

    Returns
    -------
    str
    """
    return hashlib.sha256(canonical(plain).encode()).hexdigest()


def with_details(entry: Named, details: PersonalDetails | None) -> Named:
    """Give a person or contact their details and the hash that stays when these are removed.

    Parameters
    ----------
    entry : Person or Contact
    details : PersonalDetails or None

    Returns
    -------
    Person or Contact
    """
    digest = "" if details is None else sha256_of(to_plain(details))
    return dataclasses.replace(entry, details=details, details_sha256=digest)


def new_person(person: Person, details: PersonalDetails | None) -> Person:
    """Give a person their details; see `with_details`.

    Parameters
    ----------
    person : Person
    details : PersonalDetails or None

    Returns
    -------
    Person
    """
    return with_details(person, details)


@functools.cache
def chain_rules(kind: type[Any]) -> Mapping[str, str]:
    """Give the fields that the chain does not hold as they are: "omit" or "hash".

    Parameters
    ----------
    kind : type

    Returns
    -------
    mapping of field name to rule
    """
    return {field.name: str(field.metadata["chain"]) for field in dataclasses.fields(kind) if "chain" in field.metadata}


def chain_form(kind: type[Any], plain: Mapping[str, Any]) -> str:
    """Give the text of an entry that the audit chain holds: personal data left out, a long result as its hash.

    Parameters
    ----------
    kind : type
    plain : mapping
        The entry's plain form.

    Returns
    -------
    str
    """
    rules = chain_rules(kind)
    if not rules:
        return canonical(plain)
    kept: dict[str, Any] = {}
    for name, value in plain.items():
        rule = rules.get(name)
        if rule is None:
            kept[name] = value
        elif rule == "hash":
            kept[f"{name}_sha256"] = None if value is None else sha256_of(value)
    return canonical(kept)
