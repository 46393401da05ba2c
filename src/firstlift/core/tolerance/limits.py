"""The limits a set pressure must lie between, worked out in the nameplate's own unit and decimal."""

from __future__ import annotations

from dataclasses import dataclass
from decimal import Decimal
from typing import NoReturn

from firstlift.core.errors import FirstliftError, Problem
from firstlift.core.job import OwnerLimit, OwnerLimits, Purpose
from firstlift.core.tolerance.load import Column, Row, RuleSet
from firstlift.core.units import UNITS, Quantity, to_si
from firstlift.core.valve import Definition, Medium


@dataclass(frozen=True, slots=True)
class Limits:
    """Lower and upper limit, both still allowed, with where they come from.

    ``lower`` and ``upper`` are decimals in ``unit``, the nameplate's; ``lower_pa`` and ``upper_pa`` the same
    in pascals gauge. ``definition`` says which event the rule calls the set pressure; ``pop_distance_pa``
    is how far first lift may lie below pop (0 where the definition is first lift).
    """

    lower: Decimal
    upper: Decimal
    unit: str
    lower_pa: float
    upper_pa: float
    set_pressure_pa: float
    code: str
    edition: str
    clause: str
    status: str
    confidence: str
    source: str
    definition: Definition
    definition_status: str
    pop_distance_pa: float


@dataclass(frozen=True, slots=True)
class _Deviation:
    """How far below and above set pressure is allowed, in the nameplate's unit, and who says so."""

    minus: Decimal
    plus: Decimal
    clause: str
    status: str
    confidence: str
    source: str


def find_limits(
    rule_set: RuleSet,
    set_pressure: Quantity,
    *,
    purpose: Purpose,
    fire_case: bool = False,
    owner_limits: OwnerLimits | None = None,
    medium: Medium = Medium.GAS,
    opening_definition: Definition | None = None,
) -> Limits:
    """Find the limits of a set pressure under a code.

    A table printed in two units is two tables (70 psi is not 500 kPa): the nameplate's unit says which one
    judges. Break points belong to the lower step.

    Parameters
    ----------
    rule_set : RuleSet
    set_pressure : Quantity, [pressure gauge]
        As stamped.
    purpose : Purpose
        As found or as left; only an owner's limits differ between them.
    fire_case : bool
        The narrow class that the code gives its own one-sided tolerance.
    owner_limits : OwnerLimits or None
        Needed for the code "owner", not looked at for others.
    medium : Medium
        Says which event the code calls the set pressure.
    opening_definition : Definition or None
        The nameplate's own definition; holds before the code's.

    Returns
    -------
    Limits

    Raises
    ------
    FirstliftError
        TOL-002 set pressure outside the code's range, TOL-003 an owner's limit is missing, TOL-004 the code
        has no fire case, TOL-005 limits that enclose nothing.
    """
    number, unit = set_pressure.number, set_pressure.unit
    _hold_to_range(rule_set, set_pressure)
    if rule_set.code == "owner":
        deviation = _owner_deviation(number, unit, purpose, owner_limits or OwnerLimits(), fire_case)
    elif fire_case:
        deviation = _fire_deviation(rule_set, number)
    else:
        deviation = _table_deviation(rule_set, number, unit)
    lower, upper = number - deviation.minus, number + deviation.plus
    if lower >= upper or upper <= 0:
        raise FirstliftError(
            Problem(
                "TOL-005",
                f"limits {lower} {unit} and {upper} {unit} for a set pressure of {set_pressure.text}",
                f"[rules] code = '{rule_set.code}'",
                "a lower limit below the upper one, the upper above 0",
                "Correct the limits or the set pressure",
            )
        )
    definition = opening_definition or rule_set.meaning.by_medium[medium]
    pops = definition is Definition.POP
    return Limits(
        lower=lower,
        upper=upper,
        unit=unit,
        lower_pa=to_si(float(lower), unit),
        upper_pa=to_si(float(upper), unit),
        set_pressure_pa=set_pressure.si,
        code=rule_set.code,
        edition=rule_set.edition,
        clause=deviation.clause,
        status=deviation.status,
        confidence=deviation.confidence,
        source=deviation.source,
        definition=definition,
        definition_status="nameplate" if opening_definition else rule_set.meaning.status,
        pop_distance_pa=float(rule_set.meaning.pop_distance_relative) * set_pressure.si if pops else 0.0,
    )


