"""The yardsticks themselves: interval score, exact confidence, the bound, the corpus's seeds."""

import dataclasses

import numpy as np
import pytest
from bench.bound import bound_pa
from bench.corpus import make_test, measurable, wanted_outcome
from bench.knowing import interval_score, knowing_half_width_pa
from bench.pooling import clopper_pearson


def test_interval_score_by_hand():
    assert interval_score(10.0, 1.0, 10.5) == pytest.approx(2.0)
    assert interval_score(10.0, 1.0, 11.5) == pytest.approx(2.0 + 40.0 * 0.5)
    assert interval_score(10.0, 1.0, 8.0) == pytest.approx(2.0 + 40.0 * 1.0)


def test_exact_confidence_has_its_closed_forms():
    # nothing of n: upper end 1 - (0.025)^(1/n); all of n: lower end (0.025)^(1/n)
    assert clopper_pearson(0, 20) == (0.0, pytest.approx(1.0 - 0.025 ** (1 / 20)))
    assert clopper_pearson(20, 20) == (pytest.approx(0.025 ** (1 / 20)), 1.0)
    assert clopper_pearson(0, 0) == (0.0, 1.0)
    low, high = clopper_pearson(475, 500)
    assert low < 0.95 < high
    assert high - low == pytest.approx(0.0394, abs=2e-3)  # normal approximation: 2 * 1.96 * sqrt(0.95 0.05 / 500)


def test_corpus_is_the_same_every_time():
    first, second, other = make_test("clean-gas", 4), make_test("clean-gas", 4), make_test("clean-gas", 5)
    assert first.recording.sha256 == second.recording.sha256
    assert first.recording.sha256 != other.recording.sha256


def quieter(test, factor):
    inst = test.instruments
    calm = {name: dataclasses.replace(getattr(inst, name), noise=getattr(inst, name).noise * factor, resolution=0.0)
            for name in ("gauge", "lift", "sound")}  # fmt: skip
    cells = tuple(dataclasses.replace(cell, noise=cell.noise * factor, resolution=0.0) for cell in inst.cells)
    return dataclasses.replace(test, instruments=dataclasses.replace(inst, cells=cells, **calm))


def test_bound_is_proportional_to_the_noise():
    test = make_test("clean-gas", 0)
    pull = test.truth.pulls[0]
    plain, half = bound_pa(quieter(test, 1.0), pull), bound_pa(quieter(test, 0.5), pull)
    assert half == pytest.approx(0.5 * plain, rel=1e-6)


def test_bound_falls_with_every_channel_that_speaks():
    test = make_test("clean-gas", 0)
    pull = test.truth.pulls[0]
    deaf = dataclasses.replace(test, instruments=dataclasses.replace(test.instruments, sound=None))
    blind = dataclasses.replace(deaf, instruments=dataclasses.replace(deaf.instruments, lift=None))
    assert 0.0 < bound_pa(test, pull) < bound_pa(deaf, pull) < bound_pa(blind, pull)


def test_bound_is_what_the_best_fit_of_simulated_bends_scatters_by():
    """Maximum likelihood on many noisy copies of the model the bound is made for must scatter by it."""
    from bench.bound import _information, _tangents

    rng = np.random.default_rng(8)
    t = np.linspace(-0.5, 0.5, 401)
    sigma, gain = 0.01, 2.0
    mean = 0.3 + 0.5 * t + gain * np.maximum(t, 0.0)
    information, _ = _information(t, mean, np.full(t.size, sigma**-2))
    grid = np.linspace(-0.06, 0.06, 241)
    bases = [np.linalg.qr(_tangents(t - at, mean)[:, 1:])[0] for at in grid]
    found = []
    for _ in range(200):
        y = mean + sigma * rng.standard_normal(t.size)
        found.append(grid[int(np.argmax([np.sum((basis.T @ y) ** 2) for basis in bases]))])
    assert np.std(found) == pytest.approx(information**-0.5, rel=0.2)


def test_one_who_knows_the_moment_is_right_nineteen_times_in_twenty():
    """Sensors and seat err as the job sheet says: the interval about the ideal estimate covers."""
    hits, total = 0, 0
    for index in range(40):
        test = make_test("slow-sampling", index)
        pull = test.truth.pulls[0]
        hits += abs(pull.ideal_estimate_pa - pull.opening_pressure_pa) <= knowing_half_width_pa(test, pull)
        total += 1
    low, high = clopper_pearson(hits, total, 0.999)
    assert low <= 0.95 <= high


def test_truth_says_which_outcome_is_right():
    assert wanted_outcome(make_test("not-lifted", 0)) == "not_lifted"
    assert wanted_outcome(make_test("already-open", 0)) == "unusable"
    assert wanted_outcome(make_test("clean-gas", 0)) == "measured"
    spoiled = make_test("saturated-cell", 0)
    assert wanted_outcome(spoiled) == "unusable"
    assert not any(measurable(spoiled, pull) for pull in spoiled.truth.pulls)
