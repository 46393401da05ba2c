"""Maximum likelihood and its intervals, and what lives cannot tell."""

import numpy as np
import pytest
from scipy import optimize, stats

from firstlift.core.errors import FirstliftError
from firstlift.core.reliability.families import Family
from firstlift.core.reliability.fit import LifeFit, Untold, check_risk, fit_constant_hazard, fit_life
from firstlift.core.reliability.likelihood import likelihood_with_slopes, log_likelihood, sort_lives
from firstlift.core.reliability.lives import join_lives, make_lives
from firstlift.core.reliability.profile import age_interval, scale_interval, shape_interval
from firstlift.core.reliability.remarks import about_life

INF = np.inf
MIXED = make_lives(
    [0.0, 2.0, 3.0, 4.0, 6.0, 5.0, 2.5, 7.0], [2.0, 4.0, INF, 4.0, INF, 9.0, INF, 12.0],
    entry_yr=[0.0, 0.0, 1.0, 0.0, 0.0, 2.0, 2.0, 0.0], count=[1, 3, 9, 1, 20, 2, 4, 1],
)  # fmt: skip


def by_scipy(family, mu, sigma):
    """Give a frozen scipy distribution of a life."""
    if family is Family.WEIBULL:
        return stats.weibull_min(1.0 / sigma, scale=np.exp(mu))
    return stats.lognorm(sigma, scale=np.exp(mu))


def direct(lives, family, mu, sigma):
    """Work the log likelihood out life by life."""
    life = by_scipy(family, mu, sigma)
    total = 0.0
    for left, right, entry, count in zip(lives.left_yr, lives.right_yr, lives.entry_yr, lives.count, strict=True):
        chance = life.pdf(left) if left == right else life.sf(left) - (0.0 if right == INF else life.sf(right))
        total += count * (np.log(max(chance, 1e-300)) - (np.log(life.sf(entry)) if entry > 0 else 0.0))
    return total


@pytest.mark.parametrize("family", Family)
@pytest.mark.parametrize(("mu", "sigma"), [(2.0, 0.5), (1.5, 1.3), (2.8, 0.9)])
def test_the_likelihood_is_that_of_the_distribution(family, mu, sigma):
    ready = sort_lives(MIXED)
    ours = log_likelihood(ready, family, np.array([mu]), np.array([np.log(sigma)]))[0]
    assert ours == pytest.approx(direct(MIXED, family, mu, sigma), abs=1e-9)
    value, gradient, curvature = likelihood_with_slopes(ready, family, mu, np.log(sigma))
    assert value == pytest.approx(ours, abs=1e-9)
    step = 1e-5
    for axis, (a, b) in enumerate(((step, 0.0), (0.0, step))):
        up = likelihood_with_slopes(ready, family, mu + a, np.log(sigma) + b)
        down = likelihood_with_slopes(ready, family, mu - a, np.log(sigma) - b)
        assert gradient[axis] == pytest.approx((up[0] - down[0]) / (2 * step), abs=1e-4)
        assert curvature[axis] == pytest.approx((up[1] - down[1]) / (2 * step), abs=1e-3)


@pytest.mark.parametrize("family", Family)
def test_the_fit_is_the_summit_that_a_general_search_finds(family):
    fit = fit_life(MIXED, family)
    found = optimize.minimize(
        lambda p: -direct(MIXED, family, p[0], np.exp(p[1])), [2.0, 0.0], method="Nelder-Mead",
        options={"xatol": 1e-8, "fatol": 1e-10},
    )  # fmt: skip
    assert isinstance(fit, LifeFit)
    assert (fit.mu, fit.log_sigma) == pytest.approx(tuple(found.x), abs=1e-5)
    assert fit.log_likelihood == pytest.approx(-found.fun, abs=1e-8)


@pytest.mark.parametrize("family", Family)
def test_at_the_ends_of_an_interval_the_profile_has_fallen_by_half_a_chi_squared_quantile(family):
    fit, ready = fit_life(MIXED, family), sort_lives(MIXED)
    drop = 0.5 * stats.chi2.ppf(0.95, 1)
    for shape in shape_interval(ready, fit):
        best = optimize.minimize_scalar(lambda mu, s=1.0 / shape: -direct(MIXED, family, mu, s), bounds=(0.0, 5.0))
        assert fit.log_likelihood + best.fun == pytest.approx(drop, abs=1e-5)
    for risk, ends in ((0.05, age_interval(ready, fit, 0.05)), (None, scale_interval(ready, fit))):
        for age in ends:
            w = 0.0 if risk is None else (fit.mu - np.log(fit.age_yr(risk))) / -fit.sigma
            best = optimize.minimize_scalar(
                lambda s, a=age, w=w: -direct(MIXED, family, np.log(a) - np.exp(s) * w, np.exp(s)),
                bounds=(-2.0, 2.0),
                options={"xatol": 1e-9},
            )
            assert fit.log_likelihood + best.fun == pytest.approx(drop, abs=1e-5)


