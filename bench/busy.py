"""What a register holds beside valves and tests: instruments, visits, certificates, and one valve with a long life."""

from __future__ import annotations

import dataclasses
import datetime as dt
import uuid

from firstlift.core.job import Measures, Purpose, Rules
from firstlift.core.register.codec import new_person
from firstlift.core.register.equipment import Calibration, Instrument
from firstlift.core.register.people import Person, PersonalDetails
from firstlift.core.register.places import Owner, Position, RuleChoice
from firstlift.core.register.work import (
    AdjustmentMade,
    Certificate,
    CertificateState,
    HowTested,
    SiteVisit,
    UsedInstrument,
    ValveTest,
)
from firstlift.core.seat.record import SeatRecord, Source
from firstlift.core.units import Kind, parse_quantity
from firstlift.store.open import Store
from firstlift.store.work import Work

PLANNER = uuid.UUID(int=5)
PAPER, VISIT, CELL = "MB-2026-00001", uuid.UUID(int=5_000_000), uuid.UUID(int=6_000_000)
_VISITS, _PLANNED, _INSTRUMENTS, _LONG_LIFE = 400, 40, 60, 120
_ZONE = "Europe/London"
_MEASURES = (Measures.PULL_FORCE, Measures.LINE_PRESSURE, Measures.SPINDLE_LIFT, Measures.ACOUSTIC)
_UNITS = {"pull_force": "kN", "line_pressure": "bar", "spindle_lift": "mm", "acoustic": "V"}


def add_busy_years(store: Store, valves: list[uuid.UUID], sites: list[uuid.UUID], *, at: dt.datetime) -> None:
    """Add them, through the register's own units of work.

    Parameters
    ----------
    store : Store
        With valves that have hung somewhere since 2010.
    valves, sites : list of UUID
        The first valve gets the long life; valve n hangs at site n modulo the sites. A fifth of the valves have a
        certificate, one in ten of those a draft.
    at : datetime
    """
    with store.work(at=at, who="program:bench") as work:
        work.add(new_person(Person(PLANNER, "planner"), PersonalDetails("salt", "Hob Driftwood (invented)")))
        owner = work.list(Owner)[0]
        work.add(RuleChoice(uuid.UUID(int=6), owner.id, Rules("iso-4126-1"), dt.date(2010, 1, 1)))
        _add_instruments(work)
        _add_life(work, valves[0], at)
        work.add_all(_visit(number, valves, sites) for number in range(min(_VISITS, len(valves))))
    with store.work(at=at, who="program:bench") as work:
        papers = [_paper(number, valve, at) for number, valve in enumerate(valves[: max(20, len(valves) // 5)], 1)]
        work.add_all(test for test, _ in papers)
        work.add_all(paper for _, paper in papers)


def _add_instruments(work: Work) -> None:
    for number in range(_INSTRUMENTS):
        measures = _MEASURES[number % len(_MEASURES)]
        unit = _UNITS[measures]
        cell = Instrument(uuid.UUID(int=CELL.int + number), f"B-{number:03d}", measures, unit, "invented")
        work.add(cell)
        work.add_all(
            Calibration(
                uuid.UUID(int=CELL.int + 1000 + 10 * number + year),
                cell.id,
                f"K-{number}-{year}",
                dt.date(2018 + year, 3, 1),
                dt.date(2019 + year, 3, 1) if year < 8 else dt.date(2099, 3, 1),
                unit,
                relative_standard_uncertainty=0.001,
                standard_uncertainty_si=1e-5 if measures is Measures.SPINDLE_LIFT else None,
            )
            for year in range(9)
        )


def _add_life(work: Work, valve: uuid.UUID, at: dt.datetime) -> None:
    """Add seats, adjustments and many tests to one valve, and give its position a line pressure."""
    hangs = work.get(Position, uuid.UUID(int=valve.int - 1))
    work.change(dataclasses.replace(hangs, operating_pressure=parse_quantity("20 bar", Kind.PRESSURE)))
    for number in range(_LONG_LIFE):
        day = dt.date(1996, 1, 1) + dt.timedelta(days=45 * number)
        then = dt.datetime.combine(day, dt.time(9), dt.UTC)
        test = ValveTest(
            uuid.UUID(int=7_000_000 + number), valve, HowTested.PULL, Purpose.AS_FOUND, then, _ZONE, day, hangs.id,
            verdict="within", disposition="fit", set_pressure_pa=1e6, expanded_uncertainty_pa=1e4,
            instruments=(UsedInstrument("B-000", "pull_force"), UsedInstrument("B-001", "line_pressure")),
        )  # fmt: skip
        work.add(test)
        if number % 4 == 0:
            work.add(AdjustmentMade(uuid.UUID(int=7_100_000 + number), valve, then, _ZONE, turns=0.125))
    work.add_all(
        SeatRecord(
            uuid.UUID(int=7_200_000 + year), valve, Source.MEASURED, dt.date(2016 + year, 5, 1),
            inner_diameter_m=0.029, outer_diameter_m=0.031, u_inner_m=2e-5, u_outer_m=2e-5,
            measured_with=("CAL-1",),
        )
        for year in range(8)
    )  # fmt: skip


def _visit(number: int, valves: list[uuid.UUID], sites: list[uuid.UUID]) -> SiteVisit:
    """Plan valves of one site, some of years ago and the last of this year."""
    at_site = valves[number % len(sites) :: len(sites)]
    first = number // len(sites) * _PLANNED % max(1, len(at_site))
    return SiteVisit(
        uuid.UUID(int=VISIT.int + number), sites[number % len(sites)], f"visit {number}",
        dt.date(2026, 11, 1) - dt.timedelta(days=9 * number), people=(PLANNER,),
        planned=tuple(at_site[first : first + _PLANNED]), permits=(f"PTW-{number}",),
    )  # fmt: skip


def _paper(number: int, valve: uuid.UUID, at: dt.datetime) -> tuple[ValveTest, Certificate]:
    """Give a test of this year with its certificate; tests of the first visits belong to them."""
    then = at - dt.timedelta(days=30, minutes=number)
    visit = uuid.UUID(int=VISIT.int + number - 1) if number <= 10 else None
    test = ValveTest(
        uuid.UUID(int=8_000_000 + number), valve, HowTested.PULL, Purpose.AS_FOUND, then, _ZONE, then.date(),
        uuid.UUID(int=valve.int - 1), visit, (PLANNER,), verdict="within", disposition="fit", set_pressure_pa=1e6,
        expanded_uncertainty_pa=1e4,
    )  # fmt: skip
    state = CertificateState.DRAFT if number % 10 == 0 else CertificateState.ISSUED
    paper = Certificate(
        uuid.UUID(int=9_000_000 + number), test.id, "MB-2026", number, f"MB-2026-{number:05d}", state, then, _ZONE,
        issued_at=None if state is CertificateState.DRAFT else then,
    )  # fmt: skip
    return test, paper
