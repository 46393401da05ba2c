"""What must hold for every fit of a seat area."""

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from firstlift.core.seat.fit import Instrument, Role
from firstlift.core.seat.line import fit_line
from firstlift.core.seat.pressures import LinePull, fit_pressures

fixed = settings(derandomize=True, deadline=None, max_examples=60)
CELL = Instrument(Role.CELL, "cell:C", "C", 0.003, 0.2)
GAUGE = Instrument(Role.GAUGE, "gauge:G", "G", 0.002, 400.0)
areas = st.floats(5e-5, 2e-2)
offs = st.lists(st.floats(-1.0, 1.0), min_size=3, max_size=6)


def pulls(area, opening, offs, u_share=1e-3):
    """Pulls at line pressures spread from 40 to 80 % of the set pressure, off by shares of their uncertainty."""
    levels = np.linspace(0.4, 0.8, len(offs)) * opening
    u = u_share * area * opening
    return [LinePull(p, 1e-3 * opening, area * (opening - p) + off * u, u) for p, off in zip(levels, offs, strict=True)]


@fixed
@given(areas, st.floats(1e5, 4e7), offs)
def test_the_slope_is_where_the_weighted_distance_is_least(area, opening, offs):
    taken = pulls(area, opening, offs)
    columns = np.array([(p.line_pressure_pa, p.pull_n, p.u_line_pa, p.u_pull_n) for p in taken]).T
    line = fit_line(*columns)

    def distance(slope):
        x, y, u_x, u_y = columns
        weight = 1.0 / (u_y**2 + slope**2 * u_x**2)
        intercept = np.average(y - slope * x, weights=weight)
        return float(weight @ (y - intercept - slope * x) ** 2)

    assert line.chi_square == pytest.approx(distance(line.slope), rel=1e-6, abs=1e-9)
    assert distance(line.slope) <= min(distance(line.slope * f) for f in (0.999, 1.001)) + 1e-9


@fixed
@given(areas, st.floats(1e5, 4e7), offs, st.floats(0.2, 5.0), st.floats(0.2, 5.0))
def test_other_units_give_the_same_line(area, opening, offs, per_n, per_pa):
    taken = pulls(area, opening, offs)
    columns = np.array([(p.line_pressure_pa, p.pull_n, p.u_line_pa, p.u_pull_n) for p in taken]).T
    plain = fit_line(*columns)
    other = fit_line(columns[0] * per_pa, columns[1] * per_n, columns[2] * per_pa, columns[3] * per_n)
    assert other.slope == pytest.approx(plain.slope * per_n / per_pa, rel=1e-9)
    assert other.intercept == pytest.approx(plain.intercept * per_n, rel=1e-9)
    assert other.covariance[0, 1] == pytest.approx(plain.covariance[0, 1] * per_n**2 / per_pa, rel=1e-6)


@fixed
@given(offs, st.floats(-0.02, 0.02))
def test_a_cell_that_errs_in_scale_finds_an_area_that_errs_as_much(offs, error):
    taken = pulls(7e-4, 1e6, offs)
    plain = fit_pressures(taken, (CELL, GAUGE))
    wrong = fit_pressures([replace(p, pull_n=p.pull_n * (1.0 + error)) for p in taken], (CELL, GAUGE))
    # the weights take the stated uncertainty of a pull as it is: they move a little against each other
    assert wrong.area_m2 == pytest.approx(plain.area_m2 * (1.0 + error), rel=1e-4)
    assert wrong.set_pressure_pa == pytest.approx(plain.set_pressure_pa, rel=1e-4)


@fixed
@given(offs, st.floats(0.0, 20.0))
def test_friction_moves_the_set_pressure_alone(offs, friction):
    taken = pulls(7e-4, 1e6, offs)
    plain = fit_pressures(taken, (CELL, GAUGE))
    stuck = fit_pressures([replace(p, pull_n=p.pull_n + friction) for p in taken], (CELL, GAUGE))
    assert stuck.area_m2 == pytest.approx(plain.area_m2, rel=1e-9)
    assert stuck.set_pressure_pa == pytest.approx(plain.set_pressure_pa + friction / plain.area_m2, rel=1e-9)


@fixed
@given(offs, st.permutations(range(6)))
def test_the_order_of_the_pulls_does_not_matter(offs, order):
    taken = pulls(7e-4, 1e6, offs)
    shuffled = [taken[i] for i in order if i < len(taken)]
    plain, other = (fit_pressures(each, (CELL, GAUGE)) for each in (taken, shuffled))
    assert other.area_m2 == pytest.approx(plain.area_m2, rel=1e-10)
    assert other.u_area_m2 == pytest.approx(plain.u_area_m2, rel=1e-10)


@fixed
@given(offs, st.floats(1.0, 3.0))
def test_a_vaguer_calibration_never_narrows_the_area(offs, factor):
    taken = pulls(7e-4, 1e6, offs)
    vague = replace(CELL, relative_standard_uncertainty=CELL.relative_standard_uncertainty * factor)
    assert fit_pressures(taken, (vague, GAUGE)).u_area_m2 >= fit_pressures(taken, (CELL, GAUGE)).u_area_m2
