"""One table of a job sheet: closed keys, typed values, and the line of the file each of them stands on.

A trouble is noted, not raised, so that one reading of a sheet tells everything that is wrong with it; the
value is then None and the caller goes on (`Sheet.raise_problems` ends it).
"""

from __future__ import annotations

import datetime as dt
import difflib
import math
import re
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from enum import StrEnum
from typing import TypeVar

from firstlift.core.errors import FirstliftError, Problem
from firstlift.core.units import Kind, Quantity, parse_quantity

Choice = TypeVar("Choice", bound=StrEnum)
_LONGEST_SHOWN = 60
_HEADER = re.compile(r"^\s*(\[\[?)\s*([^\[\]]+?)\s*\]\]?\s*(?:#.*)?$")
_KEY = re.compile(r"""^\s*((?:[\w-]+|"[^"]*"|'[^']*')(?:\s*\.\s*(?:[\w-]+|"[^"]*"|'[^']*'))*)\s*=(.*)$""")


def shown(value: object) -> str:
    """Give a value as it may stand in a message: short, on one line, with no control characters.

    Parameters
    ----------
    value : object

    Returns
    -------
    str
    """
    text = "".join(c if c.isprintable() else "?" for c in str(value))
    return text if len(text) <= _LONGEST_SHOWN else text[: _LONGEST_SHOWN - 1] + "…"


def did_you_mean(word: str, known: Iterable[str]) -> str:
    """Give "Did you mean 'x'" for the nearest known word, or "" where none is near.

    Parameters
    ----------
    word : str
    known : iterable of str

    Returns
    -------
    str
    """
    by_lower = {name.lower(): name for name in known}
    near = difflib.get_close_matches(word.lower(), list(by_lower), n=1)
    return f"Did you mean '{by_lower[near[0]]}'" if near else ""


def find_lines(text: str) -> dict[tuple[str, int, str], int]:
    """Find the line each key stands on: (table, its number from 0, key) to line from 1; key "" is the header.

    Parameters
    ----------
    text : str
        A TOML document.

    Returns
    -------
    dict
    """
    lines: dict[tuple[str, int, str], int] = {}
    counts: dict[str, int] = {}
    table, index, closing = "", 0, ""
    for number, line in enumerate(text.splitlines(), start=1):
        if closing:
            closing = "" if closing in line else closing
            continue
        if header := _HEADER.match(line):
            table = header.group(2).strip("\"'")
            index = counts.get(table, 0) if header.group(1) == "[[" else 0
            counts[table] = index + 1
            lines.setdefault((table, index, ""), number)
        elif key := _KEY.match(line):
            *above, name = (part.strip().strip("\"'") for part in key.group(1).split("."))
            lines.setdefault((above[0] if above and not table else table, index, name), number)
            closing = next((q for q in ('"""', "'''") if key.group(2).count(q) == 1), "")
    return lines


@dataclass
class Sheet:
    """A job sheet being read: its name for messages, the lines of its keys, the problems so far."""

    name: str
    lines: Mapping[tuple[str, int, str], int] = field(default_factory=dict)
    problems: list[Problem] = field(default_factory=list)

    def note(self, code: str, what: str, where: str, needed: str = "", next_step: str = "") -> None:
        """Note one problem."""
        self.problems.append(Problem(code, what, where, needed, next_step))

    def raise_problems(self) -> None:
        """Raise all problems noted so far as one error, if there are any."""
        if self.problems:
            raise FirstliftError(self.problems)


