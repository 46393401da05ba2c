"""Match a sheet's columns to the register's fields by name; what is not plain is asked, never guessed."""

from __future__ import annotations

import difflib
import itertools
from collections.abc import Sequence
from contextlib import closing
from dataclasses import dataclass, replace

from firstlift.core.errors import FirstliftError, Problem
from firstlift.core.units import find_unit
from firstlift.formats.seam import names_unit, split_unit
from firstlift.formats.sheet_table import did_you_mean, shown
from firstlift.formats.sheets.fields import QUANTITY_KINDS, Field, FieldKind, Takes, fields_of, plain
from firstlift.formats.sheets.mapping import Mapping, SheetMapping
from firstlift.formats.sheets.plan import BookPlan, Column, LeftOut, SheetPlan
from firstlift.formats.sheets.profile import with_habits
from firstlift.formats.sheets.reason import Reason, Why, because
from firstlift.formats.sheets.seam import Book, Row, SheetInfo, Value, as_text, column_name, refuse

HEADING_WITHIN = 30
_FEWEST_MATCHED = 2
_PROFILED_ROWS = 1_000


def plan_book(book: Book, mapping: Mapping) -> BookPlan:
    """Plan how a spreadsheet is taken.

    Parameters
    ----------
    book : Book
    mapping : Mapping
        What the user says of it; may say nothing.

    Returns
    -------
    BookPlan

    Raises
    ------
    FirstliftError
        IMP-010 no sheet has a heading row that is understood.
    """
    plans: list[SheetPlan] = []
    skipped: list[tuple[str, Reason]] = []
    for sheet in book.sheets:
        told = mapping.of(sheet.name)
        if told.skip:
            skipped.append((sheet.name, because(Why.LEFT_OUT_BY_MAPPING)))
        elif sheet.hidden and told.takes is None:
            skipped.append((sheet.name, because(Why.HIDDEN)))
        elif (plan := _plan_sheet(book, sheet, told, mapping)) is None:
            skipped.append((sheet.name, because(Why.NO_HEADINGS)))
        else:
            plans.append(plan)
    if not plans:
        reasons = "; ".join(f"sheet '{shown(name)}': {why}" if name else str(why) for name, why in skipped)
        raise refuse(
            "IMP-010",
            f"no table was found: {reasons or 'there is no sheet of cells'}",
            book.file,
            "a heading row with columns such as Tag, Serial, Set pressure [bar], Medium, Owner, Site",
            "Give the columns headings, or name them in a mapping (--mapping)",
        )
    return BookPlan(book.file, book.kind, tuple(plans), tuple(skipped), book.notes, mapping.encoding)


@dataclass(frozen=True, slots=True)
class _Heading:
    takes: Takes
    row: int
    cells: list[Value]
    fields: dict[int, Field]


def _plan_sheet(book: Book, sheet: SheetInfo, told: SheetMapping, mapping: Mapping) -> SheetPlan | None:
    with closing(book.rows(sheet)) as stream:
        rows = list(itertools.islice(stream, _PROFILED_ROWS + HEADING_WITHIN))
    heading = _find_heading(rows, told)
    if heading is None:
        return None
    below = [row for row in rows if row.number > heading.row]
    units = _unit_row(below[0]) if below else {}
    first_row = below[1].number if units and len(below) > 1 else (below[0].number + bool(units) if below else 0)
    below = below[1:] if units else below
    where = f"{book.file}, sheet '{sheet.name}'" if sheet.name else book.file
    matcher = _Matcher(heading, told, units, f"{where}, row {heading.row}")
    columns, left_out, blocks = matcher.match()
    columns, notes = with_habits(columns, below, mapping)
    blocks += _unsettled(columns, below, heading, told, where)
    return SheetPlan(
        sheet, heading.takes, heading.row, first_row, tuple(columns), tuple(left_out), dict(told.constants),
        told.words, book.merged(sheet), tuple(blocks), tuple(notes),
    )  # fmt: skip


