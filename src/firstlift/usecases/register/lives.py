"""Tests and overhauls of a register, as rows that next dates are worked out from."""

from __future__ import annotations

import datetime as dt
import json
from uuid import UUID

import sqlalchemy as sa

from firstlift.core.errors import FirstliftError, Problem, Severity, UsageError
from firstlift.core.job import Purpose
from firstlift.core.register.codec import parse_instant
from firstlift.core.register.equipment import Installation, RegisteredValve
from firstlift.core.register.places import Position
from firstlift.core.register.work import HowTested, ValveTest
from firstlift.core.reliability.history import AsFoundState, Entry
from firstlift.core.result import DispositionOutcome, VerdictOutcome
from firstlift.core.seat.record import SeatRecord
from firstlift.core.seat.word import SeatWord, overhauls_of
from firstlift.core.units import Kind, parse_quantity
from firstlift.store.open import Store
from firstlift.store.read import Reader
from firstlift.store.tables import audit_table

GROUPINGS = ("none", "maker", "type", "medium", "unit")
_OPEN = ("stayed-open", "already-open")
_LEAK = ("leaking-before-lift",)
_NEVER = dt.datetime.max.replace(tzinfo=dt.UTC)


def rows_of_register(store: Store, *, group_by: str = "none") -> tuple[Entry, ...]:
    """Give every as-found test, installation and overhaul of the active valves of a register.

    A valve is new on the day it was first installed, and young again on the day a seat record says it was overhauled.
    Tests that were corrected count as corrected; of a day with several as-found tests the first counts.

    Parameters
    ----------
    store : Store
    group_by : str
        One of GROUPINGS: what makes a group of valves.

    Returns
    -------
    tuple of Entry

    Raises
    ------
    UsageError
        REL-012 no such grouping.
    FirstliftError
        REL-004 the register holds nothing to answer from.
    """
    if group_by not in GROUPINGS:
        raise UsageError(
            Problem("REL-012", f"'{group_by}' makes no group", "--group-by", f"one of {', '.join(GROUPINGS)}")
        )
    with store.read() as reader:
        valves = {valve.id: valve for valve in reader.stream(RegisteredValve) if valve.active}
        positions = {position.id: position for position in reader.stream(Position)}
        first, last = _installed(reader, valves)
        hangs = {key: positions.get(position) for key, position in last.items()}
        group = {key: _group(valve, hangs.get(key), group_by) for key, valve in valves.items()}
        overhauls = _overhauls(reader, valves)
        tests = _tests(reader, valves)
        stamps = _stamps(reader)
    entries: list[Entry] = []
    for key, valve in valves.items():
        marked = (*stamps.get(key, ()), (_NEVER, valve.set_pressure.si))
        entries += _of_valve(valve, marked, group[key], first.get(key), overhauls.get(key, set()), tests.get(key, {}))
    if not entries:
        raise FirstliftError(Problem("REL-004", "the register holds no test and no installation", needed="one or more"))
    return tuple(entries)


def _installed(reader: Reader, valves: dict[UUID, RegisteredValve]) -> tuple[dict[UUID, dt.date], dict[UUID, UUID]]:
    """Give the day each valve was first installed, and the position it hangs at or hung at last."""
    first: dict[UUID, dt.date] = {}
    latest: dict[UUID, tuple[dt.date, UUID]] = {}
    for installation in reader.stream(Installation):
        key = installation.valve_id
        if key in valves:
            first[key] = min(first.get(key, installation.since), installation.since)
            latest[key] = max(
                latest.get(key, (installation.since, installation.position_id)),
                (installation.since, installation.position_id),
            )
    return first, {key: position for key, (_, position) in latest.items()}


def _overhauls(reader: Reader, valves: dict[UUID, RegisteredValve]) -> dict[UUID, set[dt.date]]:
    days: dict[UUID, set[dt.date]] = {}
    for seat in reader.stream(SeatRecord):
        if seat.superseded_by_overhaul is not None and seat.valve_id in valves:
            days.setdefault(seat.valve_id, set()).add(seat.superseded_by_overhaul)
    said: dict[UUID, list[SeatWord]] = {}
    for word in reader.stream(SeatWord):
        if word.valve_id in valves:
            said.setdefault(word.valve_id, []).append(word)
    for valve_id, words in said.items():
        days.setdefault(valve_id, set()).update(overhauls_of(words))
    return days


def _tests(reader: Reader, valves: dict[UUID, RegisteredValve]) -> dict[UUID, dict[dt.date, ValveTest]]:
    """Give the as-found test of every valve and day."""
    known = [test for test in reader.stream(ValveTest) if test.valve_id in valves]
    corrected = {test.supersedes for test in known if test.supersedes is not None}
    by_day: dict[UUID, dict[dt.date, ValveTest]] = {}
    for test in sorted(known, key=lambda test: test.at):
        counts = test.purpose is Purpose.AS_FOUND and test.kind is not HowTested.NOT_TESTED
        if counts and test.id not in corrected:
            by_day.setdefault(test.valve_id, {}).setdefault(test.day, test)
    return by_day


