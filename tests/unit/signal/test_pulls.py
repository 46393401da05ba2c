"""Pulls are found whatever their number, size, offset and shape; each has its own tare."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from firstlift.core.job import Measures
from firstlift.core.signal.condition import Signal
from firstlift.core.signal.noise import noise_floor
from firstlift.core.signal.pulls import find_pulls

STEP = 2e-3
REST, RISE, HOLD, FALL = 2.0, 1.5, 0.3, 0.2


def force(values, start_s=0.0):
    sigma = noise_floor(values)
    time_s = start_s + np.arange(values.size) * STEP
    return Signal("pull force", Measures.PULL_FORCE, time_s, values, np.full(values.size, sigma), STEP)


def at(time_s, starts, size=1000.0):
    corners = [(0.0, 0.0)]
    for start in starts:
        corners += [(start, 0.0), (start + RISE, size), (start + RISE + HOLD, size), (start + RISE + HOLD + FALL, 0.0)]
    return np.interp(time_s, *zip(*corners, strict=True))


def record(count, *, size=1000.0, sigma=1.0, offset=0.0, seed=0):
    each = REST + RISE + HOLD + FALL
    starts = [REST + index * each for index in range(count)]
    time_s = np.arange(round((count * each + REST) / STEP)) * STEP
    noise = sigma * np.random.default_rng(seed).standard_normal(time_s.size)
    return starts, offset + at(time_s, starts, size) + noise


@pytest.mark.parametrize("count", [1, 2, 3, 7, 20])
def test_every_pull_is_found_once_and_in_order(count):
    starts, values = record(count)
    found = find_pulls(force(values))
    assert [pull.number for pull in found] == list(range(1, count + 1))
    for pull, start in zip(found, starts, strict=True):
        # the foot is seen at 2.5 % of the pull, on blocks of 20 ms
        assert start - 0.02 <= pull.start_s <= start + 0.10 * RISE
        assert start + RISE - 0.05 <= pull.peak_s <= start + RISE + HOLD + 0.05
        assert pull.end_s == pytest.approx(start + RISE + HOLD + FALL, abs=0.06)
        assert pull.slack_proven


@pytest.mark.parametrize("creep", [-0.05, -0.02, 0.02, 0.05])
def test_a_zero_that_creeps_neither_splits_nor_joins_pulls(creep):
    """The zero creeps by a part of the pull from one pull to the next; the force sinks to half within each."""
    starts, values = record(4)
    time_s = np.arange(values.size) * STEP
    for start in starts:
        held = (time_s > start + RISE) & (time_s < start + RISE + HOLD)
        values = np.where(held, 0.5 * values, values)
    found = find_pulls(force(values + 1000.0 * creep * time_s / (REST + RISE + HOLD + FALL)))
    assert len(found) == 4
    for pull, start in zip(found, starts, strict=True):
        assert pull.start_s == pytest.approx(start, abs=0.2 * RISE)


def test_no_pull_in_slack():
    assert find_pulls(force(np.random.default_rng(1).standard_normal(5000))) == ()


def test_a_pull_by_strokes_is_one_pull():
    time_s = np.arange(6000) * STEP
    stairs = 100.0 * np.clip(np.floor((time_s - 3.0) / 0.6), 0, 9)
    values = np.where(time_s < 9.5, stairs, 0.0) + np.random.default_rng(2).standard_normal(6000)
    (pull,) = find_pulls(force(values))
    assert pull.start_s == pytest.approx(3.6, abs=0.05)
    assert pull.end_s == pytest.approx(9.5, abs=0.05)


@pytest.mark.parametrize("moved", [60.0, 30.0, 5.0, -5.0, -30.0])
def test_tare_is_the_slack_reading_before_each_pull_wherever_the_zero_went(moved):
    starts, values = record(2, offset=250.0)
    values[round((starts[0] + RISE + HOLD) / STEP) :] += moved  # the zero moves as the first pull lets go
    first, second = find_pulls(force(values))
    assert first.start_s == pytest.approx(starts[0], abs=0.1)
    assert second.start_s == pytest.approx(starts[1], abs=0.1)
    assert first.tare_n == pytest.approx(250.0, abs=5 * first.u_tare_n)
    assert second.tare_n == pytest.approx(250.0 + moved, abs=5 * second.u_tare_n)
    assert first.zero_shift_n == pytest.approx(moved, abs=0.5)
    assert second.zero_shift_n == pytest.approx(0.0, abs=0.5)


def test_an_unloaded_cell_may_read_below_zero():
    starts, values = record(1, offset=-2000.0)
    (pull,) = find_pulls(force(values))
    assert starts[0] + RISE - 0.05 <= pull.peak_s <= starts[0] + RISE + HOLD + 0.05


def test_tares_uncertainty_is_that_of_a_mean():
    _, values = record(1, sigma=4.0)
    (pull,) = find_pulls(force(values))
    # about 0.8 s of slack at 500 Hz and 4 N: 4 / sqrt(400) = 0.2 N; the scatter of ten means knows it to a quarter
    assert 0.1 < pull.u_tare_n < 0.45


def test_a_record_that_starts_within_a_pull_says_so_and_takes_the_slack_after_it():
    _, values = record(1, offset=100.0)
    late = values[round((REST + 0.4) / STEP) :]
    (pull,) = find_pulls(force(late))
    assert not pull.slack_proven
    assert pull.tare_n == pytest.approx(100.0, abs=1.0)
    assert pull.zero_shift_n is None


@settings(derandomize=True, max_examples=25, deadline=None)
@given(st.floats(0.02, 500.0), st.floats(-5.0, 5.0), st.floats(-1e4, 1e4))
def test_pulls_do_not_change_with_scale_offset_and_clock(scale, offsets, shift_s):
    _, values = record(3)
    plain = find_pulls(force(values))
    changed = find_pulls(force(scale * (values + 1000.0 * offsets), shift_s))
    assert len(changed) == len(plain)
    for one, other in zip(plain, changed, strict=True):
        # a clock at 1e4 s is good to 2e-12 s; a sample on a bound may fall to either side of it: two steps
        for name in ("start_s", "peak_s", "end_s"):
            assert getattr(other, name) - shift_s == pytest.approx(getattr(one, name), abs=2 * STEP)
        assert other.tare_n / scale - 1000.0 * offsets == pytest.approx(one.tare_n, abs=0.02)


def crept(rate, *, shape=lambda time_s: time_s, count=2):
    starts, values = record(count)
    time_s = np.arange(values.size) * STEP
    return starts, force(values + rate * shape(time_s))


@pytest.mark.parametrize("rate", [-8.0, 4.0, 12.0])
def test_a_steady_creep_moves_the_zero_on_during_the_pull(rate):
    starts, creeping = crept(rate)
    for pull, start in zip(find_pulls(creeping), starts, strict=True):
        zero, u_zero = pull.zero_n(start + RISE)
        assert pull.creep is not None
        assert zero == pytest.approx(rate * (start + RISE), abs=max(4.0 * u_zero, 0.3))
        assert u_zero < 0.3 * abs(pull.zero_shift_n)


def test_a_zero_that_jumped_during_the_pull_may_have_moved_by_all_of_it():
    starts, jumped = crept(20.0, shape=lambda time_s: np.where(time_s > REST + RISE + 0.1, 1.0, 0.0), count=1)
    (pull,) = find_pulls(jumped)
    assert pull.creep is None
    zero, u_zero = pull.zero_n(starts[0] + RISE)
    assert zero == pull.tare_n
    assert u_zero == pytest.approx(20.0 / np.sqrt(3.0), rel=0.02)


def test_a_zero_that_stands_still_adds_nothing():
    starts, values = record(2)
    for pull in find_pulls(force(values)):
        assert pull.zero_n(starts[0]) == (pull.tare_n, 0.0)


def test_pulls_are_found_where_the_zero_creeps_by_more_than_their_scatter_of_slack_allows():
    """Three long pulls, each a step higher than the last: the slack of the whole record is as wide as a pull's foot."""
    starts = [4.7, 20.4, 36.0]
    time_s = np.arange(0.0, 52.0, STEP)
    value = np.zeros(time_s.size)
    for start in starts:
        sinking = 0.55 + 0.45 * np.exp(-(time_s - start - 3.0) / 2.5)
        held = (time_s > start + 3.0) & (time_s < start + 11.8)
        rising = (time_s >= start) & (time_s <= start + 3.0)
        value = np.where(held, 530.0 * sinking, np.where(rising, 530.0 * (time_s - start) / 3.0, value))
    noise = 3.0 * np.random.default_rng(1).standard_normal(time_s.size)
    found = find_pulls(force(value + 1.9 * time_s + noise))
    assert [pull.start_s for pull in found] == pytest.approx(starts, abs=0.4)


