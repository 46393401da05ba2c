"""The mixed model against a likelihood written out whole, and the drift of known valves."""

import numpy as np
import pytest
from scipy import optimize, stats

from firstlift.core.errors import FirstliftError
from firstlift.core.reliability.drift import drift_tests, fit_drift
from firstlift.core.reliability.history import histories_of
from firstlift.core.reliability.mixed import fit_mixed


def made(seed, units=12):
    rng = np.random.default_rng(seed)
    unit = np.concatenate([np.full(rng.integers(1, 6), index) for index in range(units)])
    years = rng.uniform(0.5, 9.0, unit.size)
    own = rng.multivariate_normal([0.0, 0.0], [[1.0e-4, 2.0e-5], [2.0e-5, 3.0e-5]], units)
    y = 1.0 + 0.004 * years + own[unit, 0] + own[unit, 1] * years + 0.006 * rng.normal(size=unit.size)
    return y, np.column_stack([np.ones(unit.size), years]), unit


def whole_criterion(y, x, z, unit, between, residual):
    """Give -2 log restricted likelihood by one matrix of all values."""
    v = residual**2 * np.eye(y.size) + np.einsum("ij,jk,lk->il", z, between, z) * (unit[:, None] == unit[None, :])
    inverse = np.linalg.inv(v)
    xx = x.T @ inverse @ x
    left = y - x @ np.linalg.solve(xx, x.T @ inverse @ y)
    logs = np.linalg.slogdet(v)[1] + np.linalg.slogdet(xx)[1]
    return (y.size - x.shape[1]) * np.log(2 * np.pi) + logs + left @ inverse @ left


@pytest.mark.parametrize("seed", range(4))
@pytest.mark.parametrize("width", [1, 2])
def test_the_fit_is_the_summit_of_the_likelihood_written_out(seed, width):
    y, x, unit = made(seed)
    z = x[:, :width]
    fit = fit_mixed(y, x, z, unit)
    here = whole_criterion(y, x, z, unit, fit.between, fit.residual)
    assert fit.criterion == pytest.approx(here, abs=1e-6)

    def other(values):
        root = np.zeros((width, width))
        root[np.tril_indices(width)] = values[1:]
        return whole_criterion(y, x, z, unit, root @ root.T, np.exp(values[0]))

    start = [np.log(0.01), *([0.01] if width == 1 else [0.01, 0.0, 0.005])]
    found = optimize.minimize(
        other, start, method="Nelder-Mead", options={"maxiter": 8000, "fatol": 1e-9, "xatol": 1e-9}
    )
    assert here <= found.fun + 1e-5
    assert fit.residual == pytest.approx(np.exp(found.x[0]), rel=2e-3)


def test_deviations_are_the_best_linear_ones():
    y, x, unit = made(9)
    fit = fit_mixed(y, x, x, unit)
    for index in range(unit.max() + 1):
        here = unit == index
        v = fit.residual**2 * np.eye(here.sum()) + x[here] @ fit.between @ x[here].T
        expected = fit.between @ x[here].T @ np.linalg.solve(v, y[here] - x[here] @ fit.line)
        assert fit.deviations[index] == pytest.approx(expected, abs=1e-9)


def test_too_little_is_refused():
    with pytest.raises(FirstliftError, match="REL-010"):
        fit_mixed(np.array([1.0, 2.0, 3.0]), np.ones((3, 1)), np.ones((3, 1)), np.zeros(3, dtype=int))


def fleet(row, new, slope, seed=1, valves=30):
    rng = np.random.default_rng(seed)
    rows = []
    for index in range(valves):
        name, level, own = f"PSV-{index}", rng.normal(1.0, 0.004), rng.normal(slope, 0.001)
        rows.append(new(name))
        rows += [row(name, t, "within", level + own * t + rng.normal(0.0, 0.003)) for t in (2.0, 4.0, 6.0)]
    return histories_of(rows)