def _stamps(reader: Reader) -> dict[UUID, tuple[tuple[dt.datetime, float], ...]]:
    """Give the set pressures that valves had before they were set anew, oldest first, each with its last instant.

    A spare is set for the place it goes to: what it opened at before belongs to the stamp it had then. The chain knows.
    """
    asked = (
        sa.select(audit_table.c.entry_id, audit_table.c.at, audit_table.c.before, audit_table.c.after)
        .where(audit_table.c.kind == "valve", audit_table.c.action == "change")
        .order_by(audit_table.c.number)
    )
    found: dict[UUID, list[tuple[dt.datetime, float]]] = {}
    for row in reader.connection.execute(asked):
        before, after = (json.loads(text)["set_pressure"] for text in (row.before, row.after))
        if before != after:
            was = parse_quantity(before, Kind.PRESSURE)
            found.setdefault(UUID(str(row.entry_id)), []).append((parse_instant(str(row.at)), was.si))
    return {key: tuple(rows) for key, rows in found.items()}


def _group(valve: RegisteredValve, position: Position | None, group_by: str) -> str:
    said = {
        "none": "all",
        "maker": valve.maker,
        "type": str(valve.type),
        "medium": "" if position is None else position.medium_name or str(position.medium),
        "unit": "" if position is None else position.unit,
    }[group_by]
    return said or "not stated"


def _of_valve(
    valve: RegisteredValve,
    stamps: tuple[tuple[dt.datetime, float], ...],
    group: str,
    installed: dt.date | None,
    overhauls: set[dt.date],
    tests: dict[dt.date, ValveTest],
) -> list[Entry]:
    days = sorted({*tests, *overhauls, *({installed} if installed is not None else set[dt.date]())})
    entries: list[Entry] = []
    for day in days:
        test = tests.get(day)
        found, ratio = (AsFoundState.NONE, None) if test is None else found_by(test, _stamp_at(stamps, test.at))
        fresh = day in overhauls or day == installed
        entries.append(Entry(row_name(valve), group, day, found, ratio, fresh, f"register, {row_name(valve)}"))
    return entries


def _stamp_at(stamps: tuple[tuple[dt.datetime, float], ...], at: dt.datetime) -> float:
    return next(set_pa for until, set_pa in stamps if at < until)


def row_name(valve: RegisteredValve) -> str:
    """Give the name that a valve has in the rows.

    Parameters
    ----------
    valve : RegisteredValve

    Returns
    -------
    str
    """
    # serials are their owner's: two owners may have the same
    return f"{valve.serial} ({str(valve.id)[:8]})"


def found_by(test: ValveTest, set_pressure_pa: float) -> tuple[AsFoundState, float | None]:
    """Say what a test found, in the words of inspection practice, with the ratio of opening to set pressure.

    Parameters
    ----------
    test : ValveTest
        As found.
    set_pressure_pa : float, [Pa gauge]
        Of the nameplate on the day of the test.

    Returns
    -------
    found : AsFoundState
    ratio : float or None
        Of the lower bound where no opening was seen.
    """
    findings = () if test.result is None else test.result.findings
    codes = {finding.code for finding in findings}
    stuck = any(finding.code == "stuck-first-pull" and finding.severity is Severity.SEVERE for finding in findings)
    opening = test.set_pressure_pa
    if opening is None and test.bench is not None:
        opening = test.bench.pop_pa
    ratio = None if opening is None else opening / set_pressure_pa
    if codes & set(_OPEN):
        return AsFoundState.STAYED_OPEN, ratio
    if stuck:
        return AsFoundState.STUCK, ratio
    if ratio is None:
        bound = None if test.lower_bound_pa is None else test.lower_bound_pa / set_pressure_pa
        return AsFoundState.LOWER_BOUND, bound
    if codes & set(_LEAK) or (test.bench is not None and test.bench.tight is False):
        return AsFoundState.LEAKED, ratio
    if test.verdict == str(VerdictOutcome.OUTSIDE):
        return (AsFoundState.HIGH if ratio > 1.0 else AsFoundState.LOW), ratio
    return AsFoundState.WITHIN, ratio


_AMISS = {
    AsFoundState.STUCK: "stuck",
    AsFoundState.STAYED_OPEN: "stayed-open",
    AsFoundState.LEAKED: "leaked",
    AsFoundState.LOWER_BOUND: "lower-bound",
}


def what_is_amiss(test: ValveTest, set_pressure_pa: float) -> str:
    """Say what a test found out of order.

    Parameters
    ----------
    test : ValveTest
    set_pressure_pa : float, [Pa gauge]
        Of the nameplate.

    Returns
    -------
    str
        "high", "low", "stuck", "stayed-open", "leaked", "lower-bound", "unfit"; empty where nothing is amiss.
    """
    state, ratio = found_by(test, set_pressure_pa)
    if state in _AMISS:
        return _AMISS[state]
    if test.verdict == VerdictOutcome.OUTSIDE and ratio is not None:
        return "high" if ratio > 1.0 else "low"
    return "unfit" if test.disposition in (DispositionOutcome.UNFIT, DispositionOutcome.INOPERABLE) else ""
