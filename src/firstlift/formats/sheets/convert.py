"""Rows to what the register takes: every cell read, every trouble named by sheet, row, column, value and reason."""

from __future__ import annotations

from collections.abc import Generator, Iterator
from contextlib import closing
from dataclasses import dataclass
from typing import Any

from firstlift.core.job import Measures
from firstlift.core.units import Quantity, to_si
from firstlift.formats.sheet_channels import KIND_OF
from firstlift.formats.sheets.cell import known_unit, read_cell, read_text
from firstlift.formats.sheets.fields import FieldKind, Takes, fields_of, plain
from firstlift.formats.sheets.plan import Column, SheetPlan
from firstlift.formats.sheets.reason import CannotBeTaken, Reason, Why, because
from firstlift.formats.sheets.seam import Book, Row, Value, as_shown, column_name

_REMEMBERED = 4_096


@dataclass(frozen=True, slots=True)
class Trouble:
    """Why a row cannot be taken, and where exactly.

    ``column`` and ``heading`` are of the spreadsheet, ``field`` is the register's where no column is at fault; what
    the cell holds is ``stands``.
    """

    sheet: str
    row: int
    column: str
    heading: str
    stands: str
    why: Reason
    field: str = ""

    @property
    def value(self) -> str:
        """What stands there; where no column is named, with the name of the field."""
        return f"{self.field.replace('_', ' ')} {self.stands}" if self.field and not self.heading else self.stands

    @property
    def reason(self) -> str:
        """Why, in English."""
        return str(self.why)

    def sentence(self) -> str:
        """Give it as one line."""
        sheet = f"sheet '{self.sheet}', " if self.sheet else ""
        column = f", column {self.column} '{self.heading}'" if self.column else ""
        value = f": '{self.value}' " if self.value else ": "
        return f"{sheet}row {self.row}{column}{value}{self.reason}"


@dataclass(frozen=True, slots=True)
class Taken:
    """A row as values of the register's fields, by the field's key; what is blank is not there."""

    takes: Takes
    sheet: str
    row: int
    values: dict[str, Any]


class Converter:
    """Converts the rows of one sheet."""

    def __init__(self, plan: SheetPlan) -> None:
        self._plan = plan
        # units come first: numbers beside them need them
        self._columns = sorted(plan.columns, key=lambda column: column.field.kind is not FieldKind.UNIT)
        self._words = {
            key: {plain(word): choice for word, choice in words.items()} for key, words in plan.words.items()
        }
        self._seen: dict[int, dict[tuple[Value, str, type], Any]] = {column.index: {} for column in plan.columns}
        self._constants, self._constant_troubles = self._read_constants()
        self._filled = _Filler(plan)

    def convert(self, row: Row) -> tuple[Taken | None, list[Trouble]]:
        """Convert a row.

        Parameters
        ----------
        row : Row

        Returns
        -------
        taken, troubles : Taken or None, list of Trouble
            Neither where no column that is taken holds anything.
        """
        cells, troubles = self._filled.fill(row)
        values: dict[str, Any] = {}
        width = len(cells)
        blank = True
        for column in self._columns:
            value = cells[column.index - 1] if column.index <= width else None
            if value is None:
                continue
            blank = False
            key = column.field.key
            got = self._read(column, value, values.get("pressure_unit", ""))
            if isinstance(got, CannotBeTaken):
                troubles.append(self._trouble(row, column, value, got.reason))
            elif got is not None:
                values[key] = got
                if key == "medium":
                    values["medium_name"] = read_text(value, 200)
        if blank:
            return None, []
        for key, constant in self._constants.items():
            values.setdefault(key, constant)
        if not troubles:
            troubles = [*self._missing(row, values), *self._constant_troubles, *self._unlikely(row, values)]
        return (
            (None, troubles) if troubles else (Taken(self._plan.takes, self._plan.sheet.name, row.number, values), [])
        )

    def _read(self, column: Column, value: Value, unit: str) -> Any:
        """Read a cell; lists repeat themselves, so what was read before is remembered."""
        seen = self._seen[column.index]
        # 1 and "true" are equal to Python: their kind parts them
        key = (value, unit if column.field.kind is FieldKind.PRESSURE else "", type(value))
        try:
            return seen[key]
        except KeyError:
            pass
        try:
            got = read_cell(column, value, self._words.get(column.field.key, {}), key[1])
        except CannotBeTaken as error:
            got = error
        if len(seen) >= _REMEMBERED:
            seen.clear()
        seen[key] = got
        return got

    def _read_constants(self) -> tuple[dict[str, Any], list[Trouble]]:
        out: dict[str, Any] = {}
        troubles: list[Trouble] = []
        fields = fields_of(self._plan.takes)
        for key, text in self._plan.constants.items():
            if key not in fields:
                continue
            column = Column(0, f"constant {key}", fields[key])
            try:
                out[key] = read_cell(column, text, self._words.get(key, {}), "")
            except CannotBeTaken as error:
                name, said = self._plan.sheet.name, as_shown(text)
                troubles.append(Trouble(name, 0, "", column.heading, said, error.reason, key))
        return {key: value for key, value in out.items() if value is not None}, troubles

    def _missing(self, row: Row, values: dict[str, Any]) -> Iterator[Trouble]:
        columns = {column.field.key: column for column in self._plan.columns}
        for field in fields_of(self._plan.takes).values():
            if field.needed and field.key not in values:
                column = columns.get(field.key, Column(0, "", field))
                yield self._trouble(row, column, None, because(Why.MISSING, field=field.shown))

    def _unlikely(self, row: Row, values: dict[str, Any]) -> Iterator[Trouble]:
        columns = {column.field.key: column for column in self._plan.columns}
        for key, reason in _contradictions(values, self._plan.takes):
            column = columns.get(key)
            if column is None:
                yield Trouble(self._plan.sheet.name, row.number, "", "", "", reason, key)
            else:
                value = row.cells[column.index - 1] if column.index <= len(row.cells) else None
                yield self._trouble(row, column, value, reason)

    def _trouble(self, row: Row, column: Column, value: Value, reason: Reason) -> Trouble:
        letters = column_name(column.index) if column.index else ""
        return Trouble(self._plan.sheet.name, row.number, letters, as_shown(column.heading), as_shown(value), reason)


