"""Seat records and paired results through the use cases, the same on both engines."""

import dataclasses
import datetime as dt
import uuid

from tests.contract.store import entries as e

from firstlift.core.register.work import HowTested
from firstlift.core.seat.record import SeatRecord
from firstlift.core.seat.word import Said, SeatWord
from firstlift.store.audit import audit
from firstlift.store.bench_tests import valves_tested_on_bench
from firstlift.usecases.register.paired import paired_results
from firstlift.usecases.register.seat_draft import SeatStatement
from firstlift.usecases.register.seats import add_seat, list_seats
from firstlift.usecases.seat_asked import SeatAsked

ASKED = SeatAsked(inner="30 mm", outer="31 mm", u_dimension="0.05 mm")
PULLS = SeatAsked(pulls=("6 bar, 1131 N", "10 bar, 571 N"), cell="LC-77", gauge="P-12", u_line="1 kPa", u_pull="2 N")


def add(store, asked, day, **more):
    return add_seat(store, "psv-1100", SeatStatement(asked, day, **more), at=e.AT, who=str(e.PERSON.id))


def filled(store, *entries):
    with store.work(at=e.AT, who="program:test") as work:
        work.add_all([*e.ALL[:12], e.VISIT, *entries])


def test_a_record_comes_back_as_it_was_added_and_the_one_in_force_is_chosen(store):
    filled(store)
    measured = add(store, ASKED, e.DAY, measured_with=("CAL-3",), person_id=e.PERSON.id)
    fitted = add(store, PULLS, e.DAY)
    seats = list_seats(store, "S1100", e.DAY, ["LC-77", "P-12"])
    assert {record.id: record for record in seats.records} == {measured.id: measured, fitted.id: fitted}
    # the cell's calibration, 0.2 % and 2 N by its certificate, was taken from the register
    assert {tie.calibration for tie in fitted.tied_to if tie.serials == ("LC-77",)} == {"K-900"}
    assert seats.choice.record == fitted
    assert list_seats(store, "S1100", e.DAY, ["LC-77"]).choice.record == measured


def test_an_overhaul_ends_what_was_before_and_the_chain_tells(store):
    filled(store)
    old = add(store, ASKED, e.DAY, measured_with=("CAL-3",))
    later = e.DAY + dt.timedelta(days=90)
    new = add(store, ASKED, later, measured_with=("CAL-3",), overhauled=True)
    with store.read() as reader:
        # no record is edited: a word beside them says that the seat was made anew, and the chain holds it
        assert reader.get(SeatRecord, old.id) == old
        assert reader.get(SeatRecord, new.id) == new
        (word,) = reader.list(SeatWord, valve_id=e.VALVE.id)
        assert audit(reader).faults == ()
    assert (word.said, word.date) == (Said.RELAPPED, later)
    assert list_seats(store, "S1100", later).choice.record == new
    assert list_seats(store, "S1100", later - dt.timedelta(days=1)).choice.record == old


def test_pairs_are_found(store):
    pull = dataclasses.replace(
        e.TEST, id=uuid.UUID(int=50), kind=HowTested.PULL, bench=None, set_pressure_pa=1.43e6, seat_record_id=None
    )
    filled(store, dataclasses.replace(e.TEST, seat_record_id=None), pull)
    with store.read() as reader:
        assert valves_tested_on_bench(reader) == [e.VALVE.id]
    (group,) = paired_results(store)
    assert (group.rig, group.team) == ("LC-77", "field team 2")
    assert len(group.normalised_errors) == 1