def convert(number: Decimal, unit: str, wanted: str) -> Decimal:
    """Turn a pressure from one unit into another, in decimals: exact where the factors are.

    Parameters
    ----------
    number : Decimal
        In ``unit``.
    unit, wanted : str
        Symbols of pressure units.

    Returns
    -------
    Decimal
        In ``wanted``.
    """
    if unit == wanted:
        return number
    return number * Decimal(repr(UNITS[unit].factor)) / Decimal(repr(UNITS[wanted].factor))


def _hold_to_range(rule_set: RuleSet, set_pressure: Quantity) -> None:
    def refuse(side: str, end: tuple[Decimal, str]) -> NoReturn:
        raise FirstliftError(
            Problem(
                "TOL-002",
                f"set pressure {set_pressure.text} is outside the range of {rule_set.code}",
                "[valve] set_pressure",
                f"{side} {end[0]} {end[1]}",
                "Name the code on the nameplate, or give the owner's limits with code = 'owner'",
            )
        )

    if set_pressure.number <= 0:
        refuse("above", (Decimal(0), set_pressure.unit))
    least, greatest = rule_set.least_set, rule_set.greatest_set
    if least and convert(set_pressure.number, set_pressure.unit, least[1]) < least[0]:
        refuse("at least", least)
    if greatest and convert(set_pressure.number, set_pressure.unit, greatest[1]) > greatest[0]:
        refuse("at most", greatest)


def _table_deviation(rule_set: RuleSet, number: Decimal, unit: str) -> _Deviation:
    column = next((c for c in rule_set.columns if unit in c.serves), rule_set.columns[0])
    row = _find_row(column, convert(number, unit, column.unit))
    offered: list[Decimal] = []
    if row.relative is not None:
        offered.append(row.relative * number)
    if row.absolute is not None:
        offered.append(convert(row.absolute, column.unit, unit))
    width = max(offered)
    return _Deviation(width, width, rule_set.clause, row.status, row.confidence, row.source)


def _find_row(column: Column, number: Decimal) -> Row:
    # The last row has no end, or the rule set's greatest set pressure has already refused what lies above it.
    return next((row for row in column.rows if row.up_to is None or number <= row.up_to), column.rows[-1])


def _fire_deviation(rule_set: RuleSet, number: Decimal) -> _Deviation:
    fire = rule_set.fire
    if fire is None:
        raise FirstliftError(
            Problem(
                "TOL-004",
                f"{rule_set.code} has no tolerance of its own for fire-case valves",
                "[valve] fire_case",
                "a code that has one: asme-xiii or asme-viii-1",
                "Take fire_case out, or name the paragraph's code",
            )
        )
    minus, plus = fire.minus_relative * number, fire.plus_relative * number
    return _Deviation(minus, plus, fire.clause, fire.status, fire.confidence, fire.source)


def _owner_deviation(number: Decimal, unit: str, purpose: Purpose, owner: OwnerLimits, fire_case: bool) -> _Deviation:
    if fire_case:
        raise FirstliftError(
            Problem(
                "TOL-004",
                "the owner's limits have no tolerance of their own for fire-case valves",
                "[valve] fire_case",
                "the limits themselves",
                "Take fire_case out and give the owner's one-sided limits",
            )
        )
    found = purpose is Purpose.AS_FOUND
    sides = {
        "lower": owner.as_found_lower if found else owner.as_left_lower,
        "upper": owner.as_found_upper if found else owner.as_left_upper,
    }
    prefix = "as_found" if found else "as_left"
    missing = [
        Problem(
            "TOL-003",
            f"the owner's {side} limit {purpose} is missing",
            f"[rules] {prefix}_{side}",
            "a share of set pressure or a pressure, such as '-3 %' or '9.7 bar'",
            "Add it to the job sheet",
        )
        for side, limit in sides.items()
        if limit is None
    ]
    if missing:
        raise FirstliftError(missing)
    lower, upper = (_owner_limit(limit, number) for limit in sides.values() if limit is not None)
    source = f"[rules] {prefix}_lower, {prefix}_upper"
    return _Deviation(number - lower, upper - number, "owner's limits", "owner", "", source)


def _owner_limit(limit: OwnerLimit, number: Decimal) -> Decimal:
    if limit.relative is not None:
        return number + limit.relative * number
    absolute = limit.absolute if limit.absolute is not None else Decimal(0)
    return number + absolute if limit.is_deviation else absolute