def _find_heading(rows: Sequence[Row], told: SheetMapping) -> _Heading | None:
    """Find the row and the kind of list that match best; told ones are taken at their word."""
    best: _Heading | None = None
    rank = (0, 0)
    near = [row for row in rows if row.number <= HEADING_WITHIN or row.number == told.header_row]
    for row in near:
        if told.header_row not in (None, row.number):
            continue
        for takes in Takes if told.takes is None else (told.takes,):
            fields = _fields(row.cells, takes, told)
            known = {field.key for field in fields.values()}
            matched = (sum(fields_of(takes)[key].needed for key in known), len(known))
            enough = len(known) >= _FEWEST_MATCHED or (told.header_row is not None and told.takes is not None)
            if enough and (best is None or sum(matched) > sum(rank)):
                best, rank = _Heading(takes, row.number, row.cells, fields), matched
    return best


def _fields(cells: Sequence[Value], takes: Takes, told: SheetMapping) -> dict[int, Field]:
    """Give the field of each column that has one: told ones first, then by name."""
    fields = fields_of(takes)
    by_name = {name: field for field in fields.values() for name in field.names}
    out: dict[int, Field] = {}
    for key, heading in told.columns.items():
        out |= {index: fields[key] for index in _told_columns(cells, heading) if key in fields}
    for index, cell in enumerate(cells, start=1):
        if index in out or not isinstance(cell, str):
            continue
        field = by_name.get(plain(heading_parts(cell)[0])) or by_name.get(plain(cell))
        if field is not None and field.key not in told.columns:
            out[index] = field
    return out


def _told_columns(cells: Sequence[Value], heading: str) -> list[int]:
    letters = heading.removeprefix("column ")
    if letters != heading and letters.isascii() and letters.isupper() and len(letters) <= 3:
        return [index for index in range(1, 703) if column_name(index) == letters]
    return [index for index, cell in enumerate(cells, start=1) if plain(as_text(cell)) == plain(heading)]


def heading_parts(heading: str) -> tuple[str, str]:
    """Part a heading into name and unit: "Set pressure [bar]", "Set pressure, barg", "Set pressure bar(g)".

    Parameters
    ----------
    heading : str

    Returns
    -------
    name, unit : str
        The unit is "" where none stands there.
    """
    heading = " ".join(heading.split())
    name, unit = split_unit(heading)
    if unit is not None:
        return name, unit
    words = heading.replace(",", " ").replace("/", " ").split()
    for count in (1, 2):
        tail = " ".join(words[-count:])
        if len(words) > count and len(tail) > 1 and (names_unit(tail) or tail == "%"):
            return " ".join(words[:-count]), tail
    return heading, ""


def _unit_row(row: Row) -> dict[int, str]:
    """Give the units of a row that holds nothing but units, as some put them below the heading."""
    texts = {index: as_text(cell) for index, cell in enumerate(row.cells, start=1) if cell is not None}
    stripped = {index: text.strip().strip("[]()") for index, text in texts.items() if text.strip() not in ("-", "")}
    if stripped and all(names_unit(text) or text in ("%", "months", "years") for text in stripped.values()):
        return stripped
    return {}