class _Filler:
    """Gives merged cells their value: one below the other is said once for all; side by side it is unclear whose."""

    def __init__(self, plan: SheetPlan) -> None:
        taken = {column.index: column for column in plan.columns}
        self._plan, self._taken = plan, taken
        self._down: dict[int, list[tuple[int, int]]] = {}
        self._across: list[tuple[int, int, int]] = []
        for block in plan.merged:
            if block.last_row < plan.first_row:
                continue
            touched = [index for index in range(block.first_column, min(block.last_column, 500) + 1) if index in taken]
            if len(touched) > 1:
                self._across.append((block.first_row, block.last_row, touched[0]))
            elif touched and block.last_row > block.first_row:
                self._down.setdefault(touched[0], []).append((block.first_row, block.last_row))
        for blocks in self._down.values():
            blocks.sort(reverse=True)
        self._across.sort(reverse=True)
        self._held: dict[int, Value] = {}

    def fill(self, row: Row) -> tuple[list[Value], list[Trouble]]:
        if not self._down and not self._across:
            return row.cells, []
        cells = list(row.cells)
        for index, blocks in self._down.items():
            while blocks and blocks[-1][1] < row.number:
                blocks.pop()
            if not blocks or not blocks[-1][0] <= row.number:
                continue
            cells.extend([None] * (index - len(cells)))
            if row.number == blocks[-1][0]:
                self._held[index] = cells[index - 1]
            else:
                cells[index - 1] = self._held.get(index)
        return cells, self._side_by_side(row)

    def _side_by_side(self, row: Row) -> list[Trouble]:
        while self._across and self._across[-1][1] < row.number:
            self._across.pop()
        if not self._across or row.number < self._across[-1][0]:
            return []
        index = self._across[-1][2]
        value = row.cells[index - 1] if index <= len(row.cells) else None
        return [
            Trouble(
                self._plan.sheet.name, row.number, column_name(index), as_shown(self._taken[index].heading),
                as_shown(value), because(Why.MERGED_ACROSS),
            )
        ]  # fmt: skip


def _contradictions(values: dict[str, Any], takes: Takes) -> Iterator[tuple[str, Reason]]:
    if takes is Takes.INSTRUMENTS:
        yield from _instrument(values)
        return
    for low, high, why in (
        ("spring_range_low", "spring_range_high", Why.RANGE_HIGH_NOT_ABOVE),
        ("seat_inner_diameter", "seat_outer_diameter", Why.EDGE_NOT_ABOVE_BORE),
    ):
        if low in values and high in values and values[low].si >= values[high].si:
            yield high, because(why)
    if ("seat_inner_diameter" in values) != ("seat_outer_diameter" in values):
        yield "seat_inner_diameter", because(Why.SEAT_ONE_DIAMETER)
    elif "seat_inner_diameter" in values and "seat_uncertainty" not in values:
        yield "seat_inner_diameter", because(Why.SEAT_NO_UNCERTAINTY)
    for key in ("last_test_result", "last_test_pressure"):
        if key in values and "last_test_date" not in values:
            yield key, because(Why.TEST_NO_DATE)


def _instrument(values: dict[str, Any]) -> Iterator[tuple[str, Reason]]:
    """Check an instrument, and turn what it measures into quantities now that the unit is known."""
    kind = KIND_OF[Measures(values["measures"])]
    try:
        unit = known_unit(values["reading_unit"], kind)
    except CannotBeTaken as error:
        yield "reading_unit", error.reason
        return
    values["reading_unit"] = unit
    for key in ("capacity", "standard_uncertainty", "expanded_uncertainty"):
        if key not in values:
            continue
        number, said = values[key]
        try:
            symbol = known_unit(said, kind) if said else unit
        except CannotBeTaken as error:
            yield key, error.reason
            continue
        # an uncertainty is a difference: the offset between scales of temperature is not in it
        si = to_si(float(number), symbol) - to_si(0.0, symbol)
        if si <= 0.0:
            yield key, because(Why.NOT_ABOVE_ZERO)
        values[key] = Quantity(f"{number:f} {symbol}", number, symbol, kind, si)
    dated = [key for key in ("calibration_date", "calibration_due", "certificate_number") if key in values]
    if dated and len(dated) < 3:
        yield dated[0], because(Why.CALIBRATION_INCOMPLETE)
    elif dated and values["calibration_due"] <= values["calibration_date"]:
        yield "calibration_due", because(Why.CALIBRATION_DUE_BEFORE)


def taken_rows(book: Book, plan: SheetPlan) -> Generator[tuple[Taken | None, list[Trouble]]]:
    """Convert the rows of a sheet one at a time.

    Parameters
    ----------
    book : Book
    plan : SheetPlan

    Yields
    ------
    taken, troubles : Taken or None, list of Trouble
    """
    converter = Converter(plan)
    with closing(book.rows(plan.sheet)) as rows:
        for row in rows:
            if row.number >= plan.first_row:
                taken, troubles = converter.convert(row)
                if taken is not None or troubles:
                    yield taken, troubles
