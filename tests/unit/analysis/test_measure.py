"""From a pull to a pressure: force balance, back pressure by valve type, budget, lower bound; all by hand numbers."""

import math
from dataclasses import replace

import numpy as np
import pytest

from firstlift.core import observe
from firstlift.core.job import ChannelSpec, Measures
from firstlift.core.measure import bound_pull, measure_pull, pull_by_hand, shared_spread, uses_cold_test_pressure
from firstlift.core.units import Kind, parse_quantity
from firstlift.core.valve import Seat, ValveType

BAR = 1e5
LOADS = (120.0, 80.0)
# 200 N on a seat of 30 mm: 200 / (pi/4 0.030^2) = 282 942.12 Pa
PLAIN = 8e5 + 282942.12


def line_of(budget, quantity):
    return next(line for line in budget.lines if line.quantity.startswith(quantity))


def measured(by_hand, valve=None, **changes):
    pull = by_hand.pull(LOADS)
    return measure_pull(pull.signals, by_hand.job(pull.specs, valve=valve, **changes), pull.find)


def test_set_pressure_is_line_pressure_and_pull_over_area(by_hand):
    found = measured(by_hand)
    assert found.pressure_pa == pytest.approx(PLAIN, abs=0.01)
    assert found.pull_force_n == pytest.approx(200.0)
    assert found.line_pressure_pa == pytest.approx(8e5)


def test_weight_that_rests_on_the_spindle_is_taken_off(by_hand):
    found = measured(by_hand, weight_on_spindle_n=50.0)
    assert found.pull_force_n == pytest.approx(150.0)
    assert found.pressure_pa == pytest.approx(8e5 + 0.75 * 282942.12, abs=0.01)


BACK = {"back_pressure_at_test_pa": 0.5 * BAR, "superimposed_back_pressure_pa": 1.2 * BAR, "u_back_pressure_pa": 1e3}


@pytest.mark.parametrize(
    ("valve", "added"),
    [
        # spindle 12 mm on a seat of 30 mm: A_sp / A = 0.16; - 0.5 (1 - 0.16) + 1.2 bar
        ({"type": ValveType.CONVENTIONAL, "spindle_diameter_m": 0.012}, 78000.0),
        # cap on: bonnet pressure on the spindle's end too; - 0.5 + 1.2 bar
        ({"type": ValveType.CONVENTIONAL, "spindle_diameter_m": 0.012, "cap_on": True}, 70000.0),
        # guide 36 mm: A_D / A - 1 = 0.44; 0.44 (0.5 - 1.2) bar: back pressure lowers the opening pressure
        ({"type": ValveType.VENTED_BONNET, "disc_guide_diameter_m": 0.036}, -30800.0),
        # bellows 30.6 mm: 1 - A_b / A = - 0.0404; 0.0404 (0.5 - 1.2) bar
        ({"type": ValveType.BALANCED_BELLOWS, "bellows_diameter_m": 0.0306}, -2828.0),
    ],
)
def test_back_pressure_enters_by_valve_type(by_hand, valve, added):
    assert measured(by_hand, {**BACK, **valve}).pressure_pa == pytest.approx(PLAIN + added, abs=0.01)


@pytest.mark.parametrize(
    ("kind", "key", "u_pa"),
    [
        # half the range of A_sp/A is 0.2, of the guide's excess 0.35, of the bellows' misfit 0.2; over sqrt(3);
        # a spindle acts at the test alone (0.5 bar), the others on what changes between test and service (0.7 bar)
        (ValveType.CONVENTIONAL, "spindle_diameter", 0.2 / math.sqrt(3.0) * 0.5e5),
        (ValveType.VENTED_BONNET, "disc_guide_diameter", 0.35 / math.sqrt(3.0) * 0.7e5),
        (ValveType.BALANCED_BELLOWS, "bellows_diameter", 0.2 / math.sqrt(3.0) * 0.7e5),
    ],
)
def test_a_dimension_that_is_missing_is_a_finding_and_a_line(by_hand, kind, key, u_pa):
    pull = by_hand.pull(LOADS)
    job = by_hand.job(pull.specs, valve={**BACK, "type": kind})
    line = line_of(measure_pull(pull.signals, job, pull.find).budget, f"unknown {key}")
    assert line.contribution_pa == pytest.approx(u_pa)
    assert line.distribution == "rectangular"
    found = [f for f in observe.before(pull.signals, job) if f.code == "geometry-missing"]
    assert [f.parameters for f in found] == [{"key": key}]


