"""What must not be found: breaks in lines, onsets in noise, and input that is no curve."""

import numpy as np
import pytest

from firstlift.core.errors import FirstliftError
from firstlift.core.lift.pick import pick_bend, pick_onset


def test_no_break_in_noisy_lines():
    generator = np.random.default_rng(11)
    x = np.arange(300.0)
    picks = [pick_bend(x, 0.1 * x + generator.normal(size=300)) for _ in range(50)]
    assert all(picked.reason == "no-break" for picked in picks)


def test_no_onset_in_noise():
    generator = np.random.default_rng(12)
    assert all(pick_onset(generator.normal(size=3000)).reason == "no-onset" for _ in range(50))


def test_known_break_is_inside_its_interval():
    """A break at 1, to one half of its slope, at random places, with 15 % of the readings missing around it or not."""
    generator = np.random.default_rng(13)
    inside = 0
    for trial in range(60):
        x = np.sort(generator.uniform(0.0, 2.0, 200))
        x = x[(x < 0.9) | (x > 1.2)] if trial % 2 else x
        y = np.where(x < 1.0, x, 0.5 + 0.5 * x) + generator.normal(scale=0.02, size=x.size)
        picked = pick_bend(x, y, sign=-1.0)
        inside += abs(picked.at - 1.0) <= 1.96 * picked.standard_uncertainty
        assert picked.standard_uncertainty < 0.3
    assert inside >= 55


def test_known_onset_is_inside_its_interval():
    generator = np.random.default_rng(14)
    inside = 0
    for _ in range(60):
        burst = 8.0 * generator.normal(size=1500) * np.exp(-np.arange(1500.0) / 500.0)
        picked = pick_onset(np.concatenate((generator.normal(size=1500), generator.normal(size=1500) + burst)))
        assert picked.reliable
        inside += abs(picked.at - 1500.0) <= 1.96 * picked.standard_uncertainty
        assert picked.standard_uncertainty < 15.0
    assert inside >= 55


def burst_after(before, size, generator):
    wave = generator.normal(scale=size, size=1500) * np.exp(-np.arange(1500.0) / 400.0)
    return np.concatenate((before, wave))


def test_reasons():
    generator = np.random.default_rng(15)
    quiet = generator.normal(scale=0.01, size=1500)
    assert pick_onset(burst_after(quiet, 1.0, generator)).reason is None
    drifting = quiet + np.linspace(0.0, 3.0, 1500)
    assert pick_onset(burst_after(drifting, 1.0, generator) + np.repeat([0.0, 3.0], 1500)).reason == "level-drifts"
    swinging = quiet + np.sin(np.arange(1500.0) / 6.0)
    assert pick_onset(burst_after(swinging, 1.0, generator)).reason == "not-quiet-before"
    clipped = np.clip(burst_after(np.cumsum(quiet) * 0.01, 1.0, generator), -0.8, 0.8)
    clipped[1502:1512] = 0.8
    assert pick_onset(clipped).reason == "clipped"
    assert pick_onset(quiet[:100]).reason == "too-few-samples"
    assert pick_onset(np.zeros(1000)).reason == "no-onset"
    assert pick_bend(np.arange(10.0), np.arange(10.0)).reason == "too-few-samples"


def test_lone_samples_do_not_move_an_onset():
    generator = np.random.default_rng(16)
    wave = burst_after(generator.normal(scale=0.01, size=1500), 1.0, generator)
    plain = pick_onset(wave)
    wave[[400, 900, 1330, 1450]] += 5.0
    spiked = pick_onset(wave)
    assert spiked.reliable
    assert spiked.at == pytest.approx(plain.at, abs=3.0)


@pytest.mark.parametrize(
    ("x", "y", "code"),
    [(np.arange(20.0), np.arange(21.0), "PCK-001"), (np.arange(20.0), np.full(20, np.nan), "PCK-002")],
)
def test_input_that_is_no_curve(x, y, code):
    with pytest.raises(FirstliftError, match=code):
        pick_bend(x, y)


def test_waveform_with_no_numbers():
    with pytest.raises(FirstliftError, match="PCK-002"):
        pick_onset(np.array([0.0, np.inf] * 200))