def test_a_zero_that_only_creeps_is_no_pull():
    time_s = np.arange(0.0, 30.0, STEP)
    assert find_pulls(force(5.0 * time_s + np.random.default_rng(2).standard_normal(time_s.size))) == ()


def test_what_no_slack_proves_alone_the_whole_record_may():
    """So noisy that two seconds of slack do not tell how fast they creep; the pulls' slacks together do."""
    starts, values = record(4, sigma=12.0)
    time_s = np.arange(values.size) * STEP
    found = find_pulls(force(values + 3.0 * time_s))
    assert all(pull.creep is not None for pull in found)
    for pull, start in zip(found, starts, strict=True):
        zero, u_zero = pull.zero_n(start + RISE)
        assert zero == pytest.approx(3.0 * (start + RISE), abs=4.0 * float(np.hypot(u_zero, pull.u_tare_n)))
        assert u_zero < 0.5 * abs(pull.zero_shift_n) / np.sqrt(3.0)


def test_equal_jumps_at_every_pull_are_no_creep():
    starts, values = record(4)
    time_s = np.arange(values.size) * STEP
    jumps = sum(12.0 * (time_s > start + RISE + 0.1) for start in starts)
    found = find_pulls(force(values + jumps))
    assert [pull.creep for pull in found] == [None] * 4
    assert [pull.zero_n(pull.peak_s)[1] for pull in found] == pytest.approx([12.0 / np.sqrt(3.0)] * 4, rel=0.05)
