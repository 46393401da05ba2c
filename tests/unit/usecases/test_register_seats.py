"""Seat records in a register: added, listed with the reason, and used by a test."""

import dataclasses
import datetime as dt
import uuid

import pytest

from firstlift.core.errors import FirstliftError
from firstlift.core.job import ChannelSpec, Job, Measures, Purpose, RecordingSpec, Rules, Visit
from firstlift.core.register.equipment import Calibration, Installation, Instrument, RegisteredValve
from firstlift.core.register.places import Owner, Position, Site
from firstlift.core.seat.record import SeatRecord
from firstlift.core.units import Kind, parse_quantity
from firstlift.core.valve import Medium, Seat, Valve
from firstlift.store.open import create_store
from firstlift.usecases.register.seat_draft import SeatStatement
from firstlift.usecases.register.seats import add_seat, list_seats, with_seat_in_force
from firstlift.usecases.seat_asked import SeatAsked

AT = dt.datetime(2026, 6, 2, 8, 30, tzinfo=dt.UTC)
DAY = dt.date(2026, 6, 1)
PULLS = ("4 bar, 424 N", "6 bar, 283 N", "8 bar, 141 N")


def ident(number):
    return uuid.UUID(int=number)


def pressure(text):
    return parse_quantity(text, Kind.PRESSURE)


def calibrated(number, serial, measures, unit, relative):
    instrument = Instrument(ident(number), serial, measures, unit)
    calibration = Calibration(
        ident(number + 50), instrument.id, f"K-{serial}", dt.date(2026, 1, 10), dt.date(2027, 1, 10), unit,
        relative_standard_uncertainty=relative, reference_standard=f"REF-{serial}",
    )  # fmt: skip
    return instrument, calibration


VALVE = RegisteredValve(ident(9), ident(1), "S-9", pressure("10 bar"))
ENTRIES = [
    Owner(ident(1), "Marrow Bay Energy", "invented"),
    Site(ident(2), ident(1), "Tern Street works", "Europe/London"),
    Position(ident(3), ident(2), "PSV-9", Medium.GAS),
    Position(ident(4), ident(2), "PSV-10", Medium.GAS),
    VALVE,
    Installation(ident(5), VALVE.id, ident(3), dt.date(2024, 1, 1)),
    *calibrated(20, "C1", Measures.PULL_FORCE, "N", 0.002),
    *calibrated(21, "G1", Measures.LINE_PRESSURE, "bar", 0.001),
]


@pytest.fixture
def store(tmp_path):
    made = create_store(tmp_path / "register", store_id=ident(7), at=AT, folder=None)
    with made.work(at=AT, who="program:test") as work:
        work.add_all(ENTRIES)
    yield made
    made.close()


def add(store, name="PSV-9", *, date=DAY, measured_with=(), overhauled=False, note="", **asked):
    statement = SeatStatement(SeatAsked(**asked), date, measured_with, note=note, overhauled=overhauled)
    return add_seat(store, name, statement, at=AT, who="program:test")


def fitted(store, **more):
    return add(store, pulls=PULLS, cell="C1", gauge="G1", u_line="0.2 %", u_pull="1 N", **more)


def code(call, *arguments, **named):
    with pytest.raises(FirstliftError) as caught:
        call(*arguments, **named)
    return caught.value.problems[0].code


def sheet(cell="C1", gauge="G1", date=DAY):
    return Job(
        Visit(date, Purpose.AS_FOUND),
        Valve("PSV-9", "S-9", pressure("10 bar"), Medium.GAS),
        Seat(1.0, 0.0, 0.0, "sheet", "sheet"),
        Rules("iso-4126-1"),
        RecordingSpec("recording.csv", time_column="t"),
        (
            ChannelSpec("f", Measures.PULL_FORCE, "N", serial=cell, calibrated_with="left"),
            ChannelSpec("p", Measures.LINE_PRESSURE, "bar", serial=gauge),
        ),
    )


def test_a_measured_seat_is_kept_as_it_was_measured(store):
    record = add(store, inner="30 mm", outer="31 mm", u_dimension="0.05 mm", measured_with=("CAL-3",), note="calm day")
    seats = list_seats(store, "psv-9", DAY)
    assert seats.records == (record,)
    assert (seats.valve.serial, seats.choice.record, seats.choice.reason.code) == ("S-9", record, "only-record")
    assert (record.inner_diameter_m, record.u_outer_m, record.note) == (pytest.approx(0.03), 5e-5, "calm day")


def test_a_stated_seat_that_nobody_measured_is_the_makers(store):
    record = add(store, "S-9", mean="30 mm", u_dimension="0.1 mm", reference="drawing 7")
    assert (str(record.source), record.reference) == ("maker", "drawing 7")
    assert list_seats(store, "PSV-9", DAY).choice.reason.code == "makers-figure-only"


