"""What the user says about a spreadsheet, kept in a small TOML so that next month's file goes in by itself."""

from __future__ import annotations

import json
import tomllib
from collections.abc import Mapping as Map
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from firstlift.core.errors import FirstliftError, Problem
from firstlift.formats.sheet_table import did_you_mean, shown
from firstlift.formats.sheets.dates import DateHabit
from firstlift.formats.sheets.fields import Takes, fields_of
from firstlift.formats.sheets.numbers import DecimalMark

FORMAT = "firstlift-import-1"
_LARGEST = 1_000_000
_TOP = ("format", "encoding", "dates", "decimal", "sheet")
_SHEET = ("name", "takes", "header_row", "skip", "columns", "units", "constants", "words")


@dataclass(frozen=True, slots=True)
class SheetMapping:
    """What goes where in one sheet; an empty ``name`` serves every sheet.

    ``columns`` gives a field's heading, or "column F" where the heading is missing or double; ``units`` the unit of
    a field's bare numbers; ``constants`` the value of a field for all rows; ``words`` a choice's own words.
    """

    name: str = ""
    takes: Takes | None = None
    header_row: int | None = None
    skip: bool = False
    columns: Map[str, str] = field(default_factory=dict)
    units: Map[str, str] = field(default_factory=dict)
    constants: Map[str, str] = field(default_factory=dict)
    words: Map[str, Map[str, str]] = field(default_factory=dict)


@dataclass(frozen=True, slots=True)
class Mapping:
    """What is said of a whole file."""

    sheets: tuple[SheetMapping, ...] = ()
    dates: DateHabit | None = None
    decimal: DecimalMark | None = None
    encoding: str = ""

    def of(self, sheet: str) -> SheetMapping:
        """Give what is said of a sheet: by its name, else for every sheet."""
        named = [one for one in self.sheets if one.name == sheet] or [one for one in self.sheets if not one.name]
        return named[0] if named else SheetMapping(sheet)


def read_mapping(path: Path) -> Mapping:
    """Read a saved mapping.

    Parameters
    ----------
    path : Path

    Returns
    -------
    Mapping

    Raises
    ------
    FirstliftError
        IMP-009 it cannot be read, is no TOML, or holds a key or value that is not known.
    """
    try:
        if path.stat().st_size > _LARGEST:
            raise _bad(path.name, f"it has {path.stat().st_size} bytes")
        data = tomllib.loads(path.read_text(encoding="utf-8-sig"))
    except OSError as error:
        raise _bad(str(path), error.strerror or str(error)) from error
    except (tomllib.TOMLDecodeError, UnicodeDecodeError) as error:
        raise _bad(path.name, f"no TOML: {error}") from error
    return _Reader(path.name).mapping(data)


def _bad(where: str, reason: str, next_step: str = "") -> FirstliftError:
    return FirstliftError(
        Problem("IMP-009", f"the mapping cannot be used: {reason}", where, "a mapping as --save-mapping writes it",
                next_step)
    )  # fmt: skip


