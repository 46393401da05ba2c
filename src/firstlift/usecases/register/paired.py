"""Paired bench and on-line results of the register, by rig, type of valve and team: what validates the method."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from uuid import UUID

from firstlift.core.job import Measures
from firstlift.core.register.equipment import RegisteredValve
from firstlift.core.register.people import Person
from firstlift.core.register.work import AdjustmentMade, HowTested, ValveTest
from firstlift.core.seat.paired import Agreement, PairedResult, agreements
from firstlift.core.seat.record import SeatRecord, Source
from firstlift.store.bench_tests import valves_tested_on_bench
from firstlift.store.open import Store
from firstlift.store.read import Reader

WITHIN_DAYS = 60


def paired_results(store: Store, within_days: int = WITHIN_DAYS) -> tuple[Agreement, ...]:
    """Sum up how on-line and bench results of the same valves agree.

    A bench test is paired with the pull test of its valve that lies nearest in time, with no adjustment between
    the two and not more than some days apart; each pull test serves once.

    Parameters
    ----------
    store : Store
    within_days : int, [days]
        Common practice, no source.

    Returns
    -------
    tuple of Agreement
    """
    with store.read() as reader:
        pairs = [pair for valve in valves_tested_on_bench(reader) for pair in _pairs(reader, valve, within_days)]
    return agreements(pairs)


def _pairs(reader: Reader, valve_id: UUID, within_days: int) -> list[PairedResult]:
    return [_pair(reader, pull, bench) for pull, bench in nearest_pairs(reader, valve_id, within_days)]


def nearest_pairs(reader: Reader, valve_id: UUID, within_days: int = WITHIN_DAYS) -> list[tuple[ValveTest, ValveTest]]:
    """Pair the bench tests of a valve with its pull tests.

    Parameters
    ----------
    reader : Reader
    valve_id : UUID
    within_days : int, [days]

    Returns
    -------
    list of (pull test, bench test)
        Each pull test once, with no adjustment between the two; oldest bench test first.
    """
    tests = _standing(reader.list(ValveTest, valve_id=valve_id, order=("at", "id")))
    turned = [made.at for made in reader.list(AdjustmentMade, valve_id=valve_id)]
    pulls = [test for test in tests if test.kind is HowTested.PULL]
    pairs: list[tuple[ValveTest, ValveTest]] = []
    for bench in tests:
        pull = _nearest(bench, pulls, turned, dt.timedelta(days=within_days))
        if bench.kind is HowTested.BENCH and pull is not None:
            pulls.remove(pull)
            pairs.append((pull, bench))
    return pairs


def _standing(tests: Sequence[ValveTest]) -> list[ValveTest]:
    """Leave out what a later entry corrects, and what holds no two numbers to compare."""
    gone = {test.supersedes for test in tests}
    return [test for test in tests if test.id not in gone and _numbers(test) is not None]


def _numbers(test: ValveTest) -> tuple[float, float] | None:
    """Give set pressure and its expanded uncertainty, [Pa]."""
    if test.kind is HowTested.BENCH:
        if test.bench is None or test.bench.pop_pa is None or not test.bench.u_pop_pa:
            return None
        return test.bench.pop_pa, 2.0 * test.bench.u_pop_pa
    if test.set_pressure_pa is None or not test.expanded_uncertainty_pa:
        return None
    return test.set_pressure_pa, test.expanded_uncertainty_pa


def _nearest(
    bench: ValveTest, pulls: Sequence[ValveTest], turned: Sequence[dt.datetime], reach: dt.timedelta
) -> ValveTest | None:
    near = [
        pull
        for pull in pulls
        if abs(pull.at - bench.at) <= reach
        and not any(min(pull.at, bench.at) <= at <= max(pull.at, bench.at) for at in turned)
    ]
    return min(near, key=lambda pull: (abs(pull.at - bench.at), pull.id), default=None)


def _pair(reader: Reader, pull: ValveTest, bench: ValveTest) -> PairedResult:
    on_line, on_bench = _numbers(pull), _numbers(bench)
    assert on_line is not None
    assert on_bench is not None
    cells = sorted({used.serial for used in pull.instruments if used.measures == str(Measures.PULL_FORCE)})
    people = [person for each in pull.people if (person := reader.find(Person, each)) is not None]
    valve = reader.get(RegisteredValve, pull.valve_id)
    return PairedResult(
        date=max(pull.day, bench.day),
        on_line_pa=on_line[0],
        expanded_on_line_pa=on_line[1],
        bench_pa=on_bench[0],
        expanded_bench_pa=on_bench[1],
        rig=" + ".join(cells),
        valve_type=str(valve.type),
        team=", ".join(sorted({person.organisation for person in people if person.organisation})),
        in_area=_in_area(reader, pull, bench),
    )


def _in_area(reader: Reader, pull: ValveTest, bench: ValveTest) -> bool:
    """Say whether this bench result may have gone into the area the pull was computed with."""
    record = None if pull.seat_record_id is None else reader.find(SeatRecord, pull.seat_record_id)
    return record is not None and record.source is Source.BENCH and bench.day <= record.date
