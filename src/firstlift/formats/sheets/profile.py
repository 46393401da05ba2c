"""Look at the first rows of each column: samples, the habit of its dates, the sign of its decimals."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from firstlift.formats.seam import names_unit
from firstlift.formats.sheets.dates import DateHabit, find_habit
from firstlift.formats.sheets.fields import QUANTITY_KINDS, FieldKind, Takes, fields_of
from firstlift.formats.sheets.mapping import Mapping
from firstlift.formats.sheets.numbers import DecimalMark, find_mark, split_number
from firstlift.formats.sheets.plan import Column
from firstlift.formats.sheets.reason import Reason, Why, because
from firstlift.formats.sheets.seam import Row, Value, as_shown

_SAMPLES = 3
_NUMERIC = {*QUANTITY_KINDS, FieldKind.NUMBER, FieldKind.MONTHS, FieldKind.MEASURED}


def cells_of(column: Column, rows: Sequence[Row]) -> list[Value]:
    """Give a column's cells that hold anything.

    Parameters
    ----------
    column : Column
    rows : sequence of Row

    Returns
    -------
    list of Value
    """
    at = column.index - 1
    return [row.cells[at] for row in rows if at < len(row.cells) and row.cells[at] is not None]


def with_habits(columns: Sequence[Column], rows: Sequence[Row], mapping: Mapping) -> tuple[list[Column], list[Reason]]:
    """Give the columns with samples and habits, and what is to be said of them.

    A column that does not show its own habit follows the sheet's others, where these agree.

    Parameters
    ----------
    columns : sequence of Column
    rows : sequence of Row
    mapping : Mapping

    Returns
    -------
    columns, notes : list of Column, list of Reason
    """
    cells = {column.index: cells_of(column, rows) for column in columns}
    texts = {index: [cell for cell in column if isinstance(cell, str)] for index, column in cells.items()}
    dates = [column for column in columns if column.field.kind is FieldKind.DATE]
    numbers = [column for column in columns if column.field.kind in _NUMERIC]
    habits = {column.index: find_habit(texts[column.index]) for column in dates}
    marks = {column.index: find_mark(texts[column.index]) for column in numbers}
    habit = mapping.dates or _common(list(habits.values()))
    mark = mapping.decimal or _common(list(marks.values()))
    out: list[Column] = []
    for column in columns:
        shown = tuple(as_shown(cell) for cell in cells[column.index][:_SAMPLES])
        own_habit = mapping.dates or habits.get(column.index) or habit
        own_mark = mapping.decimal or marks.get(column.index) or mark
        out.append(
            replace(
                _unit_column(column, texts[column.index]),
                samples=shown,
                dates=own_habit if column.index in habits else None,
                decimal=own_mark if column.index in marks else None,
            )
        )
    return out, _notes(out, cells, mapping)


def _common(found: Sequence[DateHabit | None] | Sequence[DecimalMark | None]) -> DateHabit | DecimalMark | None:
    seen = {one for one in found if one is not None}
    return seen.pop() if len(seen) == 1 else None


def _unit_column(column: Column, texts: Sequence[str]) -> Column:
    """See that a column headed "Unit" holds units of pressure, not the plant's units."""
    if column.field.key == "unit" and texts and all(names_unit(text) for text in texts):
        return replace(column, field=fields_of(Takes.VALVES)["pressure_unit"])
    return column


def _notes(columns: Sequence[Column], cells: dict[int, list[Value]], mapping: Mapping) -> list[Reason]:
    out: list[Reason] = []
    for column in columns:
        values, heading = cells[column.index], as_shown(column.heading)
        if column.dates and mapping.dates is None and any(isinstance(value, str) for value in values):
            out.append(because(Why.DATES_AS_THEY_SHOW, heading=heading, habit=column.dates))
        if column.decimal is DecimalMark.COMMA and mapping.decimal is None:
            out.append(because(Why.COMMA_AS_IT_SHOWS, heading=heading))
        if column.field.kind is FieldKind.DATE and any(isinstance(value, float) for value in values):
            out.append(because(Why.DAY_NUMBERS, heading=heading))
    return out


def has_bare_number(column: Column, rows: Sequence[Row]) -> str:
    """Give the first number of a column that has no unit of its own; "" where there is none.

    Parameters
    ----------
    column : Column
    rows : sequence of Row

    Returns
    -------
    str
    """
    for cell in cells_of(column, rows):
        if isinstance(cell, float) and not isinstance(cell, bool):
            return as_shown(cell)
        if isinstance(cell, str):
            parts = split_number(cell)
            if parts is not None and not parts[1]:
                return as_shown(cell)
    return ""
