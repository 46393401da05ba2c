"""A small table of pulls at several line pressures, or of on-line and bench results: CSV with named columns.

A column's unit stands in its heading, ``line_pressure [bar]``, or beside every value, ``8 bar``. Columns may be
parted by semicolon, tab or comma; with semicolon or tab a decimal comma is read.
"""

from __future__ import annotations

import csv
import io
import re
from collections.abc import Mapping
from pathlib import Path

from firstlift.core.errors import FirstliftError, Problem
from firstlift.core.units import Kind, Quantity, parse_quantity

COLUMNS: Mapping[str, Kind | None] = {
    "line_pressure": Kind.PRESSURE,
    "line_uncertainty": Kind.PRESSURE,
    "pull": Kind.FORCE,
    "pull_uncertainty": Kind.FORCE,
    "bench_pressure": Kind.PRESSURE,
    "bench_uncertainty": Kind.PRESSURE,
    "back_pressure": Kind.PRESSURE,
    "temperature": Kind.TEMPERATURE,
    "setting": None,
}
_MOST_BYTES = 1_000_000
_HEADING = re.compile(r"^\s*(.*?)\s*(?:[\[(]\s*([^\])]+?)\s*[\])])?\s*$")

Row = Mapping[str, Quantity | str]


def read_seat_table(path: Path) -> list[Row]:
    """Read the rows of a table.

    Parameters
    ----------
    path : Path

    Returns
    -------
    list of mapping of column name to Quantity, or str for ``setting``
        An empty cell is left out.

    Raises
    ------
    FirstliftError
        SEA-013 the file cannot be read or holds no rows; SEA-014 a column that is not known or missing, or a
        row of another length; UNI-001 to UNI-006 a value, all of them at once.
    """
    text = _text(path)
    first = text.splitlines()[0] if text.strip() else ""
    separator = next((sign for sign in (";", "\t", ",") if sign in first), ",")
    try:
        cells = list(csv.reader(io.StringIO(text, newline=""), delimiter=separator))
    except csv.Error as error:
        raise FirstliftError(Problem("SEA-013", f"the table is no CSV: {error}", str(path), "CSV in UTF-8")) from error
    lines = [row for row in cells if any(cell.strip() for cell in row)]
    if len(lines) < 2:
        raise FirstliftError(Problem("SEA-013", "the table holds no rows", str(path), "a heading and a row or more"))
    headings = _headings(lines[0], path)
    rows: list[Row] = []
    problems: list[Problem] = []
    for number, cells in enumerate(lines[1:], 2):
        where = f"{path.name}, row {number}"
        if len(cells) != len(headings):
            problems.append(Problem("SEA-014", f"{len(cells)} cells", where, f"{len(headings)}, one for each heading"))
            continue
        rows.append(_row(headings, cells, where, problems))
    if problems:
        raise FirstliftError(problems)
    return rows


def _text(path: Path) -> str:
    try:
        raw = path.read_bytes()
    except OSError as error:
        reason = error.strerror or type(error).__name__
        raise FirstliftError(Problem("SEA-013", f"the table cannot be read: {reason}", str(path))) from error
    if len(raw) > _MOST_BYTES:
        raise FirstliftError(
            Problem("SEA-013", f"the table is {len(raw)} bytes long", str(path), f"{_MOST_BYTES} bytes or less")
        )
    try:
        text = raw.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        raise FirstliftError(
            Problem("SEA-013", "the table is not text in UTF-8", str(path), "CSV in UTF-8", "Save it as CSV UTF-8")
        ) from error
    if "\0" in text:
        raise FirstliftError(Problem("SEA-013", "the table is not text", str(path), "CSV in UTF-8"))
    return text


def _headings(cells: list[str], path: Path) -> list[tuple[str, str]]:
    headings: list[tuple[str, str]] = []
    problems: list[Problem] = []
    for cell in cells:
        match = _HEADING.match(cell)
        name = re.sub(r"[\s-]+", "_", (match.group(1) if match else cell).strip().lower())
        unit = (match.group(2) if match else None) or ""
        if name not in COLUMNS or name in {known for known, _ in headings}:
            problems.append(
                Problem("SEA-014", f"column '{cell}' is not known, or there twice", path.name, ", ".join(COLUMNS))
            )
        headings.append((name, unit))
    missing = [name for name in ("line_pressure", "pull") if name not in {known for known, _ in headings}]
    if missing:
        problems.append(Problem("SEA-014", f"no column {' and '.join(missing)}", path.name, "line_pressure and pull"))
    if problems:
        raise FirstliftError(problems)
    return headings


def _row(headings: list[tuple[str, str]], cells: list[str], where: str, problems: list[Problem]) -> Row:
    row: dict[str, Quantity | str] = {}
    for (name, unit), cell in zip(headings, cells, strict=True):
        kind, text = COLUMNS[name], cell.strip()
        if kind is None:
            row[name] = text
        elif text:
            try:
                row[name] = parse_quantity(f"{text} {unit}".strip(), kind, where=f"{where}, column {name}")
            except FirstliftError as error:
                problems.extend(error.problems)
        elif name in ("line_pressure", "pull"):
            problems.append(Problem("SEA-014", f"no {name}", where, "a value in every row"))
    return row
