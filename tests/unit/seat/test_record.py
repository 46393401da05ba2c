"""A seat record says its area once, names its instruments, and becomes the seat of a test."""

import datetime as dt
import math
import uuid
from dataclasses import replace

import pytest

from firstlift.core.errors import FirstliftError
from firstlift.core.seat.record import SeatRecord, Source, Tie, check_record, seat_of

DAY = dt.date(2026, 3, 1)
EDGES = SeatRecord(
    uuid.UUID(int=1),
    uuid.UUID(int=2),
    Source.MEASURED,
    DAY,
    inner_diameter_m=0.030,
    outer_diameter_m=0.032,
    u_inner_m=1e-4,
    u_outer_m=2e-4,
    measured_with=("CAL-7",),
)
CELL, GAUGE = Tie("cell:C1", ("C1",), "scale", 2e-6), Tie("gauge:G1", ("G1",), "scale", -1.5e-6)
FITTED = SeatRecord(
    uuid.UUID(int=3),
    uuid.UUID(int=2),
    Source.TWO_PRESSURES,
    DAY,
    area_m2=7e-4,
    u_area_m2=4e-6,
    tied_to=(CELL, GAUGE),
)


def codes(record):
    with pytest.raises(FirstliftError) as caught:
        check_record(record)
    return [problem.code for problem in caught.value.problems]


def test_edges_give_the_land_area_and_a_rectangle_between_them():
    seat = seat_of(EDGES)
    assert seat.area_m2 == pytest.approx(math.pi / 12 * (0.030**2 + 0.030 * 0.032 + 0.032**2))
    assert seat.half_width_m2 == pytest.approx(math.pi / 8 * (0.032**2 - 0.030**2))
    moved = math.pi / 12 * ((0.030 + 1e-4) ** 2 + (0.030 + 1e-4) * (0.032 + 2e-4) + (0.032 + 2e-4) ** 2)
    assert seat.u_area_m2 == pytest.approx(moved - seat.area_m2, rel=5e-3)


def test_a_fitted_area_shares_the_errors_of_the_instruments_that_are_the_same():
    seat = seat_of(FITTED, {"cell:C1": "cell:left"})
    assert [(share.instrument, share.u_area_m2) for share in seat.shares] == [("cell:left", 2e-6)]
    assert seat.u_area_m2 == pytest.approx(math.sqrt(16 - 4) * 1e-6)
    assert seat.standard_uncertainty_m2 == pytest.approx(4e-6)


def test_with_other_instruments_the_whole_uncertainty_is_the_areas_own():
    seat = seat_of(FITTED, {"cell:C2": "cell:C2"})
    assert seat.shares == ()
    assert seat.u_area_m2 == pytest.approx(4e-6)


def test_serials_come_once_each():
    assert replace(FITTED, tied_to=(CELL, replace(CELL, part="offset"), GAUGE)).serials == ("C1", "G1")


@pytest.mark.parametrize(
    ("record", "code"),
    [
        (replace(EDGES, area_m2=7e-4, u_area_m2=1e-6), "SEA-001"),
        (replace(EDGES, u_outer_m=None), "SEA-001"),
        (replace(FITTED, area_m2=None, u_area_m2=None), "SEA-001"),
        (replace(FITTED, area_m2=-7e-4), "SEA-002"),
        (replace(FITTED, area_m2=math.nan), "SEA-002"),
        (replace(FITTED, u_area_m2=math.inf), "SEA-002"),
        (replace(EDGES, outer_diameter_m=0.030), "SEA-002"),
        (replace(FITTED, degrees_of_freedom=0.0), "SEA-002"),
        (replace(FITTED, tied_to=()), "SEA-003"),
        (replace(EDGES, measured_with=(" ",)), "SEA-003"),
        (replace(FITTED, u_area_m2=2.4e-6), "SEA-004"),
    ],
)
def test_a_record_that_cannot_be_is_refused(record, code):
    assert code in codes(record)


def test_all_problems_of_a_record_come_at_once():
    assert codes(replace(EDGES, outer_diameter_m=0.029, measured_with=())) == ["SEA-002", "SEA-003"]