class _Reader:
    """Reads the tables, strictly: a key that is not known is an error, not a thing passed over."""

    def __init__(self, where: str) -> None:
        self._where = where

    def mapping(self, data: dict[str, Any]) -> Mapping:
        self._closed(data, _TOP, "")
        if data.get("format") != FORMAT:
            raise _bad(self._where, f"format is '{shown(data.get('format', ''))}'", f'Write format = "{FORMAT}"')
        sheets = data.get("sheet", [])
        if not isinstance(sheets, list) or not all(isinstance(one, dict) for one in sheets):
            raise _bad(self._where, "'sheet' is no list of tables")
        return Mapping(
            tuple(self._sheet(one) for one in sheets),
            DateHabit(habit) if (habit := self._choice(data, "dates", list(DateHabit))) else None,
            DecimalMark(mark) if (mark := self._choice(data, "decimal", list(DecimalMark))) else None,
            self._text(data, "encoding"),
        )

    def _sheet(self, data: dict[str, Any]) -> SheetMapping:
        self._closed(data, _SHEET, "[[sheet]]")
        takes = Takes(name) if (name := self._choice(data, "takes", list(Takes))) else None
        row, skip = data.get("header_row"), data.get("skip", False)
        if row is not None and (not isinstance(row, int) or isinstance(row, bool) or not 1 <= row <= 1_000):
            raise _bad(self._where, f"header_row is '{shown(row)}', not a row from 1 to 1000")
        if not isinstance(skip, bool):
            raise _bad(self._where, f"skip is '{shown(skip)}', not true or false")
        known = [key for one in ([takes] if takes else list(Takes)) for key in fields_of(one)]
        columns, units, constants = (self._texts(data, key, known) for key in ("columns", "units", "constants"))
        words = data.get("words", {})
        if not isinstance(words, dict):
            raise _bad(self._where, "'words' is no table")
        self._closed(words, known, "words")
        inner = {key: self._texts(words, key, None) for key in words}
        return SheetMapping(self._text(data, "name"), takes, row, skip, columns, units, constants, inner)

    def _closed(self, data: dict[str, Any], known: list[str] | tuple[str, ...], table: str) -> None:
        for key in data:
            if key not in known:
                raise _bad(self._where, f"key '{shown(key)}' {table} is not known".replace("  ", " "),
                           did_you_mean(key, known))  # fmt: skip

    def _text(self, data: dict[str, Any], key: str) -> str:
        value = data.get(key, "")
        if not isinstance(value, str):
            raise _bad(self._where, f"{key} is '{shown(value)}', not a text")
        return value

    def _choice(self, data: dict[str, Any], key: str, choices: list[Any]) -> str:
        value = self._text(data, key)
        if value and value not in choices:
            raise _bad(self._where, f"{key} is '{shown(value)}', not one of {', '.join(choices)}")
        return value

    def _texts(self, data: dict[str, Any], key: str, known: list[str] | None) -> dict[str, str]:
        table = data.get(key, {})
        if not isinstance(table, dict):
            raise _bad(self._where, f"'{key}' is no table")
        if known is not None:
            self._closed(table, known, key)
        return {name: self._text(table, name) for name in table}


def mapping_text(mapping: Mapping) -> str:
    """Write a mapping as TOML.

    Parameters
    ----------
    mapping : Mapping

    Returns
    -------
    str
    """
    lines = [f"format = {_quoted(FORMAT)}"]
    for key, value in (("encoding", mapping.encoding), ("dates", mapping.dates), ("decimal", mapping.decimal)):
        if value:
            lines.append(f"{key} = {_quoted(value)}")
    for sheet in mapping.sheets:
        lines += ["", "[[sheet]]", f"name = {_quoted(sheet.name)}"]
        if sheet.takes:
            lines.append(f"takes = {_quoted(sheet.takes)}")
        if sheet.header_row is not None:
            lines.append(f"header_row = {sheet.header_row}")
        if sheet.skip:
            lines.append("skip = true")
        for name in ("columns", "units", "constants"):
            lines += _table(f"sheet.{name}", getattr(sheet, name))
        for key, words in sheet.words.items():
            lines += _table(f"sheet.words.{key}", words)
    return "\n".join(lines) + "\n"


def _table(name: str, table: Map[str, str]) -> list[str]:
    return ["", f"[{name}]", *(f"{_key(key)} = {_quoted(value)}" for key, value in table.items())] if table else []


def _key(key: str) -> str:
    bare = key.isascii() and key.replace("_", "").replace("-", "").isalnum()
    return key if bare else _quoted(key)


def _quoted(text: str) -> str:
    # a JSON string is a TOML string, as long as characters above the first plane stand as they are
    return json.dumps(str(text), ensure_ascii=False).replace("\x7f", "\\u007f")
