"""The layout of a text table: encoding, separator, decimal sign, heading, and where its rows begin."""

from __future__ import annotations

import csv
import itertools
import re
from collections.abc import Sequence
from dataclasses import dataclass

from firstlift.core.errors import FirstliftError, Problem
from firstlift.formats.seam import names_unit, split_unit

WHITESPACE = " "
_SEPARATORS = (";", "\t", "|", ",", WHITESPACE)
_COMMENTS = ("#", "//", "%", ";")
GAP_TEXTS = ("", "nan", "na", "n/a", "#n/a", "#nv", "null", "none", "-", "--", "---", "inf", "-inf", "+inf")
NUMBER = re.compile(r"[+-]?(?:\d+(?:[.,]\d*)?|[.,]\d+)(?:[eE][+-]?\d+)?")
INSTANT = re.compile(
    r"(?:(?P<y>\d{4})[-/.](?P<m>\d{1,2})[-/.](?P<d>\d{1,2})|(?P<a>\d{1,2})(?P<sep>[./])(?P<b>\d{1,2})[./](?P<y2>\d{4}))?"
    r"[T ]?(?P<H>\d{1,2}):(?P<M>\d{2})(?::(?P<S>\d{2})(?:[.,](?P<f>\d{1,9}))?)?\s*(?P<z>Z|[+-]\d{2}:?\d{2})?"
)
_SAMPLE_LINES = 400
_MOST_COLUMNS, _FEW_ROWS, _WIDE = 4096, 4, 100


@dataclass(frozen=True, slots=True)
class Layout:
    """How a text table is laid out. ``offset`` is the byte, ``line`` the line (from 1) of its first row."""

    separator: str
    decimal: str
    names: tuple[str, ...]
    units: tuple[str | None, ...]
    offset: int
    line: int
    kinds: tuple[str, ...]  # "number", "instant" or "text", by column


