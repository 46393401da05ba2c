"""``firstlift register seat tests`` and ``again``: kept tests computed again with the seat record in force."""

from __future__ import annotations

import argparse
import json
from typing import Any
from uuid import UUID

from firstlift.cli.show import prints_unicode, show
from firstlift.core.errors import Problem, UsageError
from firstlift.core.register.equipment import RegisteredValve
from firstlift.core.register.work import ValveTest
from firstlift.core.seat.record import SeatRecord, seat_of
from firstlift.core.valve import Seat
from firstlift.store.open import Store
from firstlift.usecases.register.analyse import judged_value
from firstlift.usecases.register.entries import find_entry
from firstlift.usecases.register.place import opened
from firstlift.usecases.register.seat_again import (
    OffSeat,
    SeatAgain,
    all_off_seat,
    compute_with_seat_in_force,
    keep_with_seat_in_force,
)
from firstlift.usecases.register.seats import find_valve
from firstlift.usecases.register.who import who_of
from firstlift.words.numbers import format_pressure, format_short
from firstlift.words.seat import SOURCES, say_choice, say_reason


def run(arguments: argparse.Namespace) -> int:
    """Run the command.

    Parameters
    ----------
    arguments : argparse.Namespace

    Returns
    -------
    int
        ``tests``: 1 where there are such tests. ``again``: 1 where the verdict is another one and nothing was kept.
        Else 0.
    """
    with opened(arguments.store) as store:
        return _list(store, arguments) if arguments.act == "tests" else _again(store, arguments)


def _list(store: Store, arguments: argparse.Namespace) -> int:
    with store.read() as reader:
        valve = find_valve(reader, arguments.valve)
        found = all_off_seat(reader, valve.id)
    if arguments.json:
        _print({"format": "firstlift-seat-tests-1", "valve": valve.serial, "tests": [_plain_off(one) for one in found]})
        return 1 if found else 0
    unit = valve.set_pressure.unit
    for one in found:
        test = one.test
        value = _value(test.set_pressure_pa, test.expanded_uncertainty_pa, test.lower_bound_pa, unit)
        show(f"{test.day}  {test.purpose}  test {test.id}  {value}, {test.verdict or 'not judged'}")
        show(f"          rests on {_record(one.rests_on)}: {say_reason(one.reason)}")
        if one.in_force is None:
            show("          no seat record serves on that day: enter one first")
        else:
            show(f"          in force for that day {_record(one.in_force)}")
        if not one.kept:
            show("          it keeps no recording to compute from")
    show(f"valve {valve.serial}: {len(found)} tests rest on another seat record than the one in force for their day")
    return 1 if found else 0


def _again(store: Store, arguments: argparse.Namespace) -> int:
    if not arguments.keep and (arguments.why or arguments.despite_certificate):
        raise UsageError(Problem("SEA-021", "--why and --despite-certificate go with --keep", needed="--keep"))
    with store.read() as reader:
        test: ValveTest = find_entry(reader, "valve_test", arguments.test)
        unit = reader.get(RegisteredValve, test.valve_id).set_pressure.unit
        again = compute_with_seat_in_force(reader, test.id)
    made = _keep(store, again, arguments) if arguments.keep else None
    if arguments.json:
        _print(_plain(again, made))
    else:
        _tell(again, unit)
        if made is not None:
            show(f"kept test {made.id}, which corrects {test.id}")
        _tell_papers(again, kept=made is not None)
    return 1 if made is None and _verdict(again) != test.verdict else 0


def _keep(store: Store, again: SeatAgain, arguments: argparse.Namespace) -> ValveTest:
    who = who_of(store, arguments.by)
    if who.startswith("program:"):
        raise UsageError(
            Problem("SEA-021", "a test is corrected by nobody", "--by", "a person of the register: it is kept for ever")
        )
    return keep_with_seat_in_force(
        store,
        again.test.id,
        arguments.why,
        by=UUID(who),
        seen=again.in_force.id,
        despite_certificate=arguments.despite_certificate,
    )


