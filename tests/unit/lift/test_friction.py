"""Friction is half the distance of the branches of force over lift; what is no friction is not taken for it."""

import dataclasses

import numpy as np
import pytest

from firstlift.core.job import Measures
from firstlift.core.lift.friction import friction_of_loop
from firstlift.core.lift.onset import Loading
from firstlift.core.signal.condition import Signal, Signals

STEP = 1e-3
TIME_S = np.arange(0.0, 10.0, STEP)
OPENS_S, TOP_S, CLOSES_S = 2.0, 5.0, 8.0
OPENING_N, SPRING_N_M, STIFF_M_N = 500.0, 2e5, 1e-7
NONE = np.empty(0)
LOADING = Loading(0.0, TOP_S, NONE, NONE, 1.0, NONE, 1e-6, None, STIFF_M_N, 0.0)


def signal(name, measures, value, noise):
    noisy = value + noise * np.random.default_rng(7).standard_normal(value.size)
    return Signal(name, measures, TIME_S, noisy, np.full(value.size, noise), STEP)


def pulled(friction_n, *, rises_s=TOP_S - OPENS_S, sags_pa=0.0):
    """A disc that rises by 0.4 mm, stands, and comes down again; friction against either way."""
    up = np.clip((TIME_S - OPENS_S) / rises_s, 0.0, 1.0)
    down = np.clip((TIME_S - TOP_S) / (CLOSES_S - TOP_S), 0.0, 1.0)
    disc = 4e-4 * (up - down)
    force = OPENING_N + SPRING_N_M * disc - 2.0 * friction_n * (TIME_S > TOP_S)
    return Signals(
        force=signal("pull force", Measures.PULL_FORCE, force, 1.0),
        cells=(),
        cell_specs=(),
        pressure=signal("line", Measures.LINE_PRESSURE, 10e5 - sags_pa * (TIME_S > TOP_S), 100.0),
        lift=signal("lift", Measures.SPINDLE_LIFT, disc + STIFF_M_N * force, 1e-6),
        sound=None,
        back_pressure=None,
        saturated_at_n=None,
    )


@pytest.mark.parametrize("friction_n", [0.0, 12.0, 60.0])
def test_half_the_distance_of_the_branches(friction_n):
    assert friction_of_loop(pulled(friction_n), LOADING, OPENS_S, CLOSES_S) == pytest.approx(friction_n, abs=0.6)


def test_closure_seen_late_changes_nothing():
    signals = pulled(30.0)
    at_once, late = (friction_of_loop(signals, LOADING, OPENS_S, at) for at in (CLOSES_S, CLOSES_S + 1.5))
    assert late == pytest.approx(at_once, abs=0.6)


def test_a_disc_that_jumps_open_tells_no_friction():
    assert friction_of_loop(pulled(30.0, rises_s=0.05), LOADING, OPENS_S, CLOSES_S) is None


def test_another_line_pressure_on_the_way_down_tells_no_friction():
    assert friction_of_loop(pulled(30.0, sags_pa=8e3), LOADING, OPENS_S, CLOSES_S) is None


def test_without_lift_no_loop():
    assert friction_of_loop(dataclasses.replace(pulled(30.0), lift=None), LOADING, OPENS_S, CLOSES_S) is None
