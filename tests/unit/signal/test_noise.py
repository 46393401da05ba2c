"""Noise floor, spikes and hum: what is taken away is disturbance, what stays is signal."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from firstlift.core.signal.noise import find_spikes, local_noise, noise_floor, remove_hum, resolution
from firstlift.core.signal.straight import fit_straight

STEP = 1e-3


def white(count, sigma, seed=0):
    return sigma * np.random.default_rng(seed).standard_normal(count)


@pytest.mark.parametrize("seed", range(5))
@pytest.mark.parametrize("sigma", [1e-6, 1.0, 3e4])
def test_floor_of_white_noise_is_its_standard_deviation(seed, sigma):
    # median of 5000 second differences: standard error about 2 %, so 10 % is five of them
    assert noise_floor(white(5000, sigma, seed)) == pytest.approx(sigma, rel=0.10)


@settings(derandomize=True, max_examples=40, deadline=None)
@given(st.floats(-1e3, 1e3), st.floats(-1e6, 1e6), st.floats(1e-3, 1e3))
def test_floor_does_not_see_a_ramp_and_scales_with_the_signal(slope, offset, gain):
    noise = white(800, 1.0)
    plain = noise_floor(noise)
    # rounding of an offset of 1e6 is 1e-10 of it, far below the noise
    assert noise_floor(noise + offset + slope * np.arange(800.0)) == pytest.approx(plain, rel=1e-6)
    assert noise_floor(gain * noise) == pytest.approx(gain * plain, rel=1e-9)


def test_floor_of_a_coarse_converter_is_its_steps_standard_deviation():
    slow = np.round(np.linspace(0.0, 30.0, 4000))  # steps of 1, no other noise
    assert resolution(slow) == 1.0
    assert noise_floor(slow) == pytest.approx(1.0 / np.sqrt(12.0))


@pytest.mark.parametrize("values", [np.zeros(0), np.arange(4.0), np.full(100, 7.0)])
def test_floor_of_nothing_or_a_constant_is_zero(values):
    assert noise_floor(values) == 0.0


def test_local_noise_follows_noise_that_grows():
    sigma = np.where(np.arange(20000) < 10000, 1.0, 8.0)
    local = local_noise(sigma * white(20000, 1.0), width=401, floor=0.1)
    assert np.median(local[:9500]) == pytest.approx(1.0, rel=0.1)
    assert np.median(local[10500:]) == pytest.approx(8.0, rel=0.1)


def test_local_noise_never_falls_below_its_floor():
    assert local_noise(np.zeros(100), width=15, floor=0.5).min() == pytest.approx(0.5)


@pytest.mark.parametrize("width", [1, 2, 3])
@pytest.mark.parametrize("size", [30.0, -30.0, 1e6])
def test_short_excursions_are_found_whole_and_nothing_else(width, size):
    values = white(2000, 1.0) + 0.05 * np.arange(2000)
    wrong = np.arange(1000, 1000 + width)
    values[wrong] += size
    assert list(np.flatnonzero(find_spikes(values, 1.0))) == list(wrong)


@pytest.mark.parametrize("size", [20.0, -20.0, 1e5])
def test_an_edge_is_not_a_spike(size):
    values = white(2000, 1.0)
    values[1000:] += size
    assert not find_spikes(values, 1.0).any()


def test_a_kink_is_not_a_spike():
    values = white(2000, 1.0) + np.maximum(np.arange(2000.0) - 1000.0, 0.0)
    assert not find_spikes(values, 1.0).any()


def test_noise_alone_holds_no_spike():
    assert not any(find_spikes(white(20000, 1.0, seed), 1.0).any() for seed in range(20))


@pytest.mark.parametrize("frequency", [49.8, 50.0, 60.0, 60.3])
def test_hum_is_taken_off_and_the_edge_stays_where_it_was(frequency):
    time_s = np.arange(8000) * STEP
    edge = np.where(np.arange(8000) >= 4321, 40.0, 0.0)
    noise = white(8000, 1.0)
    hum = 6.0 * np.sin(2 * np.pi * frequency * time_s + 0.7)
    raw = edge + noise + hum
    clean, found = remove_hum(time_s, raw, noise_floor(raw))
    assert len(found) >= 1
    # the search grid has steps of 0.03 Hz; between them the peak is placed by its neighbours
    assert found[0].frequency_hz == pytest.approx(frequency, abs=0.004)
    assert found[0].amplitude == pytest.approx(6.0, rel=0.05)
    assert int(np.argmax(np.diff(clean))) + 1 == 4321
    # what is left of the hum is small against the noise of one sample
    assert np.std(clean - edge - noise) < 0.15


def test_a_third_harmonic_goes_too():
    time_s = np.arange(8000) * STEP
    raw = white(8000, 1.0)
    raw = raw + 5.0 * np.sin(2 * np.pi * 50 * time_s) + 2.0 * np.sin(2 * np.pi * 150 * time_s)
    clean, found = remove_hum(time_s, raw, noise_floor(raw))
    assert [round(h.frequency_hz) for h in found] == [50, 150]
    assert np.std(clean) == pytest.approx(1.0, rel=0.05)


def test_no_hum_is_found_in_noise():
    time_s = np.arange(3000) * STEP
    false = [seed for seed in range(200) if remove_hum(time_s, white(3000, 1.0, seed), 1.0)[1]]
    # one frequency grid passes noise by chance once in a million
    assert false == []


def test_no_hum_is_found_in_fast_samples_of_a_ramp():
    # at 10 kHz a 50 Hz line is weak in the second difference of single samples: it is looked for in block means
    time_s = np.arange(120000) * 1e-4
    ramp = 3.0 * np.maximum(time_s - 5.0, 0.0)
    found = [remove_hum(time_s, white(120000, 1.0, seed) + ramp, 1.0)[1] for seed in range(5)]
    assert found == [()] * 5


def test_hum_is_taken_off_fast_samples():
    time_s = np.arange(120000) * 1e-4
    noise = white(120000, 1.0)
    clean, found = remove_hum(time_s, noise + 2.0 * np.sin(2 * np.pi * 50.1 * time_s), 1.0)
    assert found[0].frequency_hz == pytest.approx(50.1, abs=0.002)
    assert np.std(clean - noise) < 0.05


def test_no_hum_is_found_in_an_edge_and_the_values_are_untouched():
    time_s = np.arange(6000) * STEP
    values = white(6000, 1.0) + np.where(np.arange(6000) > 3000, 500.0, 0.0)
    clean, found = remove_hum(time_s, values, noise_floor(values))
    assert found == ()
    assert clean is values


def test_a_slow_clock_that_cannot_hold_mains_is_left_alone():
    time_s = np.arange(1000) / 100.0
    values = white(1000, 1.0) + 5.0 * np.sin(2 * np.pi * 50 * time_s + 1.0)
    assert remove_hum(time_s, values, 1.0)[1] == ()


@settings(derandomize=True, max_examples=50, deadline=None)
@given(st.floats(-100, 100), st.floats(-1e4, 1e4), st.floats(0.1, 50.0), st.integers(2, 60))
def test_a_straight_line_is_found_again(slope, intercept, width, count):
    x = np.linspace(3.0, 3.0 + width, count)
    found = fit_straight(x, slope * x + intercept)
    scale = 1e-9 * (1.0 + abs(intercept) + abs(slope) * (3.0 + width)) / width
    assert found[0] == pytest.approx(slope, abs=scale)
    assert found[1] == pytest.approx(intercept, abs=scale * (3.0 + width))


def test_a_straight_line_agrees_with_a_second_solver():
    x, y = np.random.default_rng(4).standard_normal((2, 50))
    assert fit_straight(x, y) == pytest.approx(tuple(np.polyfit(x, y, 1)), rel=1e-9)


def test_points_above_one_another_have_no_slope():
    assert fit_straight(np.full(4, 2.0), np.array([1.0, 2.0, 3.0, 4.0])) == (0.0, 2.5)
