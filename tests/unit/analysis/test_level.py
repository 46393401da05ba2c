"""Line pressure at an instant is that instant's, not an average around it."""

import numpy as np
import pytest

from firstlift.core.job import Measures
from firstlift.core.lift.level import level_at
from firstlift.core.signal.condition import Signal

STEP, NOISE = 2e-3, 100.0
TIME = np.arange(5000) * STEP
AT = 5.0


def read(level, seed=0, longest_s=0.5):
    values = level + NOISE * np.random.default_rng(seed).standard_normal(TIME.size)
    line = Signal("line", Measures.LINE_PRESSURE, TIME, values, np.full(TIME.size, NOISE), STEP)
    value, u = level_at(line, np.array([AT]), shortest_s=10 * STEP, longest_s=longest_s)
    return float(value[0]), float(u[0])


def sagging(depth):
    return 8e5 * (1.0 - depth * -np.expm1(-np.maximum(TIME - AT, 0.0) / 0.3))


@pytest.mark.parametrize("depth", [0.02, 0.06])
@pytest.mark.parametrize("seed", range(5))
def test_a_line_that_sags_at_the_moment_is_not_averaged_over_it(depth, seed):
    level = sagging(depth)
    value, u = read(level, seed)
    around = level[np.abs(TIME - AT) <= 0.5].mean()
    assert 8e5 - around > 20 * NOISE, "an average would be far off"
    # the window chosen agrees with the shortest one within two standard uncertainties of each (that is how it is
    # chosen), and the shortest, which holds next to no sag, is itself right within two
    _, u_shortest = read(level, seed, longest_s=10 * STEP)
    assert value == pytest.approx(8e5, abs=2.0 * u + 4.0 * u_shortest)
    assert 2.0 * u + 4.0 * u_shortest < 4e-4 * 8e5


@pytest.mark.parametrize("slope", [0.0, 5e3, -5e3])
def test_a_drifting_line_is_read_at_the_moment_and_better_than_one_sample(slope):
    errors = [read(8e5 + slope * (TIME - AT), seed)[0] - 8e5 for seed in range(40)]
    u = np.mean([read(8e5 + slope * (TIME - AT), seed)[1] for seed in range(40)])
    assert u < 0.5 * NOISE
    # forty readings know their scatter to 11 %; the window is chosen by the same data, which costs some
    assert 0.6 * u < np.std(errors) < 1.6 * u
    assert abs(np.mean(errors)) < 4.0 * u / np.sqrt(40.0)


def test_a_ripple_is_followed():
    level = 8e5 + 4e3 * np.sin(2 * np.pi * 1.0 * (TIME - AT) + 1.2)
    value, _ = read(level)
    assert value == pytest.approx(8e5 + 4e3 * np.sin(1.2), abs=150.0)


def test_many_instants_are_read_in_one_go():
    line = Signal("line", Measures.LINE_PRESSURE, TIME, 8e5 + 1e4 * TIME, np.full(TIME.size, 1.0), STEP)
    at = np.linspace(4.9, 5.1, 200)
    value, u = level_at(line, at, shortest_s=10 * STEP, longest_s=0.5)
    assert value == pytest.approx(8e5 + 1e4 * at, rel=1e-9)
    assert u.shape == at.shape


def test_a_channel_with_too_few_samples_gives_its_nearest():
    line = Signal("line", Measures.LINE_PRESSURE, np.array([0.0, 9.0]), np.array([1.0, 2.0]), np.full(2, 0.1), 9.0)
    value, u = level_at(line, np.array([8.0]), shortest_s=0.1, longest_s=0.5)
    assert (value[0], u[0]) == (2.0, 0.1)
