"""The bend that is seen comes after first lift: by how much is not known, and no number of channels averages it out."""

import numpy as np
import pytest

from firstlift.core.lift.lag import LONGEST_LAG_S, allow_for_lag


def moments(time_s, density):
    mean = float(density @ time_s)
    return mean, float(np.sqrt(density @ np.square(time_s - mean)))


@pytest.mark.parametrize("spread_s", [0.0005, 0.004, 0.05])
def test_first_lift_is_earlier_by_half_the_longest_lag_and_less_certain_by_its_spread(spread_s):
    time_s = np.linspace(1.0 - 7 * spread_s, 1.0 + 7 * spread_s, 91)
    density = np.exp(-0.5 * np.square((time_s - 1.0) / spread_s))
    density /= density.sum()
    at, probability, *_ = allow_for_lag(time_s, density, 100.0 * time_s, np.ones(91), 100.0)
    mean, spread = moments(at, probability)
    assert probability.sum() == pytest.approx(1.0)
    assert mean == pytest.approx(1.0 - 0.5 * LONGEST_LAG_S, abs=0.05 * spread_s + 2e-5)
    # variances add: that of a rectangle is its width squared over twelve (JCGM 100:2008, 4.3.7)
    assert spread == pytest.approx(np.hypot(spread_s, LONGEST_LAG_S / np.sqrt(12.0)), rel=0.02)


def test_the_force_goes_on_before_the_first_candidate_as_it_came():
    time_s = np.linspace(1.0, 1.001, 41)
    flat = np.full(41, 1.0 / 41)
    at, _, force, u = allow_for_lag(time_s, flat, 500.0 + 0.0 * time_s, np.full(41, 2.0), 300.0)
    assert at[0] == pytest.approx(1.0 - LONGEST_LAG_S)
    assert force[0] == pytest.approx(500.0 - 300.0 * LONGEST_LAG_S)
    assert force[-1] == pytest.approx(500.0)
    assert u == pytest.approx(np.full(41, 2.0))