def _tell(again: SeatAgain, unit: str) -> None:
    test = again.test
    show(f"test {test.id} of {test.day}, {test.purpose}")
    if again.wrong is not None:
        show(f"its seat record was found to be wrong: {again.wrong.note}")
    now = judged_value(again.result)
    rows = [
        ("", "as it stands", "with the record in force"),
        ("seat record", _named(again.rests_on), _named(again.in_force)),
        ("seat area", _area(again.before), _area(again.after)),
        (
            "set pressure",
            _value(test.set_pressure_pa, test.expanded_uncertainty_pa, test.lower_bound_pa, unit),
            _value(*now, unit),
        ),
        ("verdict", test.verdict or "not judged", _verdict(again) or "not judged"),
        ("disposition", test.disposition or "none", str(again.result.disposition.outcome)),
    ]
    width = max(len(row[1]) for row in rows)
    for name, before, after in rows:
        show(f"{name:<14}{before:<{width}}   {after}")
    for line in say_choice(again.choice):
        show(line)


def _tell_papers(again: SeatAgain, *, kept: bool) -> None:
    for paper in again.drafts:
        show(f"draft {paper.text} {'was' if kept else 'would be'} withdrawn")
    for paper in again.issued:
        show(f"certificate {paper.text} is issued and stands: it must be superseded or withdrawn")


def _plain(again: SeatAgain, made: ValveTest | None) -> dict[str, Any]:
    test = again.test
    before = (test.set_pressure_pa, test.expanded_uncertainty_pa, test.lower_bound_pa)
    return {
        "format": "firstlift-seat-again-1",
        "test": str(test.id),
        "before": _side(again.rests_on, again.before, before, test.verdict, test.disposition),
        "after": _side(
            again.in_force,
            again.after,
            judged_value(again.result),
            _verdict(again),
            str(again.result.disposition.outcome),
        ),
        "issued": [paper.text for paper in again.issued],
        "drafts": [paper.text for paper in again.drafts],
        "kept": None if made is None else str(made.id),
    }


def _side(
    record: SeatRecord, seat: Seat, value: tuple[float | None, float | None, float | None], verdict: str, fit: str
) -> dict[str, Any]:
    return {
        "seat_record": str(record.id),
        "area_m2": seat.area_m2,
        "standard_uncertainty_m2": seat.standard_uncertainty_m2,
        "set_pressure_pa": value[0],
        "expanded_uncertainty_pa": value[1],
        "lower_bound_pa": value[2],
        "verdict": verdict,
        "disposition": fit,
    }


def _plain_off(one: OffSeat) -> dict[str, Any]:
    return {
        "test": str(one.test.id),
        "day": one.test.day.isoformat(),
        "purpose": str(one.test.purpose),
        "set_pressure_pa": one.test.set_pressure_pa,
        "verdict": one.test.verdict,
        "rests_on": str(one.rests_on.id),
        "in_force": None if one.in_force is None else str(one.in_force.id),
        "reason": {"code": one.reason.code, "parameters": dict(one.reason.parameters)},
        "recording_kept": one.kept,
    }


def _print(plain: dict[str, Any]) -> None:
    show(json.dumps(plain, ensure_ascii=not prints_unicode(), allow_nan=False))


def _verdict(again: SeatAgain) -> str:
    return "" if again.result.verdict is None else str(again.result.verdict.outcome)


def _named(record: SeatRecord) -> str:
    return f"{record.date.isoformat()}, {SOURCES[str(record.source)]}"


def _record(record: SeatRecord) -> str:
    return f"{_area(seat_of(record))} of {_named(record)}"


def _area(seat: Seat) -> str:
    return format_short(seat.area_m2, "mm2", digits=5)


def _value(pa: float | None, u_pa: float | None, least_pa: float | None, unit: str) -> str:
    if pa is not None:
        return format_pressure(pa, unit, u_pa)
    return "no set pressure" if least_pa is None else f"above {format_pressure(least_pa, unit)}"
