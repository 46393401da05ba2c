"""A code's tolerance table from its text (TOML) to frozen values. The shell reads the file, not the core."""

from __future__ import annotations

import tomllib
from collections.abc import Mapping
from dataclasses import dataclass
from decimal import Decimal, InvalidOperation
from typing import Any, NoReturn, cast

from firstlift.core.errors import FirstliftError, Problem
from firstlift.core.units import UNITS, Kind
from firstlift.core.valve import Definition, Medium

FORMAT = "firstlift-rules-1"
_KINDS = {"relative": ("relative",), "absolute": ("absolute",), "greater-of": ("relative", "absolute")}
_STATUS = ("looked-up", "computed", "memory", "common-practice")


@dataclass(frozen=True, slots=True)
class Row:
    """One step of a table: it holds up to and including ``up_to`` (None: without end), in the column's unit.

    ``kind`` is "relative", "absolute" or "greater-of"; the deviation is the same up and down.
    """

    up_to: Decimal | None
    kind: str
    relative: Decimal | None
    absolute: Decimal | None
    status: str
    confidence: str
    source: str


@dataclass(frozen=True, slots=True)
class Column:
    """The table in one unit; ``serves`` names the nameplate units it is for (empty: all)."""

    unit: str
    serves: tuple[str, ...]
    rows: tuple[Row, ...]


@dataclass(frozen=True, slots=True)
class FireRule:
    """Deviations for the narrow class of fire-case valves, as shares of set pressure."""

    minus_relative: Decimal
    plus_relative: Decimal
    clause: str
    status: str
    confidence: str
    source: str


@dataclass(frozen=True, slots=True)
class Meaning:
    """Which event the rule calls the set pressure, by medium.

    ``pop_distance_relative`` is how far, as a share of set pressure, first lift may lie below pop; it counts
    wherever pop is meant, by the rule or by the nameplate.
    """

    by_medium: Mapping[Medium, Definition]
    status: str
    confidence: str
    source: str
    pop_distance_relative: Decimal
    pop_distance_status: str


@dataclass(frozen=True, slots=True)
class RuleSet:
    """A code's tolerance on set pressure. The code "owner" has no columns: its limits stand on the job sheet."""

    code: str
    name: str
    edition: str
    clause: str
    meaning: Meaning
    columns: tuple[Column, ...] = ()
    fire: FireRule | None = None
    least_set: tuple[Decimal, str] | None = None
    greatest_set: tuple[Decimal, str] | None = None


OWNER = RuleSet(
    code="owner",
    name="owner's limits",
    edition="",
    clause="",
    meaning=Meaning(
        by_medium=dict.fromkeys(Medium, Definition.FIRST_LIFT),
        status="common-practice",
        confidence="",
        source="the moment of first lift is taken as the set pressure",
        pop_distance_relative=Decimal("0.03"),
        pop_distance_status="common-practice",
    ),
)


def parse_rule_set(text: str, *, where: str = "") -> RuleSet:
    """Read a tolerance table.

    Numbers stand as text in the file, so that break points are decimals and not binary fractions.

    Parameters
    ----------
    text : str
        TOML, format "firstlift-rules-1".
    where : str
        Said in the message: the table's name.

    Returns
    -------
    RuleSet

    Raises
    ------
    FirstliftError
        TOL-001 the table cannot be read: no TOML, a key missing or wrong, break points not rising.
    """
    try:
        data = tomllib.loads(text)
    except tomllib.TOMLDecodeError as error:
        raise _wrong(f"not TOML: {error}", where) from None
    table = _Table(data, where)
    if table.text("format") != FORMAT:
        table.fail(f"format '{table.text('format')}'", FORMAT)
    columns = tuple(_column(item) for item in table.tables("column"))
    if not columns:
        table.fail("no column", "one [[column]] or more")
    return RuleSet(
        code=table.text("code"),
        name=table.text("name"),
        edition=table.text("edition"),
        clause=table.text("clause"),
        meaning=_meaning(table.table("definition")),
        columns=columns,
        fire=_fire(table.table("fire")) if "fire" in data else None,
        least_set=table.pressure("least_set"),
        greatest_set=table.pressure("greatest_set"),
    )


