"""Which seat record is in force, and the reason as data."""

import datetime as dt
import uuid
from dataclasses import replace

import pytest

from firstlift.core.seat.choose import Held, choose_record, shared_tags
from firstlift.core.seat.record import SeatRecord, Source, Tie, seat_of

VALVE = uuid.UUID(int=99)
JUNE, LATER = dt.date(2026, 6, 1), dt.date(2026, 9, 1)
RIG = (Held("cell:C1", "C1", "K-1"), Held("gauge:G1", "G1", "K-2"))


def record(number, source=Source.MAKER, date=JUNE, area=7e-4, u=7e-6, **more):
    if source is Source.MEASURED:
        more = {"measured_with": ("CAL",), **more}
    if source in (Source.TWO_PRESSURES, Source.BENCH) and "tied_to" not in more:
        ties = (
            Tie("cell:C1", ("C1",), "scale", 0.3 * u, "K-1"),
            Tie("gauge:G1", ("G1",), "scale", -0.2 * u, "K-2"),
        )
        more = {"tied_to": ties, **more}
    return SeatRecord(uuid.UUID(int=number), VALVE, source, date, area_m2=area, u_area_m2=u, **more)


def left_out(choice):
    return {left.record_id.int: left.reason.code for left in choice.left_out}


def chosen(choice):
    return choice.record and choice.record.id.int


def test_without_records_there_is_none_in_force():
    choice = choose_record([], LATER)
    assert (choice.record, choice.reason.code) == (None, "no-record-in-force")


def test_a_record_counts_from_its_date_on():
    assert left_out(choose_record([record(1, date=LATER)], JUNE)) == {1: "not-yet"}
    assert chosen(choose_record([record(1, date=LATER)], LATER)) == 1


def test_once_re_lapped_older_records_no_longer_serve():
    records = [record(1, Source.MEASURED), record(2, date=dt.date(2026, 8, 1), u=3e-5)]
    overhauled = choose_record(records, LATER, overhauls=[dt.date(2026, 7, 15)])
    assert chosen(overhauled) == 2
    assert left_out(overhauled) == {1: "seat-overhauled-since"}
    (left,) = overhauled.left_out
    assert left.reason.parameters == {"overhaul_date": "2026-07-15"}
    assert overhauled.reason.code == "makers-figure-only"
    # before that day it still served, and an overhaul to come does not matter
    assert chosen(choose_record(records, dt.date(2026, 7, 1), overhauls=[dt.date(2026, 7, 15)])) == 1


def test_a_record_of_the_overhauls_day_is_of_the_new_seat_unless_it_is_marked():
    new = record(1, Source.MEASURED)
    assert chosen(choose_record([new], LATER, overhauls=[JUNE])) == 1
    marked = replace(new, superseded_by_overhaul=JUNE)
    assert left_out(choose_record([marked], LATER)) == {1: "seat-overhauled-since"}
    assert chosen(choose_record([replace(new, superseded_by_overhaul=LATER)], dt.date(2026, 8, 31))) == 1


@pytest.mark.parametrize("source", [Source.TWO_PRESSURES, Source.BENCH])
def test_a_fitted_area_serves_only_with_the_instruments_that_found_it(source):
    records = [record(1, source), record(2, u=5e-5)]
    assert chosen(choose_record(records, LATER, RIG)) == 1
    other = choose_record(records, LATER, (RIG[0], Held("gauge:G9", "G9")))
    assert (chosen(other), left_out(other)) == (2, {1: "other-instruments"})
    more = choose_record(records, LATER, (*RIG, Held("cell:C2", "C2")))
    assert left_out(more) == {1: "other-instruments"}
    assert left_out(choose_record(records, LATER)) == {1: "instruments-not-known"}


def test_of_each_source_the_latest():
    records = [record(1, Source.MEASURED, u=1e-6), record(2, Source.MEASURED, date=dt.date(2026, 7, 1), u=9e-6)]
    choice = choose_record(records, LATER)
    assert (chosen(choice), left_out(choice)) == (2, {1: "later-of-same-source"})
    twins = choose_record([record(1, Source.MEASURED, u=9e-6), record(2, Source.MEASURED, u=2e-6)], LATER)
    assert chosen(twins) == 2


