"""The pocket calculation: a pull read off by hand becomes the same result, with one pull and no times."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass

from firstlift.core.errors import Problem, UsageError
from firstlift.core.job import Decision, Purpose
from firstlift.core.judgement import Reading, dispose, judge_reading
from firstlift.core.measure import pull_by_hand
from firstlift.core.result import (
    AsFound,
    MethodRef,
    Outcome,
    Pull,
    PullOutcome,
    RecordingRef,
    Result,
)
from firstlift.core.tolerance.limits import find_limits
from firstlift.core.units import Kind, Quantity, parse_quantity
from firstlift.core.valve import Medium, Seat, circle_area_m2
from firstlift.formats.rulesets import read_rule_set


@dataclass(frozen=True, slots=True)
class ByHand:
    """What a person read off: texts with units, as typed; None where nothing was given."""

    line: str
    pull: str
    set_pressure: str
    code: str
    seat_diameter: str | None = None
    seat_area: str | None = None
    u_line: str | None = None
    u_pull: str | None = None
    u_seat: str | None = None
    medium: str = "gas"
    decision: str = "guarded"
    probability: float = 0.95


# a gauge and a cell read off by hand, where nothing better is stated: half a per cent each of the reading, and a seat
# diameter good to 0.3 % (field error sizes, common practice, no source); always shown in the budget as assumed
_ASSUMED = {"line": 0.005, "pull": 0.005, "seat": 0.003}


def calculate(hand: ByHand) -> Result:
    """Calculate a set pressure from a pull read off by hand.

    Parameters
    ----------
    hand : ByHand

    Returns
    -------
    Result
        Of the same form as an analysed recording, with one pull and no times.

    Raises
    ------
    UsageError
        A value cannot be read or makes no sense; QCK-001, QCK-002.
    """
    line = _read(hand.line, Kind.PRESSURE, "--line", least=0.0)
    pull = _read(hand.pull, Kind.FORCE, "--pull", least=0.0)
    stamped = _read(hand.set_pressure, Kind.PRESSURE, "--set", least=0.0, above=True)
    seat = _seat(hand)
    rule_set = read_rule_set(hand.code, where="--code")
    medium = Medium(hand.medium)
    limits = find_limits(rule_set, stamped, purpose=Purpose.AS_FOUND, medium=medium)
    u_line = _uncertainty(hand.u_line, Kind.PRESSURE, "--line-uncertainty", line.si, _ASSUMED["line"])
    u_pull = _uncertainty(hand.u_pull, Kind.FORCE, "--pull-uncertainty", pull.si, _ASSUMED["pull"])
    pressure, budget = pull_by_hand(line.si, u_line, pull.si, u_pull, seat)
    reading = Reading(1, PullOutcome.MEASURED, pressure, budget, None)
    verdict = judge_reading(reading, limits, Decision(hand.decision), hand.probability)
    return Result(
        outcome=Outcome.MEASURED,
        reason=None,
        tag="",
        purpose=str(Purpose.AS_FOUND),
        method=MethodRef("by-hand-1", {"coverage_probability": budget.coverage_probability}),
        recording=RecordingRef("", 0, 0.0),
        pulls=(
            Pull(
                number=1,
                outcome=PullOutcome.MEASURED,
                start_s=None,
                end_s=None,
                line_pressure_pa=line.si,
                pull_force_n=pull.si,
                set_pressure_pa=pressure,
                expanded_uncertainty_pa=budget.expanded_uncertainty_pa,
            ),
        ),
        as_found=AsFound(
            1,
            PullOutcome.MEASURED,
            pressure,
            None,
            budget.expanded_uncertainty_pa,
            budget.coverage_factor,
            budget.coverage_probability,
        ),
        as_left=None,
        mean=None,
        verdict=verdict,
        disposition=dispose(verdict, (), None),
        findings=(),
        budget=budget.lines,
    )


def _read(text: str, kind: Kind, where: str, *, least: float, above: bool = False) -> Quantity:
    from firstlift.core.errors import FirstliftError

    try:
        quantity = parse_quantity(text, kind, where=where)
    except FirstliftError as error:
        raise UsageError(error.problems) from error
    if quantity.si < least or (above and quantity.si <= least):
        need = "a value above 0" if above else "0 or more"
        raise UsageError(Problem("QCK-001", f"'{text}' is below what is possible", where, need))
    return quantity


def _seat(hand: ByHand) -> Seat:
    if (hand.seat_diameter is None) == (hand.seat_area is None):
        raise UsageError(
            Problem("QCK-002", "the seat is not given once", "--seat-diameter, --seat-area", "exactly one of the two")
        )
    if hand.seat_diameter is not None:
        diameter = _read(hand.seat_diameter, Kind.LENGTH, "--seat-diameter", least=0.0, above=True).si
        u = _uncertainty(hand.u_seat, Kind.LENGTH, "--seat-uncertainty", diameter, _ASSUMED["seat"])
        return Seat(circle_area_m2(diameter), math.pi / 2.0 * diameter * u, 0.0, "by hand", hand.seat_diameter)
    area = _read(hand.seat_area or "", Kind.AREA, "--seat-area", least=0.0, above=True).si
    u = _uncertainty(hand.u_seat, Kind.AREA, "--seat-uncertainty", area, 2.0 * _ASSUMED["seat"])
    return Seat(area, u, 0.0, "by hand", hand.seat_area or "")


def _uncertainty(text: str | None, kind: Kind, where: str, value: float, assumed: float) -> float:
    if text is None:
        return assumed * abs(value)
    if "%" in text:
        return _read(text, Kind.RATIO, where, least=0.0).si * abs(value)
    return _read(text, kind, where, least=0.0).si


def assumed(hand: ByHand) -> Mapping[str, float]:
    """Name the relative uncertainties that were assumed because none was stated.

    Parameters
    ----------
    hand : ByHand

    Returns
    -------
    mapping of str to float
    """
    given = {"line": hand.u_line, "pull": hand.u_pull, "seat": hand.u_seat}
    return {name: share for name, share in _ASSUMED.items() if given[name] is None}
