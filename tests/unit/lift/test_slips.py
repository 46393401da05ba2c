"""Discs that move by fits and starts: slips found where they are, and none where the lift moves smoothly."""

import numpy as np
import pytest

from firstlift.core.job import Measures
from firstlift.core.lift.slips import first_slips
from firstlift.core.signal.condition import Signal

TIME_S = np.arange(0.0, 10.0, 5e-4)
FIRST_S, STICK_S, SLIP_M = 3.2, 0.18, 8e-6


def lift(value, noise_m=1e-6, seed=0):
    noisy = value + np.random.default_rng(seed).normal(0.0, noise_m, value.size)
    return Signal("lift", Measures.SPINDLE_LIFT, TIME_S, noisy, np.full(value.size, noise_m), 5e-4)


def staircase(first_share=1.0):
    """Slips of some 10 ms, one every STICK_S; the first may be smaller."""
    x = np.zeros(TIME_S.size)
    for number in range(30):
        size = SLIP_M * (first_share if number == 0 else 1.0)
        x += size * np.clip((TIME_S - FIRST_S - number * STICK_S) / 0.01 + 0.5, 0.0, 1.0)
    return x


@pytest.mark.parametrize("first_share", [1.0, 0.4])
def test_the_first_two_slips_are_found(first_share):
    first, second = first_slips(lift(staircase(first_share)), 2.5, 8.0)
    assert first == pytest.approx(FIRST_S, abs=0.012)
    assert second == pytest.approx(FIRST_S + STICK_S, abs=0.012)


def test_offset_and_scale_do_not_matter():
    plain = lift(staircase())
    moved = Signal("lift", Measures.SPINDLE_LIFT, TIME_S, 5.0 + 1e3 * plain.value, 1e3 * plain.sigma, 5e-4)
    assert first_slips(moved, 2.5, 8.0) == first_slips(plain, 2.5, 8.0)


@pytest.mark.parametrize(
    "value",
    [
        np.zeros(TIME_S.size),
        4e-5 * np.maximum(TIME_S - FIRST_S, 0.0),
        1e-3 * (TIME_S > FIRST_S),
        # a hand pump: half a second of stroke, half a second of rest
        np.cumsum(np.where((TIME_S > FIRST_S) & (TIME_S % 1.0 < 0.5), 8e-5, 0.0)) * 5e-4,
    ],
    ids=["still", "smooth", "snap", "strokes"],
)
def test_other_motion_has_no_slips(value):
    assert first_slips(lift(value), 2.5, 8.0) is None


def test_slips_lost_in_the_noise_are_none():
    assert first_slips(lift(staircase(), noise_m=4e-5), 2.5, 8.0) is None
