"""What a register knows around a valve: those that protect the same system, and its siblings elsewhere."""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping
from dataclasses import dataclass
from uuid import UUID

from firstlift.core.plan.system import (
    FleetValve,
    Member,
    SamplingRule,
    Sibling,
    SystemJudged,
    judge_system,
    siblings_of,
)
from firstlift.core.register.equipment import Installation, RegisteredValve
from firstlift.core.register.places import Position, ProtectedSystem
from firstlift.core.register.work import HowTested, ValveTest
from firstlift.store.open import Store
from firstlift.store.read import Reader
from firstlift.usecases.register.fill import find_by_tag


@dataclass(frozen=True, slots=True)
class Around:
    """A valve's siblings, the nearest first, how many of them the rule asks for, and its system judged.

    ``system`` is None where the register names no protected system or no maximum pressure for it.
    """

    siblings: tuple[Sibling, ...]
    wanted: int
    system: SystemJudged | None


def around_valve(
    store: Store, tag: str, on: dt.date, *, code: str, site: str = "", rule: SamplingRule | None = None
) -> Around:
    """Look around the valve that hangs at a tag on a date.

    Parameters
    ----------
    store : Store
    tag : str
    on : date
    code : str
        Rule set that judges the group.
    site : str
        Needed where several sites use the tag.
    rule : SamplingRule or None
        How many siblings are tested after a failure.

    Returns
    -------
    Around

    Raises
    ------
    FirstliftError
        REG-020 no such tag, several, or no valve there; PLN-006 a system that cannot be judged.
    """
    with store.read() as reader:
        found = find_by_tag(reader, tag, on, site=site)
        hung = _hung(reader, on)
        fleet = [_fleet_valve(valve, position) for valve, position in hung.values()]
        siblings, wanted = siblings_of(_fleet_valve(found.valve, found.position), fleet, rule)
        return Around(siblings, wanted, _system(reader, found.position, hung, code))


def _hung(reader: Reader, on: dt.date) -> Mapping[UUID, tuple[RegisteredValve, Position]]:
    """Give the valves in service on a date with their positions, by position."""
    valves = {valve.id: valve for valve in reader.stream(RegisteredValve) if valve.active}
    positions = {position.id: position for position in reader.stream(Position) if position.active}
    return {
        each.position_id: (valves[each.valve_id], positions[each.position_id])
        for each in reader.stream(Installation)
        if each.valve_id in valves
        and each.position_id in positions
        and each.since <= on
        and (each.until is None or on <= each.until)
    }


def _fleet_valve(valve: RegisteredValve, position: Position) -> FleetValve:
    service = position.medium_name or str(position.medium)
    return FleetValve(position.tag, "", valve.maker, valve.model, service)


def _system(
    reader: Reader, position: Position, hung: Mapping[UUID, tuple[RegisteredValve, Position]], code: str
) -> SystemJudged | None:
    if position.system_id is None:
        return None
    mawp = reader.get(ProtectedSystem, position.system_id).mawp or position.mawp
    if mawp is None:
        return None
    members = [
        Member(place.tag, valve.set_pressure.si, _opens_pa(reader, valve), place.fire_case)
        for valve, place in hung.values()
        if place.system_id == position.system_id
    ]
    return judge_system(members, mawp.si, code) if members else None


def _opens_pa(reader: Reader, valve: RegisteredValve) -> float | None:
    """Give what the valve was last found or left opening at, corrected tests left out."""
    tests = reader.list(ValveTest, valve_id=valve.id, order=("-at", "-id"))
    corrected = {test.supersedes for test in tests if test.supersedes is not None}
    standing = [test for test in tests if test.id not in corrected and test.kind is not HowTested.NOT_TESTED]
    return next((test.set_pressure_pa for test in standing if test.set_pressure_pa is not None), None)
