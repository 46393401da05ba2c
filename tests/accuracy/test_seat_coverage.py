"""Intervals of fitted seat areas against valves whose area is known: they hold the truth in 93 to 98 of 100.

Every trial draws new errors of the instruments (the same for all pulls of a trial), of each pull, and the
perturbation of its kind. Same seed, same trials.
"""

import datetime as dt
import functools
import math
import uuid
from dataclasses import replace

import numpy as np
import pytest

from firstlift.core.job import ChannelSpec, Job, Measures, Purpose, RecordingSpec, Rules, Visit
from firstlift.core.seat.bench import BenchPair, fit_bench
from firstlift.core.seat.choose import Held, shared_tags
from firstlift.core.seat.fit import Instrument, Role, record_of
from firstlift.core.seat.pressures import LinePull, fit_pressures
from firstlift.core.seat.record import seat_of
from firstlift.core.uncertainty.budget import Input, make_budget
from firstlift.core.uncertainty.instruments import cell_lines, gauge_lines, seat_share_lines, shared_correlations
from firstlift.core.units import Kind, parse_quantity
from firstlift.core.valve import Medium, Seat, Valve

TRIALS = 2000
AREA, SET = 7e-4, 1e6
CELLS = (
    Instrument(Role.CELL, "cell:C1", "C1", 0.003, 0.2, load_share=0.6),
    Instrument(Role.CELL, "cell:C2", "C2", 0.004, 0.3, load_share=0.4),
)
GAUGE = Instrument(Role.GAUGE, "gauge:G1", "G1", 0.003, 400.0)
BENCH = Instrument(Role.BENCH_GAUGE, "gauge:B1", "B1", 0.001, 300.0)
U_PULL, U_LINE, U_BENCH = 1.2, 400.0, 2500.0


class Rig:
    """The instruments of one trial, each with its own error that stays."""

    def __init__(self, rng, cells=CELLS):
        self.rng, self.cells = rng, cells
        self.error = {item.tag: rng.standard_normal(2) for item in (*cells, GAUGE, BENCH)}

    def read(self, item, value, share=1.0):
        scale, offset = self.error[item.tag]
        return item.relative_standard_uncertainty * share * value * scale + item.standard_uncertainty * offset

    def pull(self, force, u=U_PULL):
        common = sum(self.read(cell, force, cell.load_share) for cell in self.cells)
        return force + common + u * self.rng.standard_normal()

    def line(self, pressure, item=GAUGE, u=U_LINE):
        return pressure + self.read(item, pressure) + u * self.rng.standard_normal()


def line_pulls(rig, levels, *, extra=None, u_pull=U_PULL, conditions=None):
    """Pulls at line pressures; ``extra`` newtons act in the valve, ``conditions`` are what was noted of each."""
    extra = np.zeros(len(levels)) if extra is None else extra
    noted = conditions or [{}] * len(levels)
    return [
        LinePull(rig.line(level), U_LINE, rig.pull(AREA * (SET - level) + more), u_pull, **known)
        for level, more, known in zip(levels, extra, noted, strict=True)
    ]


def two_levels(rig):
    return fit_pressures(line_pulls(rig, [4e5, 8e5]), (*CELLS, GAUGE)), 0.0


def four_pulls(rig):
    return fit_pressures(line_pulls(rig, [4e5, 4e5, 8e5, 8e5]), (*CELLS, GAUGE)), 0.0


def one_calibration(rig):
    return fit_pressures(line_pulls(rig, [4e5, 6e5, 8e5]), (*rig.cells, GAUGE)), 0.0


def steady_friction(rig):
    """The same friction in every pull: the set pressure the pulls find is the one with friction."""
    friction = rig.rng.uniform(0.0, 20.0)
    pulls = line_pulls(rig, [4e5, 6e5, 8e5], extra=[friction] * 3)
    return fit_pressures(pulls, (*CELLS, GAUGE), friction), friction / AREA


def unsteady_friction(rig):
    """Friction that differs from pull to pull by what the pulls' own uncertainty states."""
    spread = 3.0
    extra = 15.0 + spread * rig.rng.standard_normal(4)
    pulls = line_pulls(rig, [4e5, 4e5, 8e5, 8e5], extra=extra, u_pull=math.hypot(U_PULL, spread))
    return fit_pressures(pulls, (*CELLS, GAUGE)), 15.0 / AREA


def warming_spring(rig):
    """A spring that follows the body's temperature by nothing to wholly, warmer at the higher line pressure."""
    kelvin = np.array([300.0, 304.0, 308.0])
    softer = rig.rng.uniform(0.0, 3e-4) * (kelvin - kelvin.mean())
    pulls = line_pulls(
        rig, [4e5, 6e5, 8e5], extra=-AREA * SET * softer, conditions=[{"temperature_k": float(t)} for t in kelvin]
    )
    return fit_pressures(pulls, (*CELLS, GAUGE)), 0.0


def unlike_back_pressure(rig):
    """Back pressure that acts on nothing to all of the seat area, higher at the higher line pressure."""
    back = np.array([0.0, 2e3, 4e3])
    extra = rig.rng.uniform(0.0, 1.0) * AREA * (back - back.mean())
    pulls = line_pulls(rig, [4e5, 6e5, 8e5], extra=extra, conditions=[{"back_pressure_pa": float(b)} for b in back])
    return fit_pressures(pulls, (*CELLS, GAUGE)), 0.0


