"""Seat areas found from simulated recordings at three line pressures, against the valve's own area."""

import functools
from dataclasses import replace

import numpy as np
import pytest

from firstlift.core.analysis import analyse
from firstlift.core.errors import FirstliftError
from firstlift.sim.recipe import cook, draw_recipe
from firstlift.usecases.analyse import limits_of, worded
from firstlift.usecases.seat_from_tests import instruments_of, pulls_of, seat_from_results

SEEDS = (1000, 1001, 1003, 1004)
SHARES = (0.5, 0.65, 0.8)


@functools.cache
def series_of(seed, **valve):
    """Simulate and analyse one valve with one rig at three line pressures."""
    rng = np.random.default_rng(seed)
    base = draw_recipe(rng)
    base = replace(
        base, pulls=2, rise_s=1.5, lead_s=2.5, rest_s=2.5, valve=replace(base.valve, **valve),
        instruments=replace(base.instruments, rate_hz=500.0),
    )  # fmt: skip
    tests = []
    for share in SHARES:
        line = replace(base.line, pressure_pa=share * base.valve.set_pressure_pa)
        test = cook(replace(base, line=line), rng, "one")
        analysed = analyse(test.recording, test.job, limits_of(test.job), worded(test.job))
        tests.append((f"at {share:g}", test.job, analysed.result))
    return base.valve, tests


@pytest.fixture(scope="module")
def fits():
    """Give valve and fit for each seed."""
    return [(valve, seat_from_results(tests).fit) for valve, tests in map(series_of, SEEDS)]


def test_the_areas_are_found_within_what_they_claim(fits):
    errors = np.array([(fit.area_m2 - valve.area_m2) / fit.u_area_m2 for valve, fit in fits])
    assert np.abs(errors).max() < 3.0
    assert np.sqrt(np.mean(errors**2)) < 1.6


def test_so_are_the_set_pressures(fits):
    errors = np.array([(fit.set_pressure_pa - valve.set_pressure_pa) / fit.u_set_pressure_pa for valve, fit in fits])
    assert np.abs(errors).max() < 3.0


def test_they_are_better_than_one_per_cent(fits):
    assert max(fit.u_area_m2 / fit.area_m2 for _, fit in fits) < 0.01


def test_friction_leaves_the_area_alone_and_raises_the_set_pressure():
    plain = series_of(1004)[0]
    friction = 0.03 * plain.preload_n * (1.0 - SHARES[-1])
    valve, tests = series_of(1004, friction_n=friction)
    fit = seat_from_results(tests).fit
    assert abs(fit.area_m2 - valve.area_m2) < 3.0 * fit.u_area_m2
    raised = fit.set_pressure_pa - valve.set_pressure_pa
    assert raised == pytest.approx(friction / valve.area_m2, abs=3.0 * fit.u_set_pressure_pa)
    assert raised > 0.0


def test_only_pulls_of_one_valve_and_one_rig_go_together():
    (_, tests), (_, others) = series_of(1000), series_of(1001)
    name, job, result = others[0]
    with pytest.raises(FirstliftError, match="SEA-009"):
        seat_from_results([tests[0], (name, replace(job, valve=replace(job.valve, serial="another")), result)])
    gauge = replace(job.channels[-1], serial="another")
    with pytest.raises(FirstliftError, match="SEA-009"):
        seat_from_results([tests[0], (name, replace(tests[0][1], channels=(*job.channels[:-1], gauge)), result)])


def test_a_pull_that_a_bond_held_or_a_leak_fed_is_left_out():
    _, tests = series_of(1000)
    name, job, result = tests[0]
    whole = pulls_of(name, job, result)
    spoiled = replace(result.pulls[0], flags=("leaking-before-lift",))
    assert pulls_of(name, job, replace(result, pulls=(spoiled, *result.pulls[1:]))) == whole[1:]
    with pytest.raises(FirstliftError, match="SEA-019"):
        pulls_of(name, job, replace(result, pulls=(spoiled,)))
    assert sum(item.load_share for item in instruments_of(job, result) if item.role == "cell") == pytest.approx(1.0)
