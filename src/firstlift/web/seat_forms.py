"""The forms of seat records: what their fields are, and the entry that what was typed comes to."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from typing import Annotated, Any

from pydantic import BaseModel, Field

from firstlift.core.errors import FirstliftError, Problem
from firstlift.core.units import UNITS
from firstlift.usecases.register.seat_draft import SeatStatement
from firstlift.usecases.register.seat_entry import SeatEntry
from firstlift.usecases.register.seat_said import worked_on
from firstlift.usecases.seat_asked import SeatAsked
from firstlift.usecases.seat_rows import read_rows
from firstlift.web.lists import identifier
from firstlift.web.pages.pocket import with_unit

WAYS = ("measured", "maker", "pulls", "pairs")
LENGTHS, AREAS, PRESSURES, FORCES = (
    ("mm", "in"),
    ("mm2", "cm2", "in2"),
    ("bar", "kPa", "MPa", "psi"),
    ("N", "kN", "lbf"),
)
# rows of readings that a page offers at the least and takes at the most
FEWEST_ROWS, MOST_ROWS = 4, 24
# as the fields of the form are called, in the words of refusals
_WHERE = {
    "inner": "Bore",
    "outer": "Outer edge",
    "mean": "Mean diameter",
    "area": "Area",
    "friction": "Friction",
    "reference": "Paper",
    "pulls": "Pulls at several line pressures",
    "pairs": "Bench and on line",
    "u_dimension": "How well it is known",
    "u_line": "Uncertainty of the line pressure",
    "u_pull": "Uncertainty of the pull",
    "u_bench": "Uncertainty of the bench result",
    "u_gauge": "Calibration of the gauge",
    "u_cell": "Calibration of the cells",
    "u_bench_gauge": "Calibration of the bench gauge",
}
Short = Annotated[str, Field(max_length=20_000)]


class SeatForm(BaseModel):
    """What stands in the form: one of four ways, and what goes with any of them."""

    way: Short = "measured"
    look: Short = ""
    inner: Short = ""
    outer: Short = ""
    mean: Short = ""
    area: Short = ""
    known: Short = ""
    length: Short = "mm"
    area_unit: Short = "mm2"
    tool: Short = ""
    reference: Short = ""
    date: Short = ""
    note: Short = ""
    corrects: Short = ""
    work: Short = ""
    why: Short = ""
    pressure: Short = "bar"
    force: Short = "N"
    line: list[Short] = Field(default_factory=list[str])
    u_line: list[Short] = Field(default_factory=list[str])
    pull: list[Short] = Field(default_factory=list[str])
    u_pull: list[Short] = Field(default_factory=list[str])
    bench: list[Short] = Field(default_factory=list[str])
    u_bench: list[Short] = Field(default_factory=list[str])
    cell: Short = ""
    gauge: Short = ""
    bench_gauge: Short = ""
    u_cell: Short = ""
    u_gauge: Short = ""
    u_bench_gauge: Short = ""
    friction: Short = ""
    same: Short = ""
    test: list[Short] = Field(default_factory=list[str])

    @property
    def columns(self) -> tuple[tuple[str, Sequence[str]], ...]:
        """The typed readings by column, as `firstlift.formats.seat_table` names them."""
        made = [
            ("line_pressure", self.line),
            ("line_uncertainty", self.u_line),
            ("pull", self.pull),
            ("pull_uncertainty", self.u_pull),
        ]
        if self.way == "pairs":
            made += [("bench_pressure", self.bench), ("bench_uncertainty", self.u_bench)]
        return tuple(made)

    @property
    def rows(self) -> list[dict[str, str]]:
        """The typed readings row by row; a bare number has the column's unit."""
        many = min(MOST_ROWS, max(len(texts) for _, texts in self.columns))
        units = {"pull": self._unit(self.force, FORCES), "pull_uncertainty": self._unit(self.force, FORCES)}
        return [
            {
                name: with_unit(
                    texts[at] if at < len(texts) else "", units.get(name, self._unit(self.pressure, PRESSURES))
                )
                for name, texts in self.columns
            }
            for at in range(many)
        ]

    @property
    def shown_rows(self) -> list[dict[str, str]]:
        """The rows that the form shows: what was typed, and some to fill."""
        typed = [row for row in self.rows if any(row.values())]
        names = [name for name, _ in self.columns]
        empty = [dict.fromkeys(names, "") for _ in range(max(FEWEST_ROWS - len(typed), 1))]
        return [*typed, *empty][:MOST_ROWS]

    def sized(self, name: str) -> str:
        """Give a typed size with its unit."""
        unit = self._unit(self.area_unit, AREAS) if name == "area" else self._unit(self.length, LENGTHS)
        if name == "known" and self.way == "maker" and self.area.strip():
            unit = self._unit(self.area_unit, AREAS)
        return with_unit(getattr(self, name), unit)

    def fields(self) -> list[tuple[str, str]]:
        """Give everything as fields of a form that keeps what was looked at."""
        made: list[tuple[str, str]] = []
        for name in type(self).model_fields:
            value: str | list[str] = getattr(self, name)
            if isinstance(value, list):
                # an empty cell too: the rows hang together by their numbers
                made += [(name, text) for text in value]
            elif value:
                made.append((name, value))
        return made

    @staticmethod
    def _unit(text: str, offered: Sequence[str]) -> str:
        return text if text in offered and text in UNITS else offered[0]


