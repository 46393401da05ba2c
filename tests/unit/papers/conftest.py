"""A small register made by hand: one visit, a valve for every kind of page; invented."""

import datetime as dt
import uuid

import pytest

from firstlift.core.errors import Severity
from firstlift.core.job import Measures, Purpose, Rules
from firstlift.core.register.codec import new_person
from firstlift.core.register.equipment import Calibration, Installation, Instrument, RegisteredValve, UseCheck, When
from firstlift.core.register.people import Person, PersonalDetails
from firstlift.core.register.places import Owner, Position, RuleChoice, Site
from firstlift.core.register.work import (
    AdjustmentMade,
    HoldPoint,
    HowTested,
    SiteVisit,
    UsedInstrument,
    ValveTest,
    WhyNot,
)
from firstlift.core.result import (
    AsFound,
    Disposition,
    DispositionOutcome,
    FindingText,
    MethodRef,
    Outcome,
    Pull,
    PullOutcome,
    RecordingRef,
    Result,
    Verdict,
    VerdictOutcome,
)
from firstlift.core.seat.record import SeatRecord, Source
from firstlift.core.units import Kind, parse_quantity
from firstlift.core.valve import Medium, ValveType
from firstlift.store.open import create_store, open_store

DAY = dt.date(2026, 5, 12)
AT = dt.datetime(2026, 5, 12, 8, 0, tzinfo=dt.UTC)
ZONE = "Europe/Berlin"
SET_PA = 1e6
BAR = 1e5


def key(number):
    return uuid.UUID(int=number)


def pressure(text):
    return parse_quantity(text, Kind.PRESSURE)


def make_result(found_pa, outcome, *, findings=(), tag="PSV-1"):
    return Result(
        Outcome.MEASURED, None, tag, "as-found", MethodRef("m", {}), RecordingRef("0" * 64, 100, 1.0),
        (Pull(1, PullOutcome.MEASURED, 0.0, 1.0, 0.5, 0.001, None, 8 * BAR, 120.0, found_pa, 0.1 * BAR),),
        AsFound(1, PullOutcome.MEASURED, found_pa, None, 0.1 * BAR, 2.0, 0.95), None, None,
        Verdict((1,), "iso-4126-1", "2013", "7", "memory", "first-lift", 9.7 * BAR, 10.3 * BAR, "guarded", 0.95, 0.5,
                outcome),
        Disposition(DispositionOutcome.FIT if outcome is VerdictOutcome.WITHIN else DispositionOutcome.UNFIT, ()),
        tuple(findings), (),
    )  # fmt: skip


def make_test(number, valve, found_bar, outcome, *, purpose=Purpose.AS_FOUND, minutes=0, findings=()):
    result = make_result(found_bar * BAR, outcome, findings=findings)
    return ValveTest(
        key(number), valve, HowTested.PULL, purpose, AT + dt.timedelta(minutes=minutes), ZONE, DAY, visit_id=key(500),
        people=(key(10),), verdict=str(outcome), disposition=str(result.disposition.outcome),
        set_pressure_pa=found_bar * BAR, expanded_uncertainty_pa=0.1 * BAR,
        instruments=(UsedInstrument("LC-1", "pull_force"),), result=result,
    )  # fmt: skip


def tools():
    kinds = [("LC-1", Measures.PULL_FORCE, "N", 5000.0), ("PG-1", Measures.LINE_PRESSURE, "bar", 40 * BAR)]
    kinds += [("LV-1", Measures.SPINDLE_LIFT, "mm", 0.005)]
    for number, (serial, measures, unit, capacity) in enumerate(kinds, start=30):
        yield Instrument(key(number), serial, measures, unit, "Maker D", "type 1", capacity)
        yield Calibration(
            key(number + 10), key(number), f"K{number}", dt.date(2026, 1, 2), dt.date(2027, 1, 2), unit,
            relative_standard_uncertainty=0.002, standard_uncertainty_si=0.0,
        )  # fmt: skip


def valves(serial="SN-{}"):
    for number in range(1, 6):
        yield RegisteredValve(
            key(100 + number), key(1), serial.format(number), pressure("10 bar"), ValveType.CONVENTIONAL, "Maker A",
            "type 7", "DN25", "DN40", max_pull_n=4000.0,
        )  # fmt: skip
        yield Position(
            key(200 + number),
            key(2),
            f"PSV-{number}",
            Medium.STEAM,
            "boiler house",
            f"drum V-{number}",
            operating_pressure=None if number == 5 else pressure("8 bar"),
        )
        yield Installation(key(300 + number), key(100 + number), key(200 + number), dt.date(2024, 1, 1))
        yield SeatRecord(
            key(400 + number), key(100 + number), Source.MAKER, dt.date(2024, 1, 1), reference="sheet 7",
            area_m2=5e-4, u_area_m2=5e-6,
        )  # fmt: skip


def work_done():
    said = FindingText("stuck-first-pull", Severity.SEVERE, 1, {}, "The first pull needed more.", "Take it apart.")
    yield make_test(601, key(101), 10.05, VerdictOutcome.WITHIN)
    yield make_test(602, key(102), 10.9, VerdictOutcome.OUTSIDE)
    yield AdjustmentMade(
        key(702), key(102), AT + dt.timedelta(minutes=20), ZONE, key(500), key(10), -0.25, 0.03, 0.0304,
        seals_before=("L1",), seals_after=("L2",),
    )  # fmt: skip
    yield make_test(603, key(102), 10.02, VerdictOutcome.WITHIN, purpose=Purpose.AS_LEFT, minutes=40)
    yield make_test(604, key(103), 11.4, VerdictOutcome.OUTSIDE, findings=(said,))
    yield ValveTest(
        key(605), key(104), HowTested.NOT_TESTED, Purpose.AS_FOUND, AT, ZONE, DAY, visit_id=key(500),
        not_tested=WhyNot.NO_ACCESS, note="scaffold missing",
    )  # fmt: skip
    yield UseCheck(key(801), key(30), When.BEFORE, AT, ZONE, 2000.0, 2003.0, 30.0, key(500))
    yield HoldPoint(key(901), key(500), "first-valve", AT, ZONE, True, person_id=key(10), witness_id=key(11))


def fill(place, *, serial="SN-{}", owner="Marrow Bay Energy", edit=lambda entry: entry):
    """Make the register; the visit plans five valves and tests three. Every entry passes through ``edit``."""
    store = create_store(place, store_id=key(1000), at=AT)
    people = [
        new_person(Person(key(10 + number), "technician"), PersonalDetails("salt", name))
        for number, name in enumerate(("Ada Tester", "Ben Witness"))
    ]
    visit = SiteVisit(
        key(500), key(2), "May round", DAY, DAY + dt.timedelta(days=1), (key(10),), tuple(map(key, range(101, 106))),
        ("PTW-1",), (key(10),), accepted_for_verifying=True,
    )  # fmt: skip
    with store.work(at=AT, who="program:test") as work:
        places = [Owner(key(1), owner), *people, Site(key(2), key(1), "Tern Street works", ZONE)]
        rules = RuleChoice(key(3), key(1), Rules("iso-4126-1"), dt.date(2024, 1, 1))
        for entry in (*places, rules, *tools(), *valves(serial), visit, *work_done()):
            work.add(edit(entry))
    store.close()


@pytest.fixture(scope="session")
def place(tmp_path_factory):
    where = tmp_path_factory.mktemp("papers") / "register"
    fill(where)
    return where


@pytest.fixture
def store(place):
    store = open_store(place)
    yield store
    store.close()
