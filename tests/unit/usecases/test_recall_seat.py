"""An instrument that turns out wrong, and a seat area that was found with it."""

import datetime as dt
import uuid

import pytest

from firstlift.core.job import Measures, Purpose
from firstlift.core.register.equipment import Instrument, RegisteredValve
from firstlift.core.register.places import Owner
from firstlift.core.register.work import HowTested, UsedInstrument, ValveTest
from firstlift.core.seat.record import SeatRecord, Source, Tie
from firstlift.core.units import Kind, parse_quantity
from firstlift.store.open import create_store
from firstlift.usecases.register.recall import recall

AT = dt.datetime(2026, 6, 2, 8, 30, tzinfo=dt.UTC)


def ident(number):
    return uuid.UUID(int=number)


@pytest.fixture
def store(tmp_path):
    made = create_store(tmp_path / "register", store_id=ident(7), at=AT, folder=None)
    used = tuple(UsedInstrument(serial, "pull_force") for serial in ("C1", "C2"))
    record = SeatRecord(
        ident(4), ident(2), Source.TWO_PRESSURES, AT.date(), area_m2=7e-4, u_area_m2=7e-6,
        tied_to=(Tie("cell:C1", ("C1",), "scale", 1e-6),),
    )  # fmt: skip
    with made.work(at=AT, who="program:test") as work:
        work.add_all([
            Owner(ident(1), "Marrow Bay Energy", "invented"),
            RegisteredValve(ident(2), ident(1), "S-9", parse_quantity("10 bar", Kind.PRESSURE)),
            *(Instrument(ident(10 + n), serial, Measures.PULL_FORCE, "N") for n, serial in enumerate(["c1", "C2"])),
            record,
            ValveTest(
                ident(20), ident(2), HowTested.PULL, Purpose.AS_FOUND, AT, "UTC", AT.date(), verdict="within",
                seat_record_id=record.id, instruments=used,
            ),
        ])  # fmt: skip
    yield made
    made.close()


def test_a_test_is_not_corrected_in_its_pull_alone(store):
    (recalled,) = recall(store, "C1")
    assert recalled.problem.startswith("SEA-020")
    assert (recalled.verdict, recalled.verdict_now, recalled.changed) == ("within", None, False)


def test_an_instrument_that_only_read_the_test_is_another_matter(store):
    (recalled,) = recall(store, "C2")
    assert not recalled.problem.startswith("SEA-020")