def test_what_was_found_on_the_valve_goes_before_the_makers_figure():
    choice = choose_record([record(1, u=1e-6), record(2, Source.MEASURED, u=2e-5)], LATER)
    assert (chosen(choice), left_out(choice)) == (2, {1: "makers-figure-after-own"})
    assert choice.reason.code == "only-record"


def test_of_several_sources_the_smallest_relative_uncertainty():
    records = [record(1, Source.MEASURED, u=2e-5), record(2, Source.TWO_PRESSURES, u=8e-6), record(3, Source.BENCH)]
    choice = choose_record(records, LATER, RIG)
    assert (chosen(choice), left_out(choice)) == (3, {1: "less-certain", 2: "less-certain"})
    assert choice.reason.code == "smallest-uncertainty"
    assert choice.reason.parameters["relative_u"] == pytest.approx(0.01)


def test_records_that_contradict_each_other_are_doubtful():
    near = choose_record([record(1, Source.MEASURED), record(2, Source.TWO_PRESSURES, area=7.1e-4)], LATER, RIG)
    assert near.doubts == ()
    far = choose_record([record(1, Source.MEASURED), record(2, area=7.4e-4)], LATER, RIG)
    (doubt,) = far.doubts
    assert (chosen(far), doubt.code, doubt.parameters["source"]) == (1, "records-disagree", "maker")
    assert doubt.parameters["relative_difference"] == pytest.approx(0.4 / 7.0)


def test_an_area_that_may_judge_its_own_pulls_is_doubtful():
    records = [record(1, Source.TWO_PRESSURES)]
    assert [doubt.code for doubt in choose_record(records, JUNE, RIG).doubts] == ["found-from-pulls-of-that-day"]
    assert choose_record(records, LATER, RIG).doubts == ()
    assert choose_record([record(1, Source.MEASURED)], JUNE, RIG).doubts == ()


def test_the_order_of_the_records_does_not_matter():
    records = [record(n, source, u=u) for n, source, u in [(1, Source.MAKER, 1e-6), (2, Source.MEASURED, 9e-6),
               (3, Source.BENCH, 9e-6), (4, Source.TWO_PRESSURES, 9e-6)]]  # fmt: skip
    assert chosen(choose_record(records, LATER, RIG)) == chosen(choose_record(records[::-1], LATER, RIG)) == 2


def test_the_same_calibration_shares_its_error_and_a_new_one_does_not():
    choice = choose_record([record(1, Source.TWO_PRESSURES)], LATER, RIG)
    assert choice.shared == {"cell:C1": "cell:C1", "gauge:G1": "gauge:G1"}
    renewed = (replace(RIG[0], calibration="K-9"), RIG[1])
    assert choose_record([record(1, Source.TWO_PRESSURES)], LATER, renewed).shared == {"gauge:G1": "gauge:G1"}
    seat = seat_of(choice.record, choice.shared)
    assert seat.standard_uncertainty_m2 == pytest.approx(7e-6)
    assert len(seat.shares) == 2


def test_cells_of_one_calibration_share_it_only_together():
    pair = record(1, Source.BENCH, tied_to=(Tie("cell:PAIR", ("C1", "C2"), "scale", 1e-6),))
    assert shared_tags(pair, [Held("cell:P", "C1"), Held("cell:P", "C2")]) == {"cell:PAIR": "cell:P"}
    assert shared_tags(pair, [Held("cell:P", "C1"), Held("cell:Q", "C2")]) == {}
    assert shared_tags(pair, [Held("cell:P", "C1")]) == {}
    named = replace(pair, tied_to=(replace(pair.tied_to[0], calibration="K-1, K-2"),))
    assert shared_tags(named, [Held("cell:P", "C2", "K-2"), Held("cell:P", "C1", "K-1")]) == {"cell:PAIR": "cell:P"}
    assert shared_tags(named, [Held("cell:P", "C2", "K-3"), Held("cell:P", "C1", "K-1")]) == {}
