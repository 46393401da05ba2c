"""Text tables (CSV and its kin): any separator, point or comma, one or two heading rows, comments.

Rows are parsed in bulk. Only where that fails is every field looked at, so that a damaged row is named
with its line and the rest is kept.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

from firstlift.core.errors import FirstliftError, Problem
from firstlift.formats.csv_values import instants_of, numbers_of
from firstlift.formats.seam import BadValue, Guess, Source, SourceChannel, array_reader, split_unit
from firstlift.formats.text_layout import (
    GAP_TEXTS,
    WHITESPACE,
    Layout,
    find_layout,
    is_comment,
    split_row,
    to_utf8,
)

if TYPE_CHECKING:
    import pyarrow as pa

NAME = "CSV"
_ENDINGS = (".csv", ".txt", ".tsv", ".dat", ".asc")
_MOST_BAD_ROWS = 10
_BAD_ROW_SHARE = 0.005


def sniff(head: bytes, name: str) -> Guess:
    """Say whether the first bytes look like a text table, and why.

    Parameters
    ----------
    head : bytes
    name : str

    Returns
    -------
    Guess
    """
    text = to_utf8(head)
    if text is None:
        return Guess(NAME, 0.0, "holds bytes that are no text")
    controls = sum(byte < 32 and byte not in b"\t\r\n\f" for byte in text)
    if controls > len(text) // 100:
        return Guess(NAME, 0.0, "holds too many control characters for text")
    if name.lower().endswith(_ENDINGS):
        return Guess(NAME, 0.8, f"is text and its name ends like a table's ('{name}')")
    try:
        layout = find_layout(text, name)
    except FirstliftError:
        return Guess(NAME, 0.0, "is text without rows of numbers")
    return Guess(NAME, 0.6, f"is text with {len(layout.names)} columns of numbers")


@dataclass(frozen=True, slots=True)
class _Body:
    """The rows as one block of bytes with the line each stands on, and what was odd about them."""

    data: bytes
    line_of: Callable[[int], int]
    bad_rows: tuple[BadValue, ...] = ()
    torn_line: int | None = None


class _Lines:
    """The line each row stands on, counted only when somebody asks: blank lines are no rows."""

    def __init__(self, rows: bytes, first: int) -> None:
        self.rows = rows
        self.first = first
        self.numbers: list[int] = []

    def __call__(self, row: int) -> int:
        if not self.numbers:
            lines = self.rows.split(b"\n")
            self.numbers = [n for n, line in enumerate(lines, start=self.first) if line.strip()]
        return self.numbers[row]


def open_file(path: Path) -> Source:
    """Open a text table.

    Parameters
    ----------
    path : Path

    Returns
    -------
    Source

    Raises
    ------
    FirstliftError
        REC-001 cannot be read, REC-003 no text, REC-005 no rows of numbers, REC-006 too many rows that
        do not fit the heading.
    """
    where = path.name
    try:
        data = to_utf8(path.read_bytes())
    except OSError as error:
        raise FirstliftError(Problem("REC-001", f"the recording cannot be read: {error.strerror}", where)) from error
    if data is None:
        raise FirstliftError(Problem("REC-003", "the recording holds bytes that are no text", where, "a text table"))
    layout = find_layout(data, where)
    rows = data[layout.offset :]
    if layout.separator == WHITESPACE:
        rows = re.sub(rb"(?m)^ | (?=\r?$)", b"", re.sub(rb"[ \t]+", b" ", rows))
    body = _Body(rows, _Lines(rows, layout.line))
    table = parse_rows(body.data, layout, numbers=True)
    cut = table is not None and not rows.endswith((b"\n", b"\r")) and table.column(-1)[-1].as_py() is None
    if table is None or cut:  # something does not fit: look at every line, then read fields as they stand
        body = _mended(body.data, layout, where)
        table = parse_rows(body.data, layout, numbers=False)
    if table is None or table.num_rows == 0:
        raise FirstliftError(Problem("REC-005", "the table has no rows that can be read", where, "rows of numbers"))
    return _source(table, layout, body)


def parse_rows(data: bytes, layout: Layout, *, numbers: bool) -> pa.Table | None:
    """Parse the rows in bulk.

    Parameters
    ----------
    data : bytes
    layout : Layout
    numbers : bool
        Whether fields of number columns are read as numbers, or all as text.

    Returns
    -------
    pyarrow.Table or None
        None where a row has another width or a field is no number.
    """
    import pyarrow as pa
    from pyarrow import csv

    names = [str(n) for n in range(len(layout.names))]
    types = {
        name: pa.float64() if kind == "number" and numbers else pa.string()
        for name, kind in zip(names, layout.kinds, strict=True)
    }
    lower = [text for text in GAP_TEXTS if text]
    gaps = ["", *lower, *(t.upper() for t in lower), *(t.capitalize() for t in lower), "NaN"]
    try:
        return csv.read_csv(
            pa.py_buffer(data),
            read_options=csv.ReadOptions(column_names=names, use_threads=False, block_size=16 << 20),
            parse_options=csv.ParseOptions(delimiter=layout.separator, ignore_empty_lines=True),
            convert_options=csv.ConvertOptions(
                column_types=types,
                null_values=gaps,
                strings_can_be_null=not numbers,
                decimal_point=layout.decimal,
                check_utf8=False,
            ),
        )
    except pa.ArrowException:
        return None


def _mended(data: bytes, layout: Layout, where: str) -> _Body:
    """Put a row of gaps in the place of every row of another width, and leave out blank lines and comments."""
    width, separator = len(layout.names), layout.separator
    gap_row = separator.join(["nan"] * width)
    lines = data.decode("utf-8", errors="replace").split("\n")
    whole = lines[-1].strip() == ""
    kept: list[str] = []
    numbers: list[int] = []
    bad: list[BadValue] = []
    torn: int | None = None
    for number, raw in enumerate(lines, start=layout.line):
        line = raw.rstrip("\r")
        if not line.strip() or is_comment(line, separator):
            continue
        fits = _width(line, separator) == width
        if not whole and number == layout.line + len(lines) - 1 and not (fits and _ends_well(line, layout)):
            torn = number
            continue
        if not fits:
            bad.append(BadValue(len(kept), number, line[:60]))
        kept.append(line if fits else gap_row)
        numbers.append(number)
    _check_few(bad, len(kept), width, where)
    lookup = numbers.__getitem__
    return _Body("\n".join(kept).encode(), lookup, tuple(bad), torn)


def _width(line: str, separator: str) -> int:
    return len(split_row(line, separator)) if '"' in line else line.count(separator) + 1


def _ends_well(line: str, layout: Layout) -> bool:
    """Tell whether the last field of the file's last line is what its column holds."""
    if not layout.names[-1] or layout.kinds[-1] != "number":
        return True
    return bool(np.isfinite(numbers_of(split_row(line, layout.separator)[-1:], layout.decimal)[0]).all())