def test_a_known_drift_is_found_and_its_date_follows(row, new):
    drift = fit_drift(drift_tests(fleet(row, new, 0.006)))
    low, high = drift.slope_interval()
    assert low < 0.006 < high
    assert drift.slopes_differ
    # 1.10 is reached after about 16 years of 0.006; the spread of valves brings that forward
    left = drift.years_left(None, 1.10, 0.05)
    middle, _, upper = drift.group_line(np.array([left]))
    spread = drift.spread_of_valves(np.array([left]))
    chance = 1.0 - stats.t(drift.degrees_of_freedom).cdf((1.10 - upper) / spread)
    assert chance[0] == pytest.approx(0.05, abs=0.005)
    assert 8.0 < left < 16.0
    assert middle[0] < 1.10


def test_a_valve_goes_on_along_its_own_line(row, new):
    histories = fleet(row, new, 0.004)
    drift = fit_drift(drift_tests(histories))
    slopes = {history.valve: drift.fit.deviations[drift.tests.standing[history.valve][1]][1] for history in histories}
    fast, slow = max(slopes, key=slopes.get), min(slopes, key=slopes.get)
    assert drift.years_left(fast, 1.06, 0.05) < drift.years_left(slow, 1.06, 0.05)
    assert drift.years_left(fast, 1.001, 0.05) == 0.0
    assert drift.years_left(slow, 5.0, 0.05) == np.inf


def spread(row, new, slope, scatter=0.06, valves=40):
    """Valves that differ widely from the day they are set on, and drift alike."""
    rng = np.random.default_rng(8)
    rows = []
    for index in range(valves):
        name, level = f"PSV-{index}", rng.normal(1.02, scatter)
        rows.append(new(name))
        rows += [row(name, t, "within", level + slope * t + rng.normal(0.0, 0.003)) for t in (1.0, 3.0, 5.0)]
    return fit_drift(drift_tests(histories_of(rows)))


def test_a_spread_that_is_too_wide_when_valves_are_set_is_no_drift(row, new):
    still = spread(row, new, 0.0)
    assert still.over_when_set(None, 1.10, 0.05)
    assert not still.over_when_set(None, 1.30, 0.05)
    # nothing changes with time: no interval is called for
    assert still.years_left(None, 1.10, 0.05) > 20.0
    # where it does, time may add as much again as the risk: the chance at setting and that many years on
    moving = spread(row, new, 0.006)
    assert moving.over_when_set(None, 1.10, 0.05)
    left = moving.years_left(None, 1.10, 0.05)
    ages = np.array([0.0, left])
    chances = stats.t(moving.degrees_of_freedom).sf((1.10 - moving.group_line(ages)[2]) / moving.spread_of_valves(ages))
    assert 0.5 < left < 10.0
    assert chances[1] - chances[0] == pytest.approx(0.05, abs=0.005)


def test_stretches_begin_when_a_valve_is_set(row, new):
    rows = [new("A"), row("A", 1, ratio=1.0), row("A", 3, "high", 1.05), row("A", 5, ratio=1.01),
            row("A", 7, "lower-bound", 0.9), row("A", 8, ratio=1.0, overhauled=True)]  # fmt: skip
    tests = drift_tests(histories_of(rows))
    assert tests.unit.tolist() == [0, 0, 1, 1]
    assert tests.years.tolist() == pytest.approx([1, 3, 2, 5], abs=0.01)
    assert tests.bounds == 1
    assert tests.standing["A"] == (0.0, None)


def test_few_openings_tell_no_drift(row, new):
    assert fit_drift(drift_tests(fleet(row, new, 0.004, valves=4))) is None
    assert fit_drift(drift_tests(histories_of([new("A")]))) is None


def test_valves_tested_once_each_have_no_line_of_their_own(row, new):
    rng = np.random.default_rng(5)
    rows = []
    for index in range(20):
        years = float(rng.uniform(1.0, 8.0))
        rows += [new(f"V{index}"), row(f"V{index}", years, "within", 1.0 + 0.003 * years + rng.normal(0, 0.004))]
    drift = fit_drift(drift_tests(histories_of(rows)))
    assert not drift.slopes_differ
    plain = stats.linregress(drift.tests.years, drift.tests.ratio)
    assert drift.slope_per_yr == pytest.approx(plain.slope)
    assert drift.fit.residual == pytest.approx(
        np.sqrt(np.sum((drift.tests.ratio - plain.intercept - plain.slope * drift.tests.years) ** 2) / 18)
    )
    assert np.isfinite(drift.years_left("V0", 1.1, 0.05))