def to_utf8(data: bytes) -> bytes | None:
    """Give the file's text in UTF-8 without byte order mark; None where it is no text.

    A character cut in two by the end of the file is left out.

    Parameters
    ----------
    data : bytes

    Returns
    -------
    bytes or None
    """
    wide = _wide_encoding(data)
    if wide:
        text = data[: len(data) // 2 * 2].decode(wide, errors="replace").lstrip("\ufeff")
        return None if "\0" in text or "\ufffd" in text[:-1] else text.rstrip("\ufffd").encode()
    if b"\0" in data:
        return None
    data = data.removeprefix(b"\xef\xbb\xbf")
    try:
        data.decode("utf-8")
    except UnicodeDecodeError as error:
        if len(data) - error.start < 4 and error.start > 0 and error.reason == "unexpected end of data":
            return data[: error.start]
        try:
            return data.decode("cp1252").encode()
        except UnicodeDecodeError:
            return None
    return data


def _wide_encoding(data: bytes) -> str:
    if data[:2] in (b"\xff\xfe", b"\xfe\xff"):
        return "utf-16-le" if data[0] == 0xFF else "utf-16-be"
    start = data[:200]
    if len(start) >= 8 and start[1::2].count(0) > 0.9 * len(start[1::2]) and 0 not in start[::2]:
        return "utf-16-le"
    if len(start) >= 8 and start[::2].count(0) > 0.9 * len(start[::2]) and 0 not in start[1::2]:
        return "utf-16-be"
    return ""


def split_row(line: str, separator: str) -> list[str]:
    """Part a line into its fields, quotes taken off."""
    if separator == WHITESPACE:
        return line.split()
    if '"' in line:
        return [field.strip() for field in next(csv.reader([line], delimiter=separator), [])]
    return [field.strip() for field in line.split(separator)]


def is_comment(line: str, separator: str) -> bool:
    """Tell whether a line is a comment; a semicolon opens one only where it is not the separator."""
    text = line.lstrip()
    return any(text.startswith(mark) for mark in _COMMENTS if mark != separator)


def kind_of(field: str) -> str:
    """Tell what a field holds: "gap", "number", "instant" or "text"."""
    if field.lower() in GAP_TEXTS:
        return "gap"
    if NUMBER.fullmatch(field):
        return "number"
    return "instant" if INSTANT.fullmatch(field) else "text"


def find_layout(data: bytes, where: str) -> Layout:
    """Find the layout of a text table from its first lines.

    Parameters
    ----------
    data : bytes
        In UTF-8.
    where : str
        Said in messages.

    Returns
    -------
    Layout

    Raises
    ------
    FirstliftError
        REC-005 there are no rows of numbers.
    """
    raw = data[:1_000_000].splitlines(keepends=True)[:_SAMPLE_LINES]
    lines = [line.decode("utf-8", errors="replace").rstrip("\r\n") for line in raw]
    *_, separator = max((_score(lines, sep), -rank, sep) for rank, sep in enumerate(_SEPARATORS))
    first = _first_row(lines, separator)
    if first is None:
        raise FirstliftError(
            Problem("REC-005", "the file holds no rows of numbers", where, "a heading and rows of numbers below it")
        )
    start, width = first
    rows = [split_row(line, separator) for line in lines[start:] if line.strip() and not is_comment(line, separator)]
    _check_upright(len(rows), width, start, where)
    names, units = _heading(lines[:start], separator, width)
    rows = [row for row in rows if len(row) == width]
    kinds = tuple(_column_kind([row[i] for row in rows]) for i in range(width))
    numbers = (field for row in rows for field in row if kind_of(field) == "number")
    decimal = "," if separator != "," and any("," in number for number in numbers) else "."
    return Layout(separator, decimal, names, units, sum(map(len, raw[:start])), start + 1, kinds)


def _check_upright(rows: int, width: int, start: int, where: str) -> None:
    """Refuse a table that lies on its side: each channel a line, each sample a column."""
    if width <= _MOST_COLUMNS and (start > 0 or rows > _FEW_ROWS or width <= _WIDE):
        return
    raise FirstliftError(
        Problem(
            "REC-005",
            f"the table lies on its side: {width} columns in {rows} rows",
            where,
            "a column for each channel and a row for each sample",
            "Transpose the table",
        )
    )


def _counts(fields: Sequence[str]) -> tuple[int, int]:
    """Count the fields that hold a number or an instant, and those that hold anything but a gap."""
    kinds = [kind_of(field) for field in fields]
    return sum(k in ("number", "instant") for k in kinds), sum(k != "gap" for k in kinds)


def _share(fields: Sequence[str]) -> float:
    numeric, filled = _counts(fields)
    return numeric / filled if filled else 0.0


def _score(lines: Sequence[str], separator: str) -> float:
    """Rate a separator: how many lines become rows of numbers, and whether the heading fits them."""
    found = _first_row(lines, separator)
    if found is None:
        return 0.0
    start, width = found
    shares = [
        _share(row)
        for row in (split_row(line, separator) for line in lines[start:] if not is_comment(line, separator))
        if len(row) == width
    ]
    above = [line for line in lines[:start] if line.strip()]
    fits = not above or abs(len(split_row(above[-1].lstrip("#%/ "), separator)) - width) <= (width > 2)
    return sum(shares) / len(lines) * (1.0 if fits else 0.5) * (1.0 if width > 1 else 0.9)


def _first_row(lines: Sequence[str], separator: str) -> tuple[int, int] | None:
    """Find the first row of the table: mostly numbers, as wide as most such lines, and followed by another."""
    rows = [split_row(line, separator) if line.strip() and not is_comment(line, separator) else [] for line in lines]
    numeric = [_share(row) > 0.5 for row in rows]
    widths = [len(row) for row, good in zip(rows, numeric, strict=True) if good]
    if not widths:
        return None
    width = max(set(widths), key=widths.count)
    good = [n for n, row in enumerate(rows) if numeric[n] and len(row) == width]
    filled = [n for n, row in enumerate(rows) if row]
    following = dict(itertools.pairwise(filled))
    # a line of a preamble may look like a row by chance; two on end are taken for the table
    start = next((n for n in good if following.get(n, n) in good), good[0])
    return start, width


def _column_kind(fields: Sequence[str]) -> str:
    kinds = [kind for kind in map(kind_of, fields) if kind != "gap"]
    if not kinds or kinds.count("number") * 2 >= len(kinds):
        return "number"
    return "instant" if kinds.count("instant") * 2 >= len(kinds) else "text"


def _heading(above: Sequence[str], separator: str, width: int) -> tuple[tuple[str, ...], tuple[str | None, ...]]:
    """Read names and units from the lines above the rows; a commented heading counts where there is no other."""
    plain = [line for line in above if line.strip() and not is_comment(line, separator)]
    marked = [line.lstrip().lstrip("#%/;").strip() for line in above if is_comment(line, separator)]
    rows = [fit for line in plain[-2:] if (fit := _fitted(split_row(line, separator), width))]
    if not rows:
        rows = [fit for line in marked[-2:] if (fit := _fitted(split_row(line, separator), width))]
    if not rows:
        return tuple(f"column {n + 1}" for n in range(width)), (None,) * width
    if len(rows) == 2 and _is_unit_row(rows[1]):
        units = [field.strip("[]() ") or None for field in rows[1]]
        return tuple(rows[0]), tuple(units)
    return tuple(rows[-1]), tuple(split_unit(name)[1] for name in rows[-1])


def _fitted(fields: list[str], width: int) -> list[str] | None:
    """Give the fields at the table's width: a separator at the end of rows or heading makes one field more."""
    if len(fields) == width + 1 and not fields[-1]:
        return fields[:-1]
    if len(fields) == width - 1 and width > 2:
        return [*fields, ""]
    return fields if len(fields) == width else None


def _is_unit_row(fields: Sequence[str]) -> bool:
    filled = [field.strip("[]() ") for field in fields if field.strip("[]() ")]
    known = sum(names_unit(field) for field in filled)
    return bool(filled) and known * 2 > len(filled)
