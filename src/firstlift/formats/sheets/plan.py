"""What goes where: each column of a sheet, the field it fills, its unit and habits, and the doubts about it."""

from __future__ import annotations

from collections.abc import Mapping as Map
from dataclasses import dataclass

from firstlift.core.errors import Problem
from firstlift.formats.sheets.dates import DateHabit
from firstlift.formats.sheets.fields import Field, Takes
from firstlift.formats.sheets.mapping import Mapping, SheetMapping
from firstlift.formats.sheets.numbers import DecimalMark
from firstlift.formats.sheets.reason import Reason
from firstlift.formats.sheets.seam import Merged, SheetInfo


@dataclass(frozen=True, slots=True)
class Column:
    """A column that is taken: where it stands (1 is A), its heading, and how its cells are read."""

    index: int
    heading: str
    field: Field
    unit: str = ""
    dates: DateHabit | None = None
    decimal: DecimalMark | None = None
    samples: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class LeftOut:
    """A column that fills no field; ``hint`` names the field it may be meant for."""

    index: int
    heading: str
    hint: str = ""


@dataclass(frozen=True, slots=True)
class SheetPlan:
    """How one sheet is taken. ``blocks`` are doubts that must be settled first, ``notes`` what is good to know."""

    sheet: SheetInfo
    takes: Takes
    header_row: int
    first_row: int
    columns: tuple[Column, ...]
    left_out: tuple[LeftOut, ...]
    constants: Map[str, str]
    words: Map[str, Map[str, str]]
    merged: tuple[Merged, ...]
    blocks: tuple[Problem, ...]
    notes: tuple[Reason, ...]


@dataclass(frozen=True, slots=True)
class BookPlan:
    """How a file is taken: its sheets, and those left out with the reason."""

    file: str
    kind: str
    sheets: tuple[SheetPlan, ...]
    skipped: tuple[tuple[str, Reason], ...]
    notes: tuple[Reason, ...]
    encoding: str = ""

    @property
    def blocks(self) -> tuple[Problem, ...]:
        """All doubts that must be settled before anything is taken."""
        return tuple(problem for sheet in self.sheets for problem in sheet.blocks)


def to_mapping(plan: BookPlan) -> Mapping:
    """Give the mapping that takes this file, or the next one like it, in the same way.

    Parameters
    ----------
    plan : BookPlan

    Returns
    -------
    Mapping
    """
    sheets = [_sheet(sheet) for sheet in plan.sheets]
    skipped = [SheetMapping(name, skip=True) for name, _ in plan.skipped if name]
    columns = [column for sheet in plan.sheets for column in sheet.columns]
    habits = {column.dates for column in columns if column.dates}
    marks = {column.decimal for column in columns if column.decimal}
    return Mapping(
        tuple(sheets + skipped),
        habits.pop() if len(habits) == 1 else None,
        marks.pop() if len(marks) == 1 else None,
        plan.encoding,
    )


def _sheet(plan: SheetPlan) -> SheetMapping:
    from firstlift.formats.sheets.seam import column_name

    headings = [column.heading for column in plan.columns] + [left.heading for left in plan.left_out]
    return SheetMapping(
        plan.sheet.name,
        plan.takes,
        plan.header_row,
        columns={
            column.field.key: column.heading
            if column.heading and headings.count(column.heading) == 1
            else f"column {column_name(column.index)}"
            for column in plan.columns
        },
        units={column.field.key: column.unit for column in plan.columns if column.unit},
        constants=dict(plan.constants),
        words={key: dict(words) for key, words in plan.words.items()},
    )