def _meaning(table: _Table) -> Meaning:
    by_medium = {medium: Definition(table.one_of(str(medium), tuple(Definition))) for medium in Medium}
    return Meaning(
        by_medium=by_medium,
        status=table.one_of("status", _STATUS),
        confidence=table.text("confidence"),
        source=table.text("source"),
        pop_distance_relative=table.decimal("pop_distance_relative"),
        pop_distance_status=table.one_of("pop_distance_status", _STATUS),
    )


def _fire(table: _Table) -> FireRule:
    return FireRule(
        minus_relative=table.decimal("minus_relative"),
        plus_relative=table.decimal("plus_relative"),
        clause=table.text("clause"),
        status=table.one_of("status", _STATUS),
        confidence=table.text("confidence"),
        source=table.text("source"),
    )


def _column(table: _Table) -> Column:
    rows = tuple(_row(item) for item in table.tables("row"))
    ends = [row.up_to for row in rows]
    steps = [end for end in ends[:-1] if end is not None]
    if not rows or len(steps) != len(ends) - 1 or steps != sorted(set(steps)):
        table.fail("the break points do not rise", "rows in rising order, each but the last with up_to")
    if steps and ends[-1] is not None and ends[-1] <= steps[-1]:
        table.fail("the break points do not rise", "a last row above the others")
    serves = table.data.get("serves")
    if not isinstance(serves, list) or not all(unit in UNITS for unit in cast("list[Any]", serves)):
        table.fail(f"serves = {serves!r}", "a list of pressure units")
    return Column(table.unit("unit"), tuple(cast("list[str]", serves)), rows)


def _row(table: _Table) -> Row:
    kind = table.one_of("kind", tuple(_KINDS))
    values = {key: table.decimal(key) for key in _KINDS[kind]}
    return Row(
        up_to=table.decimal("up_to") if "up_to" in table.data else None,
        kind=kind,
        relative=values.get("relative"),
        absolute=values.get("absolute"),
        status=table.one_of("status", _STATUS),
        confidence=table.text("confidence"),
        source=table.text("source"),
    )


@dataclass(frozen=True, slots=True)
class _Table:
    """One TOML table and where it stands, for messages."""

    data: Mapping[str, Any]
    where: str

    def fail(self, what: str, needed: str) -> NoReturn:
        raise _wrong(what, self.where, needed)

    def text(self, key: str) -> str:
        value = self.data.get(key)
        if not isinstance(value, str) or not value:
            self.fail(f"{key} = {value!r}", "a text")
        return value

    def one_of(self, key: str, allowed: tuple[str, ...]) -> str:
        value = self.text(key)
        if value not in allowed:
            self.fail(f"{key} = '{value}'", f"one of {', '.join(allowed)}")
        return value

    def decimal(self, key: str) -> Decimal:
        try:
            value = Decimal(self.text(key))
        except InvalidOperation:
            self.fail(f"{key} = '{self.text(key)}'", "a decimal number of 0 or more, as text")
        if not value.is_finite() or value < 0:
            self.fail(f"{key} = '{value}'", "a decimal number of 0 or more, as text")
        return value

    def unit(self, key: str) -> str:
        symbol = self.text(key)
        if symbol not in UNITS or UNITS[symbol].kind is not Kind.PRESSURE:
            self.fail(f"{key} = '{symbol}'", "a unit of pressure")
        return symbol

    def pressure(self, key: str) -> tuple[Decimal, str] | None:
        return (self.decimal(key), self.unit(f"{key}_unit")) if key in self.data else None

    def table(self, key: str) -> _Table:
        value = self.data.get(key)
        if not isinstance(value, dict):
            self.fail(f"{key} = {value!r}", f"a table [{key}]")
        return _Table(cast("dict[str, Any]", value), f"{self.where} [{key}]")

    def tables(self, key: str) -> list[_Table]:
        value = self.data.get(key, [])
        if not isinstance(value, list) or not all(isinstance(item, dict) for item in cast("list[Any]", value)):
            self.fail(f"{key} = {value!r}", f"tables [[{key}]]")
        items = cast("list[dict[str, Any]]", value)
        return [_Table(item, f"{self.where} [[{key}]] {number}") for number, item in enumerate(items, 1)]


def _wrong(what: str, where: str, needed: str = "a tolerance table") -> FirstliftError:
    return FirstliftError(Problem("TOL-001", f"a tolerance table cannot be read: {what}", where, needed))
