"""Readings of a seat area typed cell by cell: values with units, uncertainties in a unit or in per cent."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from firstlift.core.errors import FirstliftError, Problem, UsageError
from firstlift.core.units import Kind, Quantity, parse_quantity
from firstlift.formats.seat_table import COLUMNS

# each column of uncertainty with the value it is of
_OF = {
    "line_uncertainty": "line_pressure",
    "pull_uncertainty": "pull",
    "bench_uncertainty": "bench_pressure",
}


def read_rows(typed: Sequence[Mapping[str, str]], where: str) -> list[Mapping[str, Quantity]]:
    """Read rows of cells; one that is wholly empty is left out.

    Parameters
    ----------
    typed : sequence of mapping of column name to text
        Columns as in `firstlift.formats.seat_table`, pressures, forces and their uncertainties.
    where : str
        What a row is called in messages; its number follows.

    Returns
    -------
    list of mapping of column name to Quantity

    Raises
    ------
    UsageError
        SEA-014 a value is missing in a row, SEA-002 one is below what is possible, UNI-001 to UNI-006; all at once.
    """
    problems: list[Problem] = []
    rows: list[Mapping[str, Quantity]] = []
    for number, cells in enumerate(typed, 1):
        filled = {name: text.strip() for name, text in cells.items() if text.strip()}
        if not filled:
            continue
        at = f"{where} {number}"
        missing = [name for name in cells if name not in _OF and name not in filled]
        if missing:
            said = " and ".join(name.replace("_", " ") for name in missing)
            problems.append(Problem("SEA-014", f"no {said}", at, "every value of the row, or none"))
            continue
        row: dict[str, Quantity] = {}
        # the values first: an uncertainty in per cent is of its value
        for name in sorted(filled, key=lambda name: name in _OF):
            try:
                row[name] = _cell(name, filled[name], row, f"{at}, {name.replace('_', ' ')}")
            except FirstliftError as error:
                problems += error.problems
        rows.append(row)
    if problems:
        raise UsageError(problems)
    return rows


def _cell(name: str, text: str, row: Mapping[str, Quantity], where: str) -> Quantity:
    kind = COLUMNS[name] or Kind.PRESSURE
    if name in _OF and "%" in text:
        share, of = parse_quantity(text, Kind.RATIO, where=where), row.get(_OF[name])
        size = share.si * abs(of.si) if of is not None else share.si
        quantity = Quantity(share.text, share.number, share.unit, kind, size)
    else:
        quantity = parse_quantity(text, kind, where=where)
    if quantity.si < 0.0:
        raise FirstliftError(Problem("SEA-002", f"'{text}' is below what is possible", where, "0 or more"))
    return quantity