def test_a_fitted_area_takes_its_calibrations_from_the_register(store):
    record = fitted(store)
    assert {(tie.instrument, tie.serials, tie.calibration) for tie in record.tied_to} == {
        ("cell:REF-C1", ("C1",), "K-C1"), ("gauge:REF-G1", ("G1",), "K-G1"),
    }  # fmt: skip
    scale = {tie.serials[0]: tie.u_area_m2 / record.area_m2 for tie in record.tied_to}
    assert scale == {"C1": pytest.approx(0.002, rel=1e-3), "G1": pytest.approx(-0.001, rel=1e-3)}
    assert record.covariance_m2_pa < 0.0


def test_it_serves_only_with_the_instruments_that_found_it(store):
    record = fitted(store)
    assert list_seats(store, "PSV-9", DAY).choice.record is None
    assert list_seats(store, "PSV-9", DAY, ["C1", "G1"]).choice.record == record
    assert list_seats(store, "PSV-9", DAY, ["C1", "G2"]).choice.left_out[0].reason.code == "other-instruments"


def test_a_test_computes_with_the_seat_in_force_and_shares_its_errors(store):
    record = fitted(store, reference="report 4")
    with store.read() as reader:
        job, choice = with_seat_in_force(reader, VALVE.id, sheet())
    assert choice.record == record
    assert job.seat.area_m2 == pytest.approx(record.area_m2)
    assert {(share.instrument, share.part) for share in job.seat.shares} == {
        ("cell:left", "scale"),
        ("gauge:G1", "scale"),
    }
    assert job.seat.standard_uncertainty_m2 == pytest.approx(record.u_area_m2)
    assert job.seat.source == "pulls at several line pressures, 2026-06-01, report 4"


def test_a_new_calibration_no_longer_shares_its_error(store):
    fitted(store)
    renewed = Calibration(
        ident(90),
        ident(20),
        "K-NEW",
        dt.date(2026, 7, 1),
        dt.date(2027, 7, 1),
        "N",
        relative_standard_uncertainty=0.002,
    )
    with store.work(at=AT, who="program:test") as work:
        work.add(renewed)
    with store.read() as reader:
        job, _ = with_seat_in_force(reader, VALVE.id, sheet(date=dt.date(2026, 8, 1)))
    assert [share.instrument for share in job.seat.shares] == ["gauge:G1"]


def test_without_a_record_that_serves_no_test_is_computed(store):
    fitted(store)
    with store.read() as reader:
        assert code(with_seat_in_force, reader, VALVE.id, sheet(cell="C9")) == "SEA-018"


def test_after_an_overhaul_older_records_no_longer_serve_and_the_history_says_so(store):
    old = add(store, inner="30 mm", outer="31 mm", u_dimension="0.05 mm", measured_with=("CAL-3",))
    day = dt.date(2026, 9, 1)
    new = add(store, mean="30.4 mm", date=day, overhauled=True)
    seats = list_seats(store, "PSV-9", dt.date(2026, 10, 1))
    assert seats.choice.record == new
    assert [(left.record_id, left.reason.code) for left in seats.choice.left_out] == [(old.id, "seat-overhauled-since")]
    assert seats.records[1] == old
    # a test of the time before still finds the old one
    assert list_seats(store, "PSV-9", dt.date(2026, 8, 1)).choice.record == seats.records[1]


@pytest.mark.parametrize(
    ("name", "asked", "told"),
    [
        ("PSV-9", {"area": "830 mm2"}, "SEA-010"),
        ("PSV-9", {"mean": "30 mm", "note": "API 526 orifice J"}, "SEA-010"),
        ("PSV-9", {"mean": "30 mm", "measured_with": (" ",)}, "SEA-003"),
        ("PSV-9", {"pulls": ("7.9 bar, 148 N", "8 bar, 141 N")}, "SEA-007"),
        ("PSV-10", {"mean": "30 mm"}, "SEA-016"),
        ("PSV-11", {"mean": "30 mm"}, "SEA-016"),
    ],
)
def test_what_is_refused_leaves_nothing_behind(store, name, asked, told):
    assert code(add, store, name, **asked) == told
    with store.read() as reader:
        assert reader.count(SeatRecord) == 0


def test_a_serial_of_two_makers_is_told(store):
    with store.work(at=AT, who="program:test") as work:
        work.add(dataclasses.replace(VALVE, id=ident(91), maker="another"))
    assert code(list_seats, store, "S-9", DAY) == "SEA-017"
    # the tag still names one
    assert list_seats(store, "PSV-9", DAY).valve.id == VALVE.id
