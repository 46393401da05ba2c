"""Pairs of on-line and bench results, found in a register."""

import dataclasses
import datetime as dt
import uuid

import pytest

from firstlift.core.job import Purpose
from firstlift.core.register.equipment import RegisteredValve
from firstlift.core.register.people import Person
from firstlift.core.register.places import Owner
from firstlift.core.register.work import AdjustmentMade, BenchMedium, BenchReading, HowTested, UsedInstrument, ValveTest
from firstlift.core.seat.record import SeatRecord, Source, Tie
from firstlift.core.units import Kind, parse_quantity
from firstlift.store.open import create_store
from firstlift.usecases.register.paired import paired_results

AT = dt.datetime(2026, 6, 2, 8, 30, tzinfo=dt.UTC)


def ident(number):
    return uuid.UUID(int=number)


def on(number, kind, day, **more):
    at = AT + dt.timedelta(days=day)
    return ValveTest(ident(number), ident(2), kind, Purpose.AS_FOUND, at, "UTC", at.date(), **more)


def pull(number, day, pressure=10.1e5, cell="C1", **more):
    more = {"set_pressure_pa": pressure, "expanded_uncertainty_pa": 0.12e5} | more
    used = (UsedInstrument(cell, "pull_force"), UsedInstrument("G1", "line_pressure"))
    return on(number, HowTested.PULL, day, people=(ident(3),), instruments=used, **more)


def bench(number, day, pressure=10.0e5, u=0.08e5, **more):
    return on(number, HowTested.BENCH, day, bench=BenchReading(BenchMedium.AIR, pressure, u), **more)


@pytest.fixture
def found(tmp_path):
    stores = []

    def with_tests(*entries, within_days=60):
        store = create_store(tmp_path / f"register{len(stores)}", store_id=ident(7), at=AT, folder=None)
        stores.append(store)
        with store.work(at=AT, who="program:test") as work:
            work.add_all([
                Owner(ident(1), "Marrow Bay Energy", "invented"),
                RegisteredValve(ident(2), ident(1), "S-9", parse_quantity("10 bar", Kind.PRESSURE)),
                Person(ident(3), "technician", "field team 2"),
                *entries,
            ])  # fmt: skip
        return paired_results(store, within_days)

    yield with_tests
    for store in stores:
        store.close()


def test_a_bench_test_is_paired_with_the_nearest_pull(found):
    (group,) = found(pull(10, -40, 9.0e5), pull(11, -2), bench(20, 0))
    assert (group.rig, group.valve_type, group.team) == ("C1", "conventional", "field team 2")
    # 0.1 bar over hypot(0.12, 2 x 0.08)
    assert group.normalised_errors == (pytest.approx(0.1 / 0.2),)
    assert group.bias == pytest.approx(0.01)


def test_each_pull_serves_once_and_rigs_stay_apart(found):
    groups = found(pull(10, 0), bench(20, 1), bench(21, 2), pull(11, 100, cell="C2"), bench(22, 101))
    assert [(group.rig, len(group.normalised_errors)) for group in groups] == [("C1", 1), ("C2", 1)]


@pytest.mark.parametrize(
    "entries",
    [
        (pull(10, 0), bench(20, 61)),
        (pull(10, 0), AdjustmentMade(ident(30), ident(2), AT + dt.timedelta(days=1), "UTC", turns=0.5), bench(20, 2)),
        (pull(10, 0, pressure=None), bench(20, 1)),
        (pull(10, 0), bench(20, 1, u=None)),
        (bench(20, 1),),
        (pull(10, 0),),
    ],
)
def test_what_cannot_be_compared_is_no_pair(found, entries):
    assert found(*entries) == ()


def test_a_corrected_test_counts_as_it_was_corrected(found):
    first = pull(10, 0, 12.0e5)
    (group,) = found(first, dataclasses.replace(pull(11, 0), supersedes=first.id), bench(20, 1))
    assert group.bias == pytest.approx(0.01)


def test_a_pair_that_made_its_own_area_is_left_out(found):
    record = SeatRecord(
        ident(40), ident(2), Source.BENCH, (AT + dt.timedelta(days=1)).date(), area_m2=7e-4, u_area_m2=7e-6,
        tied_to=(Tie("cell:C1", ("C1",), "scale", 1e-6),),
    )  # fmt: skip
    own = (record, pull(10, 0, seat_record_id=record.id), bench(20, 1))
    assert found(*own) == ()
    (group,) = found(*own, pull(11, 100, seat_record_id=record.id), bench(21, 101))
    assert (len(group.normalised_errors), group.left_out) == (1, 1)
