"""The table of tests that an interval is worked out from: one row a test or overhaul of one valve."""

from __future__ import annotations

import csv
import datetime as dt
import difflib
import math
from importlib import resources
from pathlib import Path

from firstlift.core.errors import FirstliftError, Problem
from firstlift.core.reliability.history import AsFoundState, Entry
from firstlift.core.reliability.rules import Tables, parse_tables

COLUMNS = ("valve", "group", "date", "found", "ratio", "overhauled")
_NEEDED = ("valve", "date", "found")
_YES, _NO = ("yes", "y", "true", "1", "x"), ("no", "n", "false", "0", "")
_LARGEST_BYTES = 200_000_000
_MOST_PROBLEMS = 20


def read_interval_tables() -> Tables:
    """Read the table of intervals that comes with the package.

    Returns
    -------
    Tables

    Raises
    ------
    FirstliftError
        REL-007 it cannot be read.
    """
    table = resources.files("firstlift.core.reliability").joinpath("tables", "intervals.toml")
    return parse_tables(table.read_text(encoding="utf-8"), where="intervals.toml")


def read_interval_rows(path: Path) -> tuple[Entry, ...]:
    """Read a CSV of tests.

    Parameters
    ----------
    path : Path
        With a heading row; comma or semicolon; UTF-8.

    Returns
    -------
    tuple of Entry
        In the file's order, each with its line.

    Raises
    ------
    FirstliftError
        HIS-001 the file cannot be read; HIS-002 a column is missing, unknown or twice; HIS-003 a value cannot be
        read. All problems of the file at once, the first twenty of them.
    """
    text = _text_of(path)
    heading = text.split("\n", 1)[0]
    separator = ";" if heading.count(";") > heading.count(",") else ","
    reader = csv.reader(text.splitlines(), delimiter=separator)
    names = [name.strip().lower() for name in next(reader, [])]
    problems = _problems_of_heading(names, path.name)
    if problems:
        raise FirstliftError(problems)
    entries: list[Entry] = []
    try:
        for row in reader:
            if any(value.strip() for value in row):
                where = f"{path.name} line {reader.line_num}"
                entry = _entry(dict(zip(names, row, strict=False)), len(row), names, where, problems)
                if entry is not None:
                    entries.append(entry)
    except csv.Error as error:
        problems.append(Problem("HIS-003", f"a row cannot be read: {error}", f"{path.name} line {reader.line_num}"))
    if problems:
        raise FirstliftError(problems[:_MOST_PROBLEMS])
    return tuple(entries)


def _text_of(path: Path) -> str:
    try:
        if path.stat().st_size > _LARGEST_BYTES:
            raise FirstliftError(
                Problem("HIS-001", "the table of tests is too large", str(path), "under 200 MB", "Split it by group")
            )
        return path.read_text(encoding="utf-8-sig")
    except OSError as error:
        what = f"the table of tests cannot be read: {error.strerror or error}"
        raise FirstliftError(Problem("HIS-001", what, str(path), "a CSV file")) from None
    except UnicodeDecodeError as error:
        what = f"the table of tests is not text in UTF-8 (byte {error.start})"
        raise FirstliftError(Problem("HIS-001", what, str(path), "UTF-8", "Save it again as UTF-8")) from None


def _problems_of_heading(names: list[str], name: str) -> list[Problem]:
    where = f"{name} line 1"
    found = [
        Problem("HIS-002", f"column '{column}' is missing", where, f"the columns {', '.join(_NEEDED)}")
        for column in _NEEDED
        if column not in names
    ]
    for column in dict.fromkeys(names):
        if column not in COLUMNS:
            near = difflib.get_close_matches(column, COLUMNS, n=1)
            hint = f"Did you mean '{near[0]}'" if near else "Leave it out"
            needed = f"columns out of {', '.join(COLUMNS)}"
            found.append(Problem("HIS-002", f"column '{column}' is not known", where, needed, hint))
        elif names.count(column) > 1:
            found.append(Problem("HIS-002", f"column '{column}' stands twice", where, "each column once"))
    return found


def _entry(row: dict[str, str], width: int, names: list[str], where: str, problems: list[Problem]) -> Entry | None:
    """Read one row; what is wrong with it goes to the problems."""
    before = len(problems)
    if width != len(names):
        problems.append(Problem("HIS-003", f"the row has {width} values", where, f"{len(names)} values"))
        return None
    row = {name: value.strip() for name, value in row.items()}
    valve = row["valve"]
    if not valve:
        problems.append(Problem("HIS-003", "a row without a valve", where, "the valve's tag or serial number"))
    on = _date(row["date"], where, problems)
    found = _state(row["found"], where, problems)
    ratio = _ratio(row.get("ratio", ""), where, problems)
    overhauled = row.get("overhauled", "").lower()
    if overhauled not in _YES + _NO:
        problems.append(Problem("HIS-003", f"overhauled = '{overhauled}'", where, "yes or no"))
    if found is AsFoundState.NONE and overhauled in _NO:
        what = "a row with neither a test nor an overhaul"
        problems.append(Problem("HIS-003", what, where, "found other than 'none', or overhauled 'yes'"))
    if len(problems) > before or on is None or found is None:
        return None
    return Entry(valve, row.get("group", "") or "all", on, found, ratio, overhauled in _YES, where)


def _date(text: str, where: str, problems: list[Problem]) -> dt.date | None:
    try:
        day = dt.date.fromisoformat(text)
    except ValueError:
        problems.append(Problem("HIS-003", f"date '{text}' is none", where, "a date such as 2024-05-31"))
        return None
    if not 1900 <= day.year <= 2200:
        problems.append(Problem("HIS-003", f"date '{text}' lies far off", where, "a year from 1900 to 2200"))
        return None
    return day


def _state(text: str, where: str, problems: list[Problem]) -> AsFoundState | None:
    said = text.lower().replace(" ", "-").replace("_", "-")
    if said in tuple(AsFoundState):
        return AsFoundState(said)
    near = difflib.get_close_matches(said, tuple(AsFoundState), n=1)
    hint = f"Did you mean '{near[0]}'" if near else ""
    problems.append(Problem("HIS-003", f"found = '{text}'", where, f"one of {', '.join(AsFoundState)}", hint))
    return None


def _ratio(text: str, where: str, problems: list[Problem]) -> float | None:
    if not text:
        return None
    try:
        value = float(text.replace(",", "."))
    except ValueError:
        value = math.nan
    # a ratio in per cent, or a pressure, would make every valve a failure
    if not 0.05 < value < 10.0:
        needed = "opening pressure over set pressure, such as 1.02"
        problems.append(Problem("HIS-003", f"ratio '{text}' is none", where, needed))
        return None
    return value