class Table:
    """One table of the sheet; every method notes what is wrong and then gives None (or the default)."""

    def __init__(self, sheet: Sheet, name: str, data: Mapping[str, object], *, index: int | None = None) -> None:
        self.sheet = sheet
        self.name = name
        self.data = data
        self.index = index

    def has(self, key: str) -> bool:
        """Tell whether the key stands in the table."""
        return key in self.data

    def where(self, key: str = "") -> str:
        """Say where a key stands: file, line, table, key."""
        place = (self.name, self.index or 0)
        line = self.sheet.lines.get((*place, key), self.sheet.lines.get((*place, "")))
        label = f"[{self.name}]" if self.index is None else f"[[{self.name}]] number {self.index + 1}"
        parts = [self.sheet.name + (f" line {line}" if line else "")]
        parts += [label] if self.name else []
        return " ".join([", ".join(parts), shown(key)] if key else [", ".join(parts)])

    def note(self, code: str, what: str, key: str = "", needed: str = "", next_step: str = "") -> None:
        """Note a problem with one key."""
        self.sheet.note(code, what, self.where(key), needed, next_step)

    def close(self, known: Sequence[str], elsewhere: Mapping[str, Sequence[str]]) -> None:
        """Note every key that is not in the closed list, with the key that was probably meant."""
        for key in self.data:
            if key in known:
                continue
            hint = did_you_mean(key, known)
            homes = [name for name, keys in elsewhere.items() if key in keys and name != self.name]
            if homes:
                hint = f"It belongs in [{homes[0]}]"
            self.note(
                "JOB-005", f"key '{shown(key)}' is not known here", key, "a key of the job sheet's closed list",
                hint or f"Known here: {', '.join(known)}",
            )  # fmt: skip

    def missing(self, key: str, needed: str) -> None:
        """Note that a needed key is not there."""
        self.note("JOB-006", f"key '{key}' is missing", "", needed, f"Add {key} to [{self.name}]")

    def _of_type(self, key: str, types: type | tuple[type, ...], needed: str, *, required: bool) -> object | None:
        if key not in self.data:
            if required:
                self.missing(key, needed)
            return None
        value = self.data[key]
        wanted = types if isinstance(types, tuple) else (types,)
        # bool is an int and datetime is a date in Python; on a sheet they are other things
        strange = (isinstance(value, bool) and bool not in wanted) or (
            isinstance(value, dt.datetime) and dt.datetime not in wanted
        )
        if strange or not isinstance(value, types):
            self.note("JOB-007", f"'{shown(value)}' is of the wrong type for '{key}'", key, needed)
            return None
        return value

    def text(self, key: str, *, required: bool = False) -> str:
        """Read a text; "" where there is none."""
        value = self._of_type(key, str, "a text in quotes", required=required)
        if not isinstance(value, str):
            return ""
        if required and not value.strip():
            self.note("JOB-008", f"'{key}' is empty", key, "a text")
        if not value.isprintable():
            self.note("JOB-008", f"'{key}' holds control characters", key, "plain text on one line")
        return value.strip()

    def choice(self, key: str, kind: type[Choice], default: Choice | None = None) -> Choice | None:
        """Read one word of a closed list; needed where there is no default."""
        names = [member.value for member in kind]
        value = self._of_type(key, str, "one of " + ", ".join(names), required=default is None)
        if not isinstance(value, str):
            return default
        if value in names:
            return kind(value)
        self.note(
            "JOB-008", f"'{shown(value)}' is not a value of '{key}'", key, "one of " + ", ".join(names),
            did_you_mean(value, names),
        )  # fmt: skip
        return default

    def flag(self, key: str) -> bool:
        """Read true or false; false where there is none."""
        return self._of_type(key, bool, "true or false, without quotes", required=False) is True

    def date(self, key: str, *, required: bool = False) -> dt.date | None:
        """Read a local date."""
        value = self._of_type(key, dt.date, "a date such as 2026-05-12, without quotes", required=required)
        return value if isinstance(value, dt.date) else None

    def instant(self, key: str) -> dt.datetime | None:
        """Read an instant with its offset from UTC."""
        needed = "a date and time with offset such as 2026-05-12T09:30:00+02:00, without quotes"
        value = self._of_type(key, dt.datetime, needed, required=False)
        if isinstance(value, dt.datetime) and value.tzinfo is None:
            self.note("JOB-008", f"'{value}' has no offset from UTC", key, needed)
            return None
        return value if isinstance(value, dt.datetime) else None

    def number(self, key: str, low: float, high: float) -> float | None:
        """Read a plain number between two bounds, bounds included."""
        needed = f"a number from {low:g} to {high:g}"
        value = self._of_type(key, (int, float), needed, required=False)
        if not isinstance(value, (int, float)):
            return None
        if not low <= value <= high:
            self.note("JOB-008", f"'{shown(value)}' is out of range for '{key}'", key, needed)
            return None
        return float(value)

    def whole(self, key: str, low: int, high: int) -> int | None:
        """Read a whole number between two bounds, bounds included."""
        needed = f"a whole number from {low} to {high}"
        value = self._of_type(key, int, needed, required=False)
        if not isinstance(value, int):
            return None
        if not low <= value <= high:
            self.note("JOB-008", f"'{shown(value)}' is out of range for '{key}'", key, needed)
            return None
        return value

    def numbers(self, key: str) -> tuple[float, ...]:
        """Read a list of finite numbers; () where there is none."""
        needed = "a list of numbers such as [0.0, 250.0]"
        value = self._of_type(key, list, needed, required=False)
        if value is None:
            return ()
        items: list[object] = value if isinstance(value, list) else []
        plain = [i for i in items if isinstance(i, (int, float)) and not isinstance(i, bool) and abs(i) < 1e100]
        if not items or len(plain) != len(items):
            self.note("JOB-007", f"'{shown(value)}' is not usable as '{key}'", key, needed)
            return ()
        return tuple(float(i) for i in plain)

    def quantity(
        self, key: str, kind: Kind, *, required: bool = False, above: float = -math.inf, or_equal: bool = False
    ) -> Quantity | None:
        """Read a value with its unit, above a bound in SI (or equal to it)."""
        value = self._of_type(key, str, f"a {kind} in quotes with its unit", required=required)
        if not isinstance(value, str):
            return None
        if len(value) > _LONGEST_SHOWN or not value.isprintable():
            self.note("JOB-008", f"'{shown(value)}' is too long for a value", key, f"a {kind} with its unit")
            return None
        try:
            # U+2212 is the minus sign of typeset sheets
            quantity = parse_quantity(value.replace("\u2212", "-"), kind, where=self.where(key))
        except FirstliftError as error:
            self.sheet.problems.extend(error.problems)
            return None
        if quantity.si > above or (or_equal and quantity.si == above):
            return quantity
        bound = f"a {kind} of {above:g} or more" if or_equal else f"a {kind} above {above:g}"
        self.note("JOB-008", f"'{shown(value)}' is out of range for '{key}'", key, bound, "Correct the value")
        return None

    def si(
        self, key: str, kind: Kind, *, required: bool = False, above: float = -math.inf, or_equal: bool = False
    ) -> float | None:
        """Read a value with its unit and give it in SI."""
        quantity = self.quantity(key, kind, required=required, above=above, or_equal=or_equal)
        return None if quantity is None else quantity.si