def test_without_back_pressure_no_dimension_is_missed(by_hand):
    pull = by_hand.pull(LOADS)
    job = by_hand.job(pull.specs)
    lines = measure_pull(pull.signals, job, pull.find).budget.lines
    assert [line.quantity for line in lines if line.quantity.startswith(("unknown", "back pressure"))] == []
    assert "geometry-missing" not in [f.code for f in observe.before(pull.signals, job)]


def test_back_pressure_that_nobody_measured_is_not_exact(by_hand):
    valve = {**BACK, "u_back_pressure_pa": None, "spindle_diameter_m": 0.012}
    line = line_of(measured(by_hand, valve).budget, "back pressure")
    # a tenth of 1.2 bar either way, weighed by 1 - 0.16
    assert line.contribution_pa == pytest.approx(0.84 * 0.12e5 / math.sqrt(3.0))
    pull = by_hand.pull(LOADS)
    codes = [f.code for f in observe.before(pull.signals, by_hand.job(pull.specs, valve=valve))]
    assert "back-pressure-uncertain" in codes


def test_a_measured_back_pressure_is_believed_before_the_sheet(by_hand):
    pull = by_hand.pull(LOADS)
    spec = ChannelSpec("outlet", Measures.BACK_PRESSURE, "Pa", standard_uncertainty=300.0)
    signals = replace(pull.signals, back_pressure=by_hand.signal("outlet", Measures.BACK_PRESSURE, np.full(600, 0.3e5)))
    job = by_hand.job((*pull.specs, spec), valve={**BACK, "spindle_diameter_m": 0.012})
    found = measure_pull(signals, job, pull.find)
    assert found.pressure_pa == pytest.approx(PLAIN - 0.84 * 0.3e5 + 1.2e5, abs=0.01)
    assert line_of(found.budget, "back pressure").contribution_pa == pytest.approx(0.84 * 300.0, rel=1e-6)


def in_gtc(gtc, specs, seat, *, u_line, u_force_n, u_tare_n, area):
    """The same measurement in a second library: cells of one calibration share one unknown."""
    shared = {}
    force = gtc.ureal(0.0, u_force_n) - gtc.ureal(0.0, u_tare_n)
    for spec, load in zip(specs, LOADS, strict=True):
        name = spec.calibrated_with or spec.serial or spec.column
        error = shared.setdefault(name, gtc.ureal(0.0, 1.0))
        force += load + math.hypot(spec.relative_standard_uncertainty * load, spec.standard_uncertainty) * error
    return gtc.ureal(8e5, u_line) + force / gtc.ureal(area, seat.u_area_m2)


@pytest.mark.parametrize("calibrated", [("stand A", "stand A"), ("stand A", "stand B"), ("", "")])
def test_the_budget_agrees_with_a_second_library(by_hand, calibrated):
    gtc = pytest.importorskip("GTC")
    known = {"relative_standard_uncertainty": 0.004, "standard_uncertainty": 0.6}
    specs = tuple(by_hand.cell(f"cell {i}", calibrated_with=name, **known) for i, name in enumerate(calibrated))
    seat = Seat(by_hand.area, 2.5e-6, 0.0, "measured", "area")
    pull = by_hand.pull(LOADS, specs=specs, u_force_n=1.5, u_tare_n=0.7)
    budget = measure_pull(pull.signals, by_hand.job(specs, seat=seat), pull.find).budget
    theirs = in_gtc(gtc, specs, seat, u_line=0.002 * 8e5, u_force_n=1.5, u_tare_n=0.7, area=by_hand.area)
    assert budget.standard_uncertainty_pa == pytest.approx(theirs.u, rel=1e-9)
    assert budget.expanded_uncertainty_pa == pytest.approx(1.959964 * theirs.u, rel=1e-6)
    assert sum(line.share for line in budget.lines) == pytest.approx(1.0)


def test_cells_of_one_calibration_weigh_more_than_two_of_their_own(by_hand):
    def u(names):
        specs = tuple(
            by_hand.cell(f"cell {i}", calibrated_with=n, relative_standard_uncertainty=0.01)
            for i, n in enumerate(names)
        )
        pull = by_hand.pull((100.0, 100.0), specs=specs, u_force_n=0.0, u_tare_n=0.0)
        gauge = ChannelSpec("line", Measures.LINE_PRESSURE, "Pa")
        found = measure_pull(pull.signals, by_hand.job(specs, gauge=gauge), pull.find)
        return found.budget.standard_uncertainty_pa * by_hand.area

    # 1 N each: 2 N together where the error is one, sqrt(2) N where it is not
    assert u(("stand A", "stand A")) == pytest.approx(2.0, rel=1e-6)
    assert u(("", "")) == pytest.approx(math.sqrt(2.0), rel=1e-6)