def bench_pairs(rig):
    pairs = [
        BenchPair(
            rig.line(level), U_LINE, rig.pull(AREA * (opening - level)), U_PULL,
            rig.line(opening, BENCH, U_BENCH), U_BENCH,
        )
        for level, opening in ((6e5, SET), (7e5, 1.06 * SET), (5.5e5, 0.95 * SET))
    ]  # fmt: skip
    return fit_bench(pairs, (*CELLS, GAUGE, BENCH)), 0.0


PAIR = tuple(replace(cell, tag="cell:PAIR", relative_standard_uncertainty=0.004) for cell in CELLS)
KINDS = [
    two_levels, four_pulls, steady_friction, unsteady_friction, warming_spring, unlike_back_pressure, bench_pairs,
    one_calibration,
]  # fmt: skip


@functools.cache
def covered(kind):
    """Give the shares of trials that hold area and set pressure, products of their errors, stated covariances."""
    rng = np.random.default_rng(KINDS.index(kind))
    area, opening, products, stated = [], [], [], []
    for _ in range(TRIALS):
        fit, raised = kind(Rig(rng, PAIR if kind is one_calibration else CELLS))
        off = fit.area_m2 - AREA
        area.append(abs(off) <= fit.expanded_area_m2())
        if fit.set_pressure_pa is not None:
            error = fit.set_pressure_pa - SET - raised
            opening.append(abs(error) <= fit.expanded_set_pressure_pa())
            products.append(off * error)
            stated.append(fit.covariance_m2_pa)
    return np.mean(area), np.mean(opening or [0.95]), np.array(products), np.array(stated)


@pytest.mark.parametrize("kind", KINDS, ids=lambda kind: kind.__name__)
def test_intervals_hold_area_and_set_pressure(kind):
    area, opening, _, _ = covered(kind)
    assert 0.93 <= area <= 0.98
    assert 0.93 <= opening <= 0.98


@pytest.mark.parametrize("kind", [two_levels, four_pulls, steady_friction], ids=lambda kind: kind.__name__)
def test_area_and_set_pressure_move_together_as_stated(kind):
    _, _, products, stated = covered(kind)
    spread = float(np.std(products)) / math.sqrt(TRIALS)
    # the median: one trial in twenty is widened for a scatter that was chance
    assert float(np.mean(products)) == pytest.approx(float(np.median(stated)), abs=4.0 * spread)


SPECS = tuple(
    ChannelSpec(
        item.serial,
        Measures.LINE_PRESSURE if item is GAUGE else Measures.PULL_FORCE,
        "Pa" if item is GAUGE else "N",
        relative_standard_uncertainty=item.relative_standard_uncertainty,
        standard_uncertainty=item.standard_uncertainty,
        serial=item.serial,
    )
    for item in (*CELLS, GAUGE)
)
JOB = Job(
    Visit(dt.date(2026, 5, 4), Purpose.AS_FOUND),
    Valve("PSV-1", "S-1", parse_quantity("10 bar", Kind.PRESSURE), Medium.GAS),
    Seat(AREA, 0.0, 0.0, "", ""),
    Rules("iso-4126-1"),
    RecordingSpec("recording.csv", time_column="time_s"),
    SPECS,
)


def later_test(rig, fit, held):
    """A later pull computed with the fitted area: its error, and what its budget says."""
    record = record_of(fit, uuid.UUID(int=1), uuid.UUID(int=2), dt.date(2026, 5, 4))
    seat = seat_of(record, shared_tags(record, held))
    pull, line = rig.pull(AREA * (SET - 5e5)), rig.line(5e5)
    slope, per_force = -pull / seat.area_m2**2, 1.0 / seat.area_m2
    lines = [Input("seat area", seat.area_m2, "m2", seat.u_area_m2, "normal", math.inf, slope, "seat")]
    for spec, item in zip(SPECS[:2], CELLS, strict=True):
        lines += cell_lines(spec, item.load_share * pull, per_force, seat)
    lines += gauge_lines(replace(JOB, seat=seat), line)
    lines += seat_share_lines(seat, slope)
    lines.append(Input("own", 0.0, "Pa", math.hypot(U_LINE, U_PULL * per_force), "normal", math.inf, 1.0, "pull"))
    budget = make_budget(lines, shared_correlations(lines))
    return abs(line + pull / seat.area_m2 - SET), budget.expanded_uncertainty_pa


def later_coverage(kind, held, seed):
    rng = np.random.default_rng(seed)
    inside, widths = [], []
    for _ in range(TRIALS):
        rig = Rig(rng)
        error, expanded = later_test(rig, kind(rig)[0], held)
        inside.append(error <= expanded)
        widths.append(expanded)
    return np.mean(inside), np.mean(widths)


SAME = tuple(Held(item.tag, item.serial) for item in (*CELLS, GAUGE))


@pytest.mark.parametrize("kind", [four_pulls, bench_pairs], ids=lambda kind: kind.__name__)
def test_a_later_test_with_the_instruments_that_found_the_area_holds_the_set_pressure(kind):
    share, width = later_coverage(kind, SAME, seed=1)
    assert 0.93 <= share <= 0.98
    # taking the shared errors for new ones, as with a new calibration, would miss what they have in common
    _, naive = later_coverage(kind, tuple(replace(each, calibration="new") for each in SAME), seed=1)
    assert width != pytest.approx(naive, rel=0.02)
