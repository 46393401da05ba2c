"""The band of a fitted line, and its picture."""

import math

import numpy as np
import pytest

from firstlift.core.seat.band import pull_along
from firstlift.core.seat.bench import BenchPair, fit_bench
from firstlift.core.seat.fit import Instrument, Role
from firstlift.core.seat.pressures import LinePull, fit_pressures
from firstlift.core.uncertainty.coverage import student_factor
from firstlift.figures.seat_figure import Dot, SeatLine, draw_seat_line

RIG = [Instrument(Role.CELL, "cell:C", "C", 0.002, 1.0), Instrument(Role.GAUGE, "gauge:G", "G", 0.001, 500.0)]
PULLS = [LinePull(line * 1e5, 800.0, pull, 1.0) for line, pull in ((4, 424.0), (6, 283.0), (8, 141.0))]


def test_the_band_carries_area_and_set_pressure_with_their_covariance():
    fit = fit_pressures(PULLS, RIG)
    factor = student_factor(0.95, fit.degrees_of_freedom)
    pull, half = pull_along(fit, np.array([0.0, fit.set_pressure_pa]))
    assert pull == pytest.approx([fit.area_m2 * fit.set_pressure_pa, 0.0], abs=1e-9)
    # where the pull is nothing, only the set pressure's uncertainty is left
    assert half[1] == pytest.approx(factor * fit.area_m2 * fit.u_set_pressure_pa)
    slope = np.array([fit.set_pressure_pa, fit.area_m2])
    covariance = np.array(
        [[fit.u_area_m2**2, fit.covariance_m2_pa], [fit.covariance_m2_pa, fit.u_set_pressure_pa**2]]
    )  # fmt: skip
    assert half[0] == pytest.approx(factor * math.sqrt(slope @ covariance @ slope))


def test_a_line_through_the_origin_has_a_band_that_opens_from_it():
    rig = [*RIG, Instrument(Role.BENCH_GAUGE, "gauge:G", "G", 0.001, 500.0)]
    fit = fit_bench([BenchPair(7e5, 800.0, 212.0, 1.0, 1e6, 2000.0)], rig)
    pull, half = pull_along(fit, np.array([0.0, 1e5, 2e5]))
    assert pull == pytest.approx([0.0, fit.area_m2 * 1e5, fit.area_m2 * 2e5])
    assert half == pytest.approx([0.0, half[1], 2.0 * half[1]])


def test_the_picture_shows_every_reading_the_line_and_where_the_pull_ends():
    dots = [Dot(4.0, 424.0, 0.02, 2.0), Dot(8.0, 141.0)]
    curve = [(0.0, 707.0, 9.0), (10.0, 0.0, 8.0)]
    shown = SeatLine(dots, curve, "line, bar", "pull, N", "a <line>", 10.0, "set")
    svg = draw_seat_line(shown)
    assert svg == draw_seat_line(shown)
    assert svg.count("<circle") == len(dots)
    assert svg.count("<polygon") == 1
    assert ">set</text>" in svg
    assert "a &lt;line&gt;" in svg
    assert "nan" not in svg
    bare = draw_seat_line(SeatLine(dots, (), "line, bar", "pull, N", "t"))
    assert "<polygon" not in bare
    assert bare.count("<circle") == len(dots)