@pytest.mark.parametrize(
    ("left", "right", "reason"),
    [
        ([3.0, 5.0], [INF, INF], Untold.NO_FAILURES),
        ([0.0, 0.0], [3.0, 5.0], Untold.NO_SURVIVORS),
        ([0.0, 4.0], [4.0, INF], Untold.ONE_AGE),
        # those that failed were younger than those that lasted: the hazard would have to fall without end
        ([0.0, 8.0], [2.0, INF], Untold.NO_SHAPE),
        # all that were looked at early lasted, all looked at late had failed: a cliff somewhere between
        ([0.0, 2.0], [8.0, INF], Untold.NO_SHAPE),
    ],
)
@pytest.mark.parametrize("family", Family)
def test_what_lives_cannot_tell_is_said(left, right, reason, family):
    assert fit_life(make_lives(left, right, count=[10.0, 10.0]), family) is reason


def test_no_lives_tell_nothing():
    nothing = make_lives([], [])
    assert nothing.total == 0
    assert fit_life(nothing, Family.WEIBULL) is Untold.NO_FAILURES
    assert fit_constant_hazard(nothing) is Untold.NO_FAILURES


@pytest.mark.parametrize(("shape", "code"), [(1.0, "constant-hazard"), (2.5, "wear-out"), (0.5, "early-failures")])
def test_a_shape_is_named_only_where_its_interval_leaves_no_doubt(shape, code):
    rng = np.random.default_rng(4)
    life, look = 8.0 * rng.weibull(shape, 600), np.round(rng.uniform(1.0, 8.0, 600), 2)
    lives = make_lives(np.where(life > look, look, 0.0), np.where(life > look, INF, look))
    fit = fit_life(lives, Family.WEIBULL)
    low, high = shape_interval(sort_lives(lives), fit)
    assert low < shape < high
    assert [finding.code for finding in about_life(lives, fit, (low, high))] == [code]


def test_a_small_set_without_wear_out_is_not_called_wear_out():
    """Hold the false alarm to its rate: a constant hazard, seen by sixty valves, two hundred times."""
    rng, called = np.random.default_rng(8), 0
    for _ in range(200):
        life, look = 10.0 * rng.standard_exponential(60), np.round(rng.uniform(1.0, 8.0, 60), 2)
        lives = make_lives(np.where(life > look, look, 0.0), np.where(life > look, INF, look))
        fit = fit_life(lives, Family.WEIBULL)
        if isinstance(fit, LifeFit):
            codes = {finding.code for finding in about_life(lives, fit, shape_interval(sort_lives(lives), fit))}
            called += "wear-out" in codes
    assert called <= 12


def test_an_open_interval_says_so():
    lives = make_lives([0.0, 2.0, 4.0], [2.0, 4.0, INF], count=[1, 1, 40])
    low, high = scale_interval(sort_lives(lives), fit_life(lives, Family.WEIBULL), 0.999)
    assert low > 4.0
    assert high == INF or high > 1e3


def test_lifelines_gives_the_same_fit():
    import warnings

    from lifelines import LogNormalFitter, WeibullFitter

    rng = np.random.default_rng(12)
    looks = np.cumsum(np.round(rng.uniform(1.0, 3.0, (800, 3)), 2), axis=1)
    life = 9.0 * rng.weibull(1.7, 800)
    passed = (looks < life[:, None]).sum(axis=1)
    ages = np.hstack([np.zeros((800, 1)), looks, np.full((800, 1), INF)])
    left, right = ages[np.arange(800), passed], ages[np.arange(800), passed + 1]
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        weibull = WeibullFitter().fit_interval_censoring(left, right)
        lognormal = LogNormalFitter().fit_interval_censoring(left, right)
    ours = fit_life(make_lives(left, right), Family.WEIBULL)
    assert (ours.scale_yr, ours.shape) == pytest.approx((weibull.lambda_, weibull.rho_), rel=1e-4)
    assert ours.log_likelihood == pytest.approx(weibull.log_likelihood_, abs=1e-3)
    ours = fit_life(make_lives(left, right), Family.LOGNORMAL)
    assert (ours.mu, ours.sigma) == pytest.approx((lognormal.mu_, lognormal.sigma_), rel=1e-4)


@pytest.mark.parametrize(
    ("left", "right", "more"),
    [
        ([1.0], [1.0, 2.0], {}),
        ([3.0], [2.0], {}),
        ([-1.0], [2.0], {}),
        ([0.0], [0.0], {}),
        ([INF], [INF], {}),
        ([float("nan")], [2.0], {}),
        ([1.0], [2.0], {"count": [0.0]}),
        ([1.0], [2.0], {"entry_yr": [1.5]}),
    ],
)
def test_impossible_lives_are_refused(left, right, more):
    with pytest.raises(FirstliftError, match="REL-001"):
        make_lives(left, right, **more)


@pytest.mark.parametrize("risk", [0.0, 1.0, -0.1, float("nan")])
def test_what_is_no_chance_is_refused(risk):
    with pytest.raises(FirstliftError, match="REL-002"):
        check_risk(risk)


def test_alike_lives_count_together():
    lives = make_lives([2.0, 0.0, 2.0, 2.0], [INF, 3.0, INF, 5.0])
    assert sorted(zip(lives.left_yr, lives.right_yr, lives.count, strict=True)) == [(0, 3, 1), (2, 5, 1), (2, INF, 2)]
    assert join_lives([lives, lives]).count.tolist() == [2, 2, 4]
