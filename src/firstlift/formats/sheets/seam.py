"""What a spreadsheet is to the rest: named sheets of numbered rows, read one after the other."""

from __future__ import annotations

import datetime as dt
from collections.abc import Generator
from dataclasses import dataclass
from typing import NamedTuple, Protocol

from firstlift.core.errors import FirstliftError, Problem
from firstlift.formats.sheet_table import shown
from firstlift.formats.sheets.reason import Reason

MOST_COLUMNS = 500
LONGEST_CELL = 32_767
MOST_ROWS = 1_048_576


@dataclass(frozen=True, slots=True)
class Unreadable:
    """A cell that holds something, but nothing that may be taken: why, and what stands there."""

    reason: Reason
    stands: str = ""

    def __str__(self) -> str:
        return self.stands


# a number of an XLSX is a float, of a CSV still text; a blank cell is None
Value = str | float | bool | dt.datetime | dt.date | Unreadable | None


class Row(NamedTuple):
    """One row as it stands: its number counted from 1, its cells from the first column on; short rows end early."""

    number: int
    cells: list[Value]


@dataclass(frozen=True, slots=True)
class Merged:
    """A block of merged cells, rows and columns counted from 1, ends included."""

    first_row: int
    last_row: int
    first_column: int
    last_column: int


@dataclass(frozen=True, slots=True)
class SheetInfo:
    """A sheet by name. ``part`` is its place inside the file, ``size`` its bytes unpacked."""

    name: str
    part: str = ""
    size: int = 0
    hidden: bool = False


class Book(Protocol):
    """A spreadsheet that is open for reading."""

    kind: str
    file: str
    sheets: tuple[SheetInfo, ...]
    notes: tuple[Reason, ...]

    def rows(self, sheet: SheetInfo) -> Generator[Row]:
        """Give the rows of a sheet that hold anything, top to bottom, one at a time."""
        ...

    def merged(self, sheet: SheetInfo) -> tuple[Merged, ...]:
        """Give the merged cells of a sheet."""
        ...

    def share_read(self) -> float:
        """Give the share of the file that was read so far, 0 to 1."""
        ...

    def close(self) -> None:
        """Let go of the file."""
        ...


def refuse(code: str, what: str, where: str, needed: str = "", next_step: str = "") -> FirstliftError:
    """Make the error that a spreadsheet cannot be taken.

    Parameters
    ----------
    code, what, where, needed, next_step : str

    Returns
    -------
    FirstliftError
    """
    return FirstliftError(Problem(code, what, where, needed, next_step))


def check_width(columns: int, row: int, where: str) -> None:
    """Hold the width of a row to what a register's sheet can need.

    Parameters
    ----------
    columns, row : int
    where : str

    Raises
    ------
    FirstliftError
        IMP-006 more columns than are read.
    """
    if columns > MOST_COLUMNS:
        raise refuse(
            "IMP-006",
            f"row {row} has a value in column {columns}",
            where,
            f"at most {MOST_COLUMNS} columns",
            "Delete what stands far to the right, or copy the columns that count into a new sheet",
        )


def column_name(number: int) -> str:
    """Give a column's letters: 1 is A, 27 is AA.

    Parameters
    ----------
    number : int

    Returns
    -------
    str
    """
    letters = ""
    while number > 0:
        number, rest = divmod(number - 1, 26)
        letters = chr(65 + rest) + letters
    return letters


def as_text(value: Value) -> str:
    """Give a cell as a person would read it: whole numbers without point, dates as ISO.

    Parameters
    ----------
    value : Value

    Returns
    -------
    str
    """
    if value is None:
        return ""
    if isinstance(value, bool):
        return "TRUE" if value else "FALSE"
    if isinstance(value, float):
        return str(int(value)) if value.is_integer() and abs(value) < 1e15 else repr(value)
    if isinstance(value, dt.datetime):
        return value.date().isoformat() if value.time() == dt.time() else value.isoformat(sep=" ")
    return value.isoformat() if isinstance(value, dt.date) else str(value)


def as_shown(value: Value) -> str:
    """Give a cell as it may stand in a message.

    Parameters
    ----------
    value : Value

    Returns
    -------
    str
    """
    return shown(as_text(value))