def test_what_pulls_share_leaves_out_what_each_has_of_its_own(by_hand):
    budget = measured(by_hand).budget
    shared = shared_spread(budget)
    own = budget.per_pull_pa
    assert math.hypot(shared.expanded(0.95) / 1.959964, own) == pytest.approx(budget.standard_uncertainty_pa, rel=1e-6)


def test_a_seat_known_by_its_edges_counts_as_a_rectangle(by_hand):
    seat = Seat(by_hand.area, 0.0, 20e-6, "drawing", "edges")
    line = line_of(measured(by_hand, seat=seat).budget, "seat area between its edges")
    assert line.distribution == "rectangular"
    # dp/dA = - F / A^2
    assert line.contribution_pa == pytest.approx(200.0 / by_hand.area**2 * 20e-6 / math.sqrt(3.0))


def test_a_zero_that_moved_is_a_line(by_hand):
    pull = by_hand.pull(LOADS, zero_shift_n=6.0)
    line = line_of(measure_pull(pull.signals, by_hand.job(pull.specs), pull.find).budget, "zero shift")
    assert line.contribution_pa == pytest.approx(6.0 / math.sqrt(3.0) / by_hand.area)


def test_no_line_pressure_no_set_pressure(by_hand):
    pull = by_hand.pull(LOADS)
    job = by_hand.job(pull.specs)
    assert measure_pull(replace(pull.signals, pressure=None), job, pull.find) is None
    entered = replace(job, visit=replace(job.visit, line_pressure_pa=7e5, u_line_pressure_pa=2e3))
    found = measure_pull(replace(pull.signals, pressure=None), entered, pull.find)
    assert found.pressure_pa == pytest.approx(7e5 + 282942.12, abs=0.01)


@pytest.mark.parametrize("seed", range(4))
def test_a_pull_without_lift_proves_no_more_than_it_carried(by_hand, seed):
    pull = by_hand.pull(LOADS)
    noise = 5.0 * np.random.default_rng(seed).standard_normal(600)
    force = replace(pull.signals.force, value=pull.signals.force.value + noise, sigma=np.full(600, 5.0))
    found = bound_pull(replace(pull.signals, force=force), by_hand.job(pull.specs), pull.window)
    assert found.is_bound
    # means of five samples at 5 N: 2.2 N each; their largest, less what noise adds to a largest, within three of them
    assert found.pressure_pa == pytest.approx(PLAIN, abs=3 * 5.0 / math.sqrt(5) / by_hand.area)


@pytest.mark.parametrize(
    ("body_k", "ambient_k", "cold"),
    [(None, None, False), (293.0, None, True), (450.0, 293.0, False), (300.0, 290.0, True)],
)
def test_the_temperature_factor_belongs_to_a_cold_valve_only(by_hand, body_k, ambient_k, cold):
    cdtp = parse_quantity("10.4 bar", Kind.PRESSURE)
    job = by_hand.job(valve={**BACK, "cold_differential_test_pressure": cdtp, "spindle_diameter_m": 0.012})
    job = replace(job, visit=replace(job.visit, body_temperature_k=body_k, ambient_temperature_k=ambient_k))
    assert uses_cold_test_pressure(job) == cold
    pull = by_hand.pull(LOADS)
    job = replace(job, channels=(*pull.specs, *job.channels))
    service = 0.0 if cold else 1.2e5
    found = measure_pull(pull.signals, job, pull.find)
    assert found.pressure_pa == pytest.approx(PLAIN - 0.84 * 0.5e5 + service, abs=0.01)


def test_a_pull_read_off_by_hand_is_the_same_arithmetic(by_hand):
    pressure, budget = pull_by_hand(8e5, 2e3, 200.0, 1.0, Seat(by_hand.area, 0.0, 0.0, "", ""))
    assert pressure == pytest.approx(PLAIN, abs=0.01)
    assert budget.standard_uncertainty_pa == pytest.approx(math.hypot(2e3, 1.0 / by_hand.area))
