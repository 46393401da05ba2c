"""A disc that stuck lets the force drop at once: found where it is, and nothing else taken for it."""

import dataclasses

import numpy as np
import pytest

from firstlift.core.job import Measures
from firstlift.core.lift.drop import sharp_drop
from firstlift.core.lift.place import Place
from firstlift.core.signal.condition import Signal, Signals

STEP = 5e-4
TIME_S = np.arange(0.0, 8.0, STEP)
DROP_S = 5.0
PLACE = Place(4.6, 5.4, 4.0, 6.0, 1.0, 7.5)


def signal(name, measures, value, noise, seed):
    noisy = value + noise * np.random.default_rng(seed).standard_normal(value.size)
    return Signal(name, measures, TIME_S, noisy, np.full(value.size, noise), STEP)


def strokes(drop_n):
    """A pump's strokes up to 600 N; at DROP_S the disc lets go."""
    stroke = TIME_S + 0.12 * np.sin(2.0 * np.pi * TIME_S / 0.4) * 0.4 / 0.8
    force = 600.0 * np.minimum(np.maximum(stroke - 1.0, 0.0), DROP_S - 1.0) / (DROP_S - 1.0)
    return np.where(TIME_S > DROP_S, force[np.searchsorted(TIME_S, DROP_S)] - drop_n, force)


def signals(force, *, heard=True, seed=0):
    sound = np.where(heard & (TIME_S > DROP_S), 3.0, 1.0)
    return Signals(
        force=signal("pull force", Measures.PULL_FORCE, force, 3.0, seed),
        cells=(),
        cell_specs=(),
        pressure=None,
        lift=signal("lift", Measures.SPINDLE_LIFT, np.where(TIME_S > DROP_S, 2e-5, 0.0), 1e-6, seed + 1),
        sound=signal("acoustic", Measures.ACOUSTIC, sound, 0.1, seed + 2),
        back_pressure=None,
        saturated_at_n=None,
    )


@pytest.mark.parametrize("seed", range(5))
@pytest.mark.parametrize("drop_n", [15.0, 60.0])
def test_the_last_moment_before_the_drop_is_found(drop_n, seed):
    assert sharp_drop(signals(strokes(drop_n), seed=seed), PLACE) == pytest.approx(DROP_S, abs=0.008)


def test_scale_and_offset_of_the_force_do_not_matter():
    plain = signals(strokes(40.0))
    force = plain.force
    moved = Signal("pull force", Measures.PULL_FORCE, TIME_S, 70.0 + 1e-3 * force.value, 1e-3 * force.sigma, STEP)
    assert sharp_drop(dataclasses.replace(plain, force=moved), PLACE) == sharp_drop(plain, PLACE)


def test_a_drop_that_is_not_heard_is_a_frame_that_slipped():
    assert sharp_drop(signals(strokes(60.0), heard=False), PLACE) is None


def test_strokes_alone_are_no_drop():
    force = 150.0 * (TIME_S - 1.0) + 15.0 * np.sin(2.0 * np.pi * TIME_S / 0.4)
    assert sharp_drop(signals(np.maximum(force, 0.0)), PLACE) is None


def test_a_drop_from_less_than_the_force_has_been_came_after_first_lift():
    force = strokes(0.0)
    force = np.where(TIME_S > 4.3, force - 0.3 * (force.max() - force.min()), force)
    force = np.where(TIME_S > DROP_S, force - 60.0, force)
    found = sharp_drop(signals(force), PLACE)
    assert found is None or found < 4.4
