"""Fewer points lose no peak and no gap, and the bytes say what was meant."""

import struct

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from hypothesis.extra.numpy import arrays

from firstlift.web.trace_points import Frame, Points, make_track, pack, points_between, points_in, span_of, unpack

single = st.floats(-1e6, 1e6, width=32)
holey = st.one_of(single, st.just(np.nan))


def track_of(values, rate_hz=1000.0, t0_s=0.0):
    time_s = t0_s + np.arange(len(values)) / rate_hz
    return make_track("a", "pull_force", "N", time_s, np.asarray(values, dtype=float), len(values))


def stretches_of(track, points, first, last):
    """Cut samples and points alike into the stretches that the points tell."""
    index = np.searchsorted(track.time_s, points.time_s)
    for start in range(first, last, points.stretch):
        stop = min(start + points.stretch, last)
        yield track.values[start:stop], points.values[(index >= start) & (index < stop)]


@settings(deadline=None, max_examples=150)
@given(arrays(float, st.integers(1, 3000), elements=holey), st.integers(1, 60), st.floats(0, 1), st.floats(0, 1))
def test_every_stretch_keeps_its_peaks_and_its_gap(values, width, a, b):
    track = track_of(values)
    start_s, stop_s = sorted((a * track.time_s[-1], b * track.time_s[-1]))
    points = points_in(track, start_s, stop_s, width)
    index = np.searchsorted(track.time_s, points.time_s)
    assert np.array_equal(track.values[index], points.values, equal_nan=True)
    assert np.all(np.diff(points.time_s) > 0)
    first = int(index[0]) // points.stretch * points.stretch
    last = min(-(-(int(index[-1]) + 1) // points.stretch) * points.stretch, track.time_s.size)
    for raw, told in stretches_of(track, points, first, last):
        finite = raw[np.isfinite(raw)]
        assert np.isnan(told).any() == np.isnan(raw).any() or points.stretch == 1
        if finite.size:
            assert np.nanmin(told) == finite.min()
            assert np.nanmax(told) == finite.max()
        else:
            assert np.isnan(told).all()


@settings(deadline=None, max_examples=60)
@given(arrays(float, st.integers(1, 3000), elements=single), st.integers(1, 60), st.floats(0, 1), st.floats(0, 1))
def test_no_sample_of_the_window_lies_beyond_what_is_drawn(values, width, a, b):
    track = track_of(values)
    start_s, stop_s = sorted((a * track.time_s[-1], b * track.time_s[-1]))
    points = points_in(track, start_s, stop_s, width)
    inside = (track.time_s >= start_s) & (track.time_s <= stop_s)
    if inside.any():
        assert points.values.max() >= track.values[inside].max()
        assert points.values.min() <= track.values[inside].min()
        assert points.time_s[0] <= track.time_s[inside][0] + points.stretch / 1000.0
    assert points.time_s.size <= 2 * width + 6


@pytest.mark.parametrize("at", [0, 1, 499_999, 777_777, 999_936, 999_999])
def test_one_sample_of_a_million_is_seen_in_a_wide_window(at):
    values = np.zeros(1_000_000)
    values[at] = 7.0
    track = track_of(values)
    points = points_in(track, 0.0, 1000.0, 800)
    assert points.stretch >= 512  # the way through blocks
    assert points.time_s[points.values == 7.0].tolist() == [track.time_s[at]]
    assert points.time_s.size < 1700


@settings(deadline=None, max_examples=20)
@given(st.integers(60_000, 90_000), st.integers(3, 40), st.integers(0, 2**32 - 1))
def test_blocks_tell_the_same_as_samples(size, width, seed):
    rng = np.random.default_rng(seed)
    values = rng.normal(size=size)
    values[rng.integers(0, size, 40)] = np.nan
    start = int(rng.integers(0, size - 500))
    values[start : start + 500] = np.nan
    track = track_of(values)
    points = points_in(track, 0.0, size / 1000.0, width)
    for raw, told in stretches_of(track, points, 0, size):
        assert np.isnan(told).any() == np.isnan(raw).any()
        if np.isfinite(raw).any():
            assert np.nanmin(told) == np.nanmin(raw)
            assert np.nanmax(told) == np.nanmax(raw)


def test_a_narrow_window_is_given_to_the_sample_with_one_neighbour_on_each_side():
    track = track_of(np.arange(1000.0))
    points = points_in(track, 0.2005, 0.2035, 800)
    assert points.stretch == 1
    assert points.time_s.tolist() == track.time_s[200:205].tolist()
    assert points.values.tolist() == [200.0, 201.0, 202.0, 203.0, 204.0]


def test_a_window_moved_by_less_than_a_stretch_draws_the_same_points():
    track = track_of(np.random.default_rng(3).normal(size=50_000))
    one = points_in(track, 10.0, 30.0, 300)
    other = points_in(track, 10.011, 30.011, 300)
    assert one.stretch == other.stretch
    both = (one.time_s > 10.2) & (one.time_s < 29.8)
    assert np.isin(one.time_s[both], other.time_s).all()


def test_a_break_in_time_holds_a_gap_and_one_lost_sample_none():
    time_s = np.concatenate([np.arange(50) * 0.01, [0.51], 1.0 + np.arange(50) * 0.01])
    track = make_track("a", "pull_force", "N", time_s, np.ones(time_s.size), time_s.size)
    lost = np.flatnonzero(np.isnan(track.values))
    assert track.time_s[lost].tolist() == [pytest.approx(0.755)]
    assert track.samples == 101
    assert np.all(np.diff(track.time_s) > 0)


def test_infinite_values_are_gaps():
    track = track_of([1.0, np.inf, 2.0, -np.inf, 1e300])
    assert np.isnan(track.values).tolist() == [False, True, False, True, True]


def test_bytes_lie_as_the_table_says():
    points = (
        Points(np.array([0.25, 0.5]), np.array([1.5, np.nan], dtype=np.float32), 1),
        Points(np.array([0.75]), np.array([-2.0], dtype=np.float32), 8),
    )
    data = pack(Frame(3, 12.5, 0.25, 0.75, 0.0, 9.0, points))
    assert struct.unpack_from("<8d", data) == (1.0, 3.0, 12.5, 0.25, 0.75, 0.0, 9.0, 2.0)
    assert struct.unpack_from("<4d", data, 64) == (2.0, 1.0, 1.0, 8.0)
    assert struct.unpack_from("<3d", data, 96) == (0.25, 0.5, 0.75)
    first, lost, last = struct.unpack_from("<3f", data, 120)
    assert (first, last) == (1.5, -2.0)
    assert np.isnan(lost)
    assert len(data) == 132


@settings(deadline=None, max_examples=30)
@given(st.lists(st.integers(0, 40), max_size=6), st.integers(0, 2**32 - 1))
def test_bytes_come_back_as_they_went(sizes, seed):
    rng = np.random.default_rng(seed)
    points = tuple(Points(rng.random(n), rng.random(n).astype(np.float32), int(rng.integers(1, 99))) for n in sizes)
    back = unpack(pack(Frame(7, 1.0, 2.0, 3.0, 0.0, 9.0, points)))
    assert (back.number, back.start_s, back.stop_s, back.to_s) == (7, 2.0, 3.0, 9.0)
    assert [p.stretch for p in back.points] == [p.stretch for p in points]
    for one, other in zip(back.points, points, strict=True):
        assert np.array_equal(one.time_s, other.time_s)
        assert np.array_equal(one.values, other.values)


def test_samples_between_keep_their_peaks_and_stay_few():
    values = np.zeros(5000)
    values[1234] = 5.0
    points = points_between(track_of(values), 1000, 2000, 10)
    assert points.values.max() == 5.0
    assert points.time_s.size <= 22
    assert points_between(track_of(values), 10, 10, 4).time_s.size == 0


def test_span_of_nothing():
    assert span_of(()) == (0.0, 0.0)
