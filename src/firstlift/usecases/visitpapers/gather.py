"""Gather what a visit's papers need from the register: who, which valves, what was done at them."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable, Sequence
from uuid import UUID

from firstlift.certificate.papers.facts import Hung, Released, Tested, Tool, UseChecked, VisitFacts
from firstlift.certificate.papers.parts import is_invented
from firstlift.core.errors import FirstliftError, Problem
from firstlift.core.job import Measures
from firstlift.core.register.choose import search_key
from firstlift.core.register.equipment import Installation, Instrument, RegisteredValve, UseCheck
from firstlift.core.register.people import Person
from firstlift.core.register.places import Owner, Position, Site
from firstlift.core.register.work import (
    AdjustmentMade,
    Certificate,
    CertificateState,
    HoldPoint,
    HowTested,
    SiteVisit,
    ValveTest,
)
from firstlift.store.read import Reader
from firstlift.usecases.papers.find import name_of
from firstlift.usecases.register.fill import calibration_of

_NEEDED = (Measures.PULL_FORCE, Measures.LINE_PRESSURE, Measures.SPINDLE_LIFT, Measures.ACOUSTIC)


def visit_by(reader: Reader, name: str) -> VisitFacts:
    """Find a visit.

    Parameters
    ----------
    reader : Reader
    name : str
        Its name or identifier.

    Returns
    -------
    VisitFacts

    Raises
    ------
    FirstliftError
        PAP-003 there is none, or several.
    """
    try:
        return facts_of(reader, reader.get(SiteVisit, UUID(name)))
    except ValueError:
        found = [one for one in reader.stream(SiteVisit) if search_key(one.name) == search_key(name)]
    if len(found) != 1:
        many = f"{len(found)} visits are" if found else "no visit is"
        raise FirstliftError(
            Problem("PAP-003", f"{many} called '{name[:60]}' in the register", "--visit", "a name or an identifier",
                    "List them: firstlift register list visit")
        )  # fmt: skip
    return facts_of(reader, found[0])


def facts_of(reader: Reader, visit: SiteVisit) -> VisitFacts:
    """Give a visit with its places and people by name.

    Parameters
    ----------
    reader : Reader
    visit : SiteVisit

    Returns
    -------
    VisitFacts
    """
    site = reader.get(Site, visit.site_id)
    owner = reader.get(Owner, site.owner_id)
    return VisitFacts(
        visit, site, owner, names_of(reader, visit.people), names_of(reader, visit.seal_breakers), is_invented(owner)
    )


def names_of(reader: Reader, people: Iterable[UUID]) -> tuple[str, ...]:
    """Give people's names.

    Parameters
    ----------
    reader : Reader
    people : iterable of UUID

    Returns
    -------
    tuple of str
    """
    return tuple(name_of(reader.find(Person, person)) for person in people)


def hung_on(reader: Reader, valve_id: UUID, on: dt.date) -> Hung:
    """Give a valve where it hung on a day.

    Parameters
    ----------
    reader : Reader
    valve_id : UUID
    on : date

    Returns
    -------
    Hung
    """
    valve = reader.get(RegisteredValve, valve_id)
    for one in reader.list(Installation, valve_id=valve_id, order=("-since", "-id")):
        if one.since <= on and (one.until is None or on <= one.until):
            return Hung(valve, reader.get(Position, one.position_id))
    return Hung(valve, None)


def valves_of_visit(reader: Reader, facts: VisitFacts, wanted: Sequence[str] = ()) -> list[Hung]:
    """Give the valves of a visit: those planned, in their order, then others that were tested.

    Parameters
    ----------
    reader : Reader
    facts : VisitFacts
    wanted : sequence of str
        Tags or serials; empty for all.

    Returns
    -------
    list of Hung

    Raises
    ------
    FirstliftError
        PAP-001 the visit has no valve, or not the one that was named.
    """
    visit = facts.visit
    tested = [test.valve_id for test in reader.list(ValveTest, visit_id=visit.id, order=("at", "id"))]
    hung = [hung_on(reader, valve_id, visit.start) for valve_id in dict.fromkeys((*visit.planned, *tested))]
    if not hung:
        raise _no_valve(f"the visit '{visit.name}' plans no valve and holds no test", "a valve in its plan")
    if not wanted:
        return hung
    chosen: list[Hung] = []
    for name in dict.fromkeys(map(search_key, wanted)):
        found = [one for one in hung if name in (search_key(one.tag), search_key(one.valve.serial))]
        if not found:
            raise _no_valve(f"'{name[:60]}' is no valve of the visit '{visit.name}'", "a tag or serial of its valves")
        chosen += found
    return chosen


def _no_valve(what: str, needed: str) -> FirstliftError:
    return FirstliftError(Problem("PAP-001", what, "--visit, --valve", needed, "Plan it into the visit first"))


def tools_in_date(reader: Reader, on: dt.date) -> list[Tool]:
    """Give the instruments in use with their calibration in force on a day, by serial.

    Parameters
    ----------
    reader : Reader
    on : date

    Returns
    -------
    list of Tool
        Those that are overdue or have no calibration as well.
    """
    found = reader.list(Instrument, order=("serial_key",), active=True)
    return [Tool(one, calibration_of(reader, one, on)) for one in found]


def usual_tools(reader: Reader, valve_id: UUID, tools: Sequence[Tool], on: dt.date) -> tuple[Tool, ...]:
    """Give the instruments for a valve: those of its last pull test, else one of each kind; in date all.

    Parameters
    ----------
    reader : Reader
    valve_id : UUID
    tools : sequence of Tool
    on : date

    Returns
    -------
    tuple of Tool
    """
    ready = [tool for tool in tools if tool.calibration is not None and tool.calibration.due >= on]
    before = [
        test
        for test in reader.list(ValveTest, valve_id=valve_id, order=("-at",))
        if test.kind is HowTested.PULL and test.day < on
    ]
    used = {one.serial for test in before[:1] for one in test.instruments}
    again = tuple(tool for tool in ready if tool.instrument.serial in used)
    if again:
        return again
    first = {tool.instrument.measures: tool for tool in reversed(ready)}
    return tuple(first[measures] for measures in _NEEDED if measures in first)


def last_tested(reader: Reader, valve_id: UUID, on: dt.date) -> ValveTest | None:
    """Give the last test before a day, since the valve was hung where it hangs.

    Parameters
    ----------
    reader : Reader
    valve_id : UUID
    on : date

    Returns
    -------
    ValveTest or None
        An older one tells nothing: a spare may have been set to another pressure since.
    """
    hung = [i.since for i in reader.list(Installation, valve_id=valve_id) if i.since <= on]
    since = max(hung, default=on)
    tests = _standing(reader.list(ValveTest, valve_id=valve_id, order=("at", "id")))
    made = [test for test in tests if test.kind is not HowTested.NOT_TESTED and since <= test.day < on]
    return made[-1] if made else None


def _standing(tests: Sequence[ValveTest]) -> list[ValveTest]:
    corrected = {test.supersedes for test in tests if test.supersedes is not None}
    return [test for test in tests if test.id not in corrected]


def tested_at(reader: Reader, facts: VisitFacts, hung: Hung) -> Tested:
    """Give what a visit did at a valve.

    Parameters
    ----------
    reader : Reader
    facts : VisitFacts
    hung : Hung

    Returns
    -------
    Tested
    """
    visit_id, valve_id = facts.visit.id, hung.valve.id
    every = _standing(reader.list(ValveTest, valve_id=valve_id, order=("at", "id")))
    tests = tuple(test for test in every if test.visit_id == visit_id)
    made = reader.list(AdjustmentMade, valve_id=valve_id, visit_id=visit_id, order=("at", "id"))
    papers = {str(test.id): paper for test in tests if (paper := _paper(reader, test))}
    return Tested(hung, tests, tuple(made), papers)


def _paper(reader: Reader, test: ValveTest) -> str:
    issued = [one for one in reader.list(Certificate, test_id=test.id) if one.state is CertificateState.ISSUED]
    return issued[-1].text if issued else ""


def checks_of(reader: Reader, facts: VisitFacts) -> list[UseChecked]:
    """Give a visit's checks of instruments, in their order."""
    checks = reader.list(UseCheck, visit_id=facts.visit.id, order=("at", "id"))
    return [UseChecked(reader.get(Instrument, check.instrument_id), check) for check in checks]


def released_in(reader: Reader, facts: VisitFacts) -> list[Released]:
    """Give a visit's hold points with names, in their order."""
    points = reader.list(HoldPoint, visit_id=facts.visit.id, order=("at", "id"))
    return [Released(p, *(name_of(_person(reader, who)) for who in (p.person_id, p.witness_id))) for p in points]


def _person(reader: Reader, person_id: UUID | None) -> Person | None:
    return None if person_id is None else reader.find(Person, person_id)
