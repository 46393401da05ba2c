"""The siblings of a valve that was out of order: others in use that may share its fault.

A fault seldom belongs to one valve alone. What plugs, corrodes or overheats a valve reaches all that protect the same
system; what is wrong with a make, a spring or a medium reaches all valves of that build in that medium.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable, Iterator
from typing import Any
from uuid import UUID

import sqlalchemy as sa

from firstlift.certificate.papers.facts import Hung, Sibling, Siblings
from firstlift.core.job import Purpose
from firstlift.core.register.choose import search_key
from firstlift.core.register.equipment import RegisteredValve
from firstlift.core.register.places import Position, ProtectedSystem
from firstlift.core.register.work import HowTested, ValveTest
from firstlift.store.read import Reader
from firstlift.store.tables import TABLES
from firstlift.usecases.register.lives import what_is_amiss

SHOWN = 8
# as many as a question may name on every engine
_TOGETHER = 500


def siblings_of(reader: Reader, hung: Hung, on: dt.date) -> Siblings:
    """Give the valves that may share a fault of a valve.

    Parameters
    ----------
    reader : Reader
    hung : Hung
        The valve that was out of order, where it hung.
    on : date
        Those that were in use on that day count.

    Returns
    -------
    Siblings
        Those of the same protected system first, then those that failed a test before, then those with the same
        spring; at most SHOWN.
    """
    own = hung.valve
    system = _system(reader, hung)
    found: dict[UUID, tuple[Hung, str, str]] = {}
    if system is not None:
        for other in _at_system(reader, system, on):
            found[other.valve.id] = (other, system.name, _build(hung, other))
    noted = bool(own.maker.strip() and own.model.strip())
    if noted and hung.position is not None:
        for other in _of_build(reader, own, on):
            build = _build(hung, other)
            if build and other.valve.id not in found:
                found[other.valve.id] = (other, "", build)
    found.pop(own.id, None)
    # of a long list those are shown that are worth most to know: what failed before is never among the rest
    failed = _ever_failed(reader, found)
    ranked = sorted(
        found.values(),
        key=lambda each: (not each[1], each[0].valve.id not in failed, each[2] != "spring", search_key(each[0].tag)),
    )
    shown = tuple(_sibling(reader, *each) for each in ranked[:SHOWN])
    return Siblings(shown, len(ranked) - len(shown), noted)


def _system(reader: Reader, hung: Hung) -> ProtectedSystem | None:
    system_id = None if hung.position is None else hung.position.system_id
    return None if system_id is None else reader.get(ProtectedSystem, system_id)


def _at_system(reader: Reader, system: ProtectedSystem, on: dt.date) -> Iterator[Hung]:
    places = {place.id: place for place in reader.list(Position, site_id=system.site_id, system_id=system.id)}
    for valve_id, position_id in _in_use(reader, "position_id", places, on):
        yield Hung(reader.get(RegisteredValve, valve_id), places[position_id])


def _of_build(reader: Reader, own: RegisteredValve, on: dt.date) -> Iterator[Hung]:
    same: dict[str, Any] = {
        "owner_id": own.owner_id,
        "maker_key": search_key(own.maker),
        "type": own.type,
        "active": True,
    }
    alike = {
        valve.id: valve
        for valve in reader.list(RegisteredValve, **same)
        if search_key(valve.model) == search_key(own.model)
    }
    for valve_id, position_id in _in_use(reader, "valve_id", alike, on):
        yield Hung(alike[valve_id], reader.get(Position, position_id))


def _in_use(reader: Reader, field: str, among: Iterable[UUID], on: dt.date) -> Iterator[tuple[UUID, UUID]]:
    """Give valve and position of every installation in use on a day whose field is among some identifiers."""
    table, keys = TABLES["installation"], sorted(among)
    stood = (table.c.since <= on) & (table.c.until.is_(None) | (table.c.until > on))
    for first in range(0, len(keys), _TOGETHER):
        asked = sa.select(table.c.valve_id, table.c.position_id).where(
            table.c[field].in_(keys[first : first + _TOGETHER]), stood
        )
        for row in reader.connection.execute(asked):
            yield row.valve_id, row.position_id


def _ever_failed(reader: Reader, among: Iterable[UUID]) -> set[UUID]:
    table, keys = TABLES["valve_test"], sorted(among)
    wrong = (table.c.verdict == "outside") | table.c.disposition.in_(["unfit", "inoperable"])
    failed: set[UUID] = set()
    for first in range(0, len(keys), _TOGETHER):
        asked = sa.select(table.c.valve_id).where(table.c.valve_id.in_(keys[first : first + _TOGETHER]), wrong)
        failed |= set(reader.connection.execute(asked).scalars())
    return failed


def _build(hung: Hung, other: Hung) -> str:
    """Say how far two valves are of one build in one medium: "spring", "build" or ""."""
    one, two = hung.valve, other.valve
    named = bool(one.maker.strip() and one.model.strip())
    make = [(search_key(valve.maker), search_key(valve.model), valve.type) for valve in (one, two)]
    if not named or make[0] != make[1] or _medium(hung) != _medium(other):
        return ""
    springs = [search_key(valve.spring_number) for valve in (one, two)]
    if not all(springs):
        return "build"
    return "spring" if springs[0] == springs[1] else ""


def _medium(hung: Hung) -> str:
    place = hung.position
    return "" if place is None else search_key(place.medium_name) or str(place.medium)


def _sibling(reader: Reader, hung: Hung, system: str, build: str) -> Sibling:
    tests = reader.list(ValveTest, valve_id=hung.valve.id, order=("at", "id"))
    corrected = {test.supersedes for test in tests if test.supersedes is not None}
    made = [
        test
        for test in tests
        if test.id not in corrected and test.kind is not HowTested.NOT_TESTED and test.purpose is Purpose.AS_FOUND
    ]
    last = made[-1] if made else None
    amiss = last is not None and bool(what_is_amiss(last, hung.valve.set_pressure.si))
    return Sibling(hung, system, build, last, amiss)