def _check_few(bad: Sequence[BadValue], rows: int, width: int, where: str) -> None:
    if len(bad) <= max(_MOST_BAD_ROWS, int(_BAD_ROW_SHARE * rows)):
        return
    places = ", ".join(str(value.line) for value in bad[:5])
    raise FirstliftError(
        Problem(
            "REC-006",
            f"{len(bad)} of {rows} rows do not have {width} fields",
            f"{where} lines {places}" + (", ..." if len(bad) > 5 else ""),
            "rows as wide as the heading",
            "Export the file again",
        )
    )


def _source(table: pa.Table, layout: Layout, body: _Body) -> Source:
    channels: list[SourceChannel] = []
    for index, (name, unit, kind) in enumerate(zip(layout.names, layout.units, layout.kinds, strict=True)):
        if not name and kind == "number" and table.column(index).null_count == table.num_rows:
            continue  # what a separator at the end of every row makes
        channels.append(_channel(name, unit, kind, table.column(index), layout, body))
    return Source(
        NAME,
        tuple(channels),
        bad_rows=body.bad_rows,
        torn=body.torn_line is not None,
        torn_line=body.torn_line,
        line_of=body.line_of,
    )


def _channel(
    name: str, unit: str | None, kind: str, column: pa.ChunkedArray, layout: Layout, body: _Body
) -> SourceChannel:
    short = split_unit(name)[0]
    aliases = (short,) if short != name else ()
    length = len(column)
    if kind == "text":
        return SourceChannel(
            name, length, array_reader(np.empty(0)), unit, aliases=aliases, why_not="holds text, not numbers"
        )
    values: NDArray[Any]
    wrong: NDArray[np.intp] = np.empty(0, dtype=np.intp)
    texts: Sequence[str | None] = []
    if kind == "instant":
        texts = column.to_pylist()
        values, wrong = instants_of(texts)
    elif str(column.type) == "double":
        values = np.array(column.to_numpy())
        values[np.isinf(values)] = np.nan
    else:
        texts = column.to_pylist()
        values, wrong = numbers_of(texts, layout.decimal)
    repaired = {value.row for value in body.bad_rows}
    bad = tuple(
        BadValue(int(row), body.line_of(int(row)), str(texts[int(row)])[:60])
        for row in wrong
        if int(row) not in repaired
    )
    values = np.asarray(values)
    values.flags.writeable = False
    return SourceChannel(
        name, length, array_reader(values), unit, aliases=aliases, is_instant=kind == "instant", bad=bad
    )