def entry_of(form: SeatForm, today: dt.date) -> SeatEntry:
    """Give the entry that a filled form comes to.

    Parameters
    ----------
    form : SeatForm
    today : date
        Where no other day is named.

    Returns
    -------
    SeatEntry

    Raises
    ------
    UsageError, FirstliftError
        SEA-014, SEA-002, UNI-001 to UNI-006 the readings; SEA-015 a day that is none, or not one way; SEA-021 no such
        work on a seat.
    """
    if form.way not in WAYS:
        raise _not_one_way(f"'{form.way[:40]}' is no way to know a seat area", ", ".join(WAYS))
    measured_with = (form.tool.strip()[:60],) if form.way == "measured" else ()
    corrects = identifier(form.corrects) if form.corrects.strip() else None
    statement = SeatStatement(
        _asked(form),
        _day(form.date, today),
        measured_with,
        note=form.note.strip()[:500],
        tests=tuple(identifier(each) for each in form.test) if form.way == "pulls" else (),
    )
    work = worked_on(form.work.strip())
    return SeatEntry(statement, corrects, work, form.why.strip()[:500], bool(form.same))


def _asked(form: SeatForm) -> SeatAsked:
    known = form.sized("known") or None
    common: dict[str, Any] = {"reference": form.reference.strip()[:200], "where": _WHERE}
    if form.way in ("measured", "maker"):
        names = ("inner", "outer", "mean") if form.way == "measured" else ("inner", "outer", "mean", "area")
        typed = {name: form.sized(name) for name in names if getattr(form, name).strip()}
        if set(typed) not in ({"inner", "outer"}, {"mean"}, {"area"}):
            what = "no size is typed" if not typed else "the seat is not given in one way"
            needed = "bore and outer edge, or a mean diameter" + (", or an area" if form.way == "maker" else "")
            raise _not_one_way(what, needed)
        return SeatAsked(u_dimension=known, **typed, **common)
    if form.way == "pulls" and form.test:
        if any(any(row.values()) for row in form.rows):
            raise _not_one_way("tests are chosen and pulls are typed", "one of the two")
        return SeatAsked(**common)
    rows = read_rows(form.rows, "Pair" if form.way == "pairs" else "Pull")
    if not rows:
        needed = "pairs of bench and on line" if form.way == "pairs" else "two pulls or more, or tests"
        raise _not_one_way("no reading is typed", needed)
    return SeatAsked(
        rows=rows,
        cell=_serial(form.cell, "the cells"),
        gauge=_serial(form.gauge, "the gauge"),
        bench_gauge=_serial(form.bench_gauge, "the bench gauge") if form.way == "pairs" else "bench gauge",
        u_cell=with_unit(form.u_cell, "%") or None,
        u_gauge=with_unit(form.u_gauge, "%") or None,
        u_bench_gauge=with_unit(form.u_bench_gauge, "%") or None,
        friction=with_unit(form.friction, "N") or None,
        **common,
    )


def _serial(text: str, what: str) -> str:
    """Give the serial of what read all of them: the area is found with its errors in it."""
    serial = text.strip()[:200]
    if not serial:
        raise FirstliftError(
            Problem("SEA-003", f"{what} that read them are not named", needed="every instrument by its serial")
        )
    return serial


def _day(text: str, today: dt.date) -> dt.date:
    if not text.strip():
        return today
    try:
        return dt.date.fromisoformat(text.strip())
    except ValueError:
        raise FirstliftError(Problem("SEA-015", f"'{text[:40]}' is not a date", "Date", "YYYY-MM-DD")) from None


def _not_one_way(what: str, needed: str) -> FirstliftError:
    return FirstliftError(Problem("SEA-015", what, "Seat", needed))
