"""An area that holds the errors of the test's own instruments: they come twice, and partly cancel."""

import datetime as dt
import math

import GTC
import pytest

from firstlift.core.job import ChannelSpec, Job, Measures, Purpose, RecordingSpec, Rules, Visit
from firstlift.core.uncertainty.budget import make_budget
from firstlift.core.uncertainty.instruments import (
    cell_lines,
    gauge_lines,
    seat_share_lines,
    shared_correlations,
    tag,
)
from firstlift.core.units import Kind, parse_quantity
from firstlift.core.valve import Medium, Seat, SeatShare, Valve

AREA, LINE, LOADS = 7e-4, 8e5, (90.0, 50.0)
CELLS = tuple(
    ChannelSpec(
        name, Measures.PULL_FORCE, "N", relative_standard_uncertainty=0.004, standard_uncertainty=0.3, serial=name
    )
    for name in ("C1", "C2")
)
GAUGE = ChannelSpec(
    "p", Measures.LINE_PRESSURE, "Pa", relative_standard_uncertainty=0.002, standard_uncertainty=900.0, serial="G1"
)


def job(seat, cells=CELLS):
    return Job(
        Visit(dt.date(2026, 5, 4), Purpose.AS_FOUND),
        Valve("PSV-1", "S-1", parse_quantity("10 bar", Kind.PRESSURE), Medium.GAS),
        seat,
        Rules("iso-4126-1"),
        RecordingSpec("recording.csv", time_column="time_s"),
        (*cells, GAUGE),
    )


def budget(seat, cells=CELLS):
    lines = gauge_lines(job(seat, cells), LINE)
    for spec, load in zip(cells, LOADS, strict=True):
        lines += cell_lines(spec, load, 1.0 / seat.area_m2, seat)
    lines += seat_share_lines(seat, -sum(LOADS) / seat.area_m2**2)
    return make_budget(lines, shared_correlations(lines))


def in_gtc(shares, cells=CELLS):
    """The same in a second library: one unknown for each error of each instrument."""
    unit = {}

    def error(name, part):
        return unit.setdefault((name, part), GTC.ureal(0.0, 1.0))

    def read(spec, value):
        scale = spec.relative_standard_uncertainty * value * error(tag(spec), "scale")
        return value + scale + spec.standard_uncertainty * error(tag(spec), "offset")

    area = AREA + sum(share.u_area_m2 * error(share.instrument, share.part) for share in shares)
    force = sum(read(spec, load) for spec, load in zip(cells, LOADS, strict=True))
    return GTC.uncertainty(read(GAUGE, LINE) + force / area)


SHARES = (
    SeatShare("cell:C1", "scale", 2.0e-6),
    SeatShare("cell:C2", "scale", 0.9e-6),
    SeatShare("cell:C2", "offset", 0.4e-6),
    SeatShare("gauge:G1", "scale", -1.4e-6),
)


@pytest.mark.parametrize("shares", [(), SHARES[:1], SHARES, SHARES[3:]])
def test_what_seat_and_instruments_share_is_counted_once_with_its_sign(shares):
    found = budget(Seat(AREA, 0.0, 0.0, "", "", shares)).standard_uncertainty_pa
    assert found == pytest.approx(in_gtc(shares), rel=1e-9)


def test_cells_of_one_calibration_move_together_in_the_area_too():
    cells = tuple(
        ChannelSpec(
            name, Measures.PULL_FORCE, "N", relative_standard_uncertainty=0.004, standard_uncertainty=0.3,
            calibrated_with="PAIR",
        )
        for name in ("C1", "C2")
    )  # fmt: skip
    shares = (SeatShare("cell:PAIR", "scale", 2.8e-6),)
    found = budget(Seat(AREA, 0.0, 0.0, "", "", shares), cells).standard_uncertainty_pa
    assert found == pytest.approx(in_gtc(shares, cells), rel=1e-9)


def test_a_cells_scale_cancels_where_it_found_the_area_alone():
    # a cell 0.4 % high finds an area 0.4 % large: pull over area is right again
    cell = ChannelSpec("C1", Measures.PULL_FORCE, "N", relative_standard_uncertainty=0.004, serial="C1")
    seat = Seat(AREA, 0.0, 0.0, "", "", (SeatShare("cell:C1", "scale", 0.004 * AREA),))
    lines = cell_lines(cell, 140.0, 1.0 / AREA, seat) + seat_share_lines(seat, -140.0 / AREA**2)
    whole = make_budget(lines, shared_correlations(lines))
    assert whole.standard_uncertainty_pa == pytest.approx(0.0, abs=1e-9)


def test_an_instrument_that_the_area_does_not_share_keeps_its_one_line():
    seat = Seat(AREA, 0.0, 0.0, "", "", (SeatShare("cell:other", "scale", 1e-6),))
    (line,) = cell_lines(CELLS[0], 100.0, 1.0 / AREA, seat)
    assert line.standard_uncertainty == pytest.approx(math.hypot(0.4, 0.3))
    assert line.common_to == "cell:C1"