class _Matcher:
    """Matches the columns of one heading row."""

    def __init__(self, heading: _Heading, told: SheetMapping, units: dict[int, str], where: str) -> None:
        self._heading, self._told, self._units, self._where = heading, told, units, where
        self._blocks: list[Problem] = []

    def match(self) -> tuple[list[Column], list[LeftOut], list[Problem]]:
        columns: list[Column] = []
        left_out: list[LeftOut] = []
        for index, cell in enumerate(self._heading.cells, start=1):
            field = self._heading.fields.get(index)
            if field is None:
                if cell is not None:
                    left_out.append(LeftOut(index, as_text(cell), self._hint(as_text(cell))))
                continue
            columns.append(self._column(index, as_text(cell), field))
        told_beyond = [index for index in self._heading.fields if index > len(self._heading.cells)]
        columns += [self._column(index, "", self._heading.fields[index]) for index in told_beyond]
        self._check_doubles(columns)
        self._check_told()
        self._check_needed(columns)
        return columns, left_out, self._blocks

    def _column(self, index: int, heading: str, field: Field) -> Column:
        unit = self._told.units.get(field.key) or heading_parts(heading)[1] or self._units.get(index, "")
        if field.kind is FieldKind.MONTHS:
            unit = unit.lower()
        kind = QUANTITY_KINDS.get(field.kind)
        if unit and kind is not None:
            try:
                unit = find_unit(unit, kind).symbol
            except FirstliftError as error:
                self._blocks += [
                    replace(problem, where=f"{self._where}, column {column_name(index)} '{shown(heading)}'")
                    for problem in error.problems
                ]
        elif kind is None and field.kind not in (FieldKind.MONTHS, FieldKind.MEASURED):
            unit = ""
        return Column(index, heading, field, unit)

    def _hint(self, heading: str) -> str:
        names = {name: field.key for field in fields_of(self._heading.takes).values() for name in field.names}
        near = difflib.get_close_matches(plain(heading_parts(heading)[0]), list(names), n=1, cutoff=0.8)
        return names[near[0]] if near else ""

    def _check_doubles(self, columns: Sequence[Column]) -> None:
        by_field: dict[str, list[Column]] = {}
        for column in columns:
            by_field.setdefault(column.field.key, []).append(column)
        for key, same in by_field.items():
            if len(same) > 1:
                stand = " and ".join(f"{column_name(c.index)} '{shown(c.heading)}'" for c in same)
                self._block("IMP-011", f"columns {stand} both read as '{same[0].field.shown}'", "one column for it",
                            f'Say which in a mapping: [sheet.columns] {key} = "column {column_name(same[0].index)}"',
                            )  # fmt: skip

    def _check_told(self) -> None:
        there = {field.key for field in self._heading.fields.values()}
        for key, heading in self._told.columns.items():
            if key not in there:
                headings = [as_text(cell) for cell in self._heading.cells if cell is not None]
                self._block("IMP-012", f"the mapping's column '{shown(heading)}' for '{key}' is not in the sheet",
                            "a heading of the sheet", did_you_mean(heading, headings))  # fmt: skip

    def _check_needed(self, columns: Sequence[Column]) -> None:
        there = {column.field.key for column in columns} | self._told.constants.keys()
        for field in fields_of(self._heading.takes).values():
            if field.needed and field.key not in there:
                self._block(
                    "IMP-013", f"no column is '{field.shown}'", f"a heading such as {', '.join(field.names[:4])}",
                    f"Name it in a mapping, or give one value for all rows: --constant {field.key}=VALUE",
                )  # fmt: skip

    def _block(self, code: str, what: str, needed: str, next_step: str) -> None:
        self._blocks.append(Problem(code, what, self._where, needed, next_step))


def _unsettled(
    columns: Sequence[Column], below: Sequence[Row], heading: _Heading, told: SheetMapping, where: str
) -> list[Problem]:
    """Find columns of bare numbers without a unit: one message instead of one for every row."""
    from firstlift.formats.sheets.profile import has_bare_number

    keys = {column.field.key for column in columns} | told.constants.keys()
    out: list[Problem] = []
    for column in columns:
        kind = column.field.kind
        if column.unit or kind not in QUANTITY_KINDS or (kind is FieldKind.PRESSURE and "pressure_unit" in keys):
            continue
        bare = has_bare_number(column, below)
        if bare:
            spot = f"{where}, row {heading.row}, column {column_name(column.index)} '{shown(column.heading)}'"
            out.append(
                Problem(
                    "IMP-014", f"numbers such as {bare} have no unit", spot, f"a {QUANTITY_KINDS[kind]} with its unit",
                    f"Head the column '{shown(column.heading)} [unit]', or say --unit {column.field.key}=UNIT",
                )
            )  # fmt: skip
    return out
