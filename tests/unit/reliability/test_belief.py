"""What is held likely after few tests, none, or many; and what groups lend one another."""

import numpy as np
import pytest
from scipy import stats

from firstlift.core.reliability.belief import believe, middle_of, quantiles, survival_band
from firstlift.core.reliability.families import Family
from firstlift.core.reliability.fit import fit_life
from firstlift.core.reliability.likelihood import sort_lives
from firstlift.core.reliability.lives import make_lives
from firstlift.core.reliability.pooling import believe_groups
from firstlift.core.reliability.profile import age_interval
from firstlift.core.reliability.recommend import evidence_after

INF = np.inf


def looked(failed, good, age=5.0):
    """Give lives looked at once, at one age."""
    rows = [(0.0, age, failed)] * (failed > 0) + [(age, INF, good)] * (good > 0)
    left, right, count = zip(*rows, strict=True)
    return make_lives(left, right, count=count)


@pytest.fixture(scope="module")
def weak():
    from firstlift.formats.interval_rows import read_interval_tables

    return read_interval_tables().priors["weak"]


@pytest.mark.parametrize(("failed", "good"), [(0, 1), (1, 0), (0, 40), (3, 40), (25, 400)])
def test_at_one_age_of_looking_the_share_failed_is_jeffreys_beta(weak, failed, good):
    """At the age of looking the shape has no say: the answer is known in closed form."""
    _, low, high = survival_band(believe(looked(failed, good), weak), np.array([5.0]))
    known = 1.0 - stats.beta(failed + 0.5, good + 0.5).ppf([0.975, 0.025])
    assert (low[0], high[0]) == pytest.approx(tuple(known), abs=0.004)


def test_the_weights_are_those_of_a_direct_integral(weak):
    """Weigh a small set by a plain sum over a fine grid of scale and shape."""
    lives = make_lives([0.0, 2.0, 6.0, 4.0], [3.0, 7.0, INF, INF], count=[1, 2, 9, 5])
    belief = believe(lives, weak)
    points = belief.points[0]
    assert points.family is Family.WEIBULL
    middle = belief.middle_yr

    place, log_sigma = np.meshgrid(np.linspace(-9.0, 2.5, 700), np.linspace(-3.5, 2.5, 500))
    life = stats.weibull_min(np.exp(-log_sigma), scale=middle * np.exp(-np.exp(log_sigma) * place))
    share = stats.beta(0.5, 0.5).pdf(life.cdf(middle)) * np.exp(place - np.exp(place))
    shape = stats.norm(-np.log(weak.shape), weak.shape_spread).pdf(log_sigma)
    chance = life.cdf(3.0) * (life.sf(2.0) - life.sf(7.0)) ** 2 * life.sf(6.0) ** 9 * life.sf(4.0) ** 5
    density = share * shape * chance / np.sum(share * shape * chance)
    weight = points.weight / points.weight.sum()
    assert float(weight @ points.place) == pytest.approx(float(np.sum(place * density)), abs=0.01)
    assert float(weight @ points.log_sigma) == pytest.approx(float(np.sum(log_sigma * density)), abs=0.005)


def test_many_lives_give_the_profile_interval(weak):
    rng = np.random.default_rng(2)
    look = np.round(rng.uniform(1.0, 9.0, 20_000), 2)
    life = 12.0 * rng.weibull(2.0, look.size)
    lives = make_lives(np.where(life > look, look, 0.0), np.where(life > look, INF, look))
    found = evidence_after(believe(lives, weak), 0.0, 0.05, 1.0)
    fit = fit_life(lives, Family.WEIBULL)
    low, high = age_interval(sort_lives(lives), fit, 0.05)
    assert (found.low_yr, found.estimate_yr, found.high_yr) == pytest.approx((low, fit.age_yr(0.05), high), rel=0.01)


def test_the_family_that_lives_come_from_gets_the_weight(weak):
    rng = np.random.default_rng(3)
    look = np.round(rng.uniform(1.0, 20.0, 20_000), 2)
    for family, life in ((0, 10.0 * rng.weibull(1.5, look.size)), (1, 8.0 * np.exp(0.8 * rng.normal(size=look.size)))):
        lives = make_lives(np.where(life > look, look, 0.0), np.where(life > look, INF, look))
        assert believe(lives, weak).points[family].weight.sum() > 0.99


def test_a_seen_end_weighs_like_a_very_narrow_stretch(weak):
    seen = make_lives([3.0, 5.0], [3.0, INF], count=[4, 10])
    narrow = make_lives([2.9985, 5.0], [3.0015, INF], count=[4, 10])
    ours, theirs = (evidence_after(believe(lives, weak), 0.0, 0.1, 1.0) for lives in (seen, narrow))
    assert ours.estimate_yr == pytest.approx(theirs.estimate_yr, rel=1e-3)


def test_no_lives_leave_what_was_held_likely_before(weak):
    nothing = make_lives([], [])
    found = evidence_after(believe(nothing, weak), 0.0, 0.05, 1.0)
    assert found.low_yr < 1.0
    assert found.high_yr > 10.0


def test_the_hidden_part_counts_from_the_overhaul():
    from firstlift.core.reliability.belief import Belief, Points

    # one exponential life of mean 100 years, known for sure: hazard 0.01 a year
    sure = Belief(100.0, (Points(Family.WEIBULL, np.zeros(1), np.zeros(1), np.ones(1)),))
    allowed = -np.log(0.95)
    for age, share in ((0.0, 1.0), (7.0, 1.0), (0.0, 0.7), (4.0, 0.7), (20.0, 0.7)):
        found = evidence_after(sure, age, 0.05, share).estimate_yr
        # seen part from the last test, hidden part, (1 - c) / c as large, from the overhaul
        used = 0.01 * found + 0.01 * (1.0 - share) / share * (age + found)
        assert found == 0.0 or used == pytest.approx(allowed)
        if found == 0.0:
            assert 0.01 * (1.0 - share) / share * age > allowed


def test_groups_lean_on_one_another(weak):
    groups = [looked(2, 50), looked(3, 60), looked(1, 40), looked(0, 2), looked(200, 3000)]
    alone = [evidence_after(believe(lives, weak), 0.0, 0.05, 1.0) for lives in groups]
    together = [evidence_after(belief, 0.0, 0.05, 1.0) for belief in believe_groups(groups, weak)]
    width = [found.high_yr / found.low_yr for found in alone]
    assert together[3].high_yr / together[3].low_yr < 0.3 * width[3]
    # a group with thousands of tests hardly moves
    assert together[4].estimate_yr == pytest.approx(alone[4].estimate_yr, rel=0.03)
    # an empty group takes the others' answer, wider
    *_, empty = believe_groups([*groups, make_lives([], [])], weak)
    found = evidence_after(empty, 0.0, 0.05, 1.0)
    assert together[0].low_yr > found.low_yr > alone[3].low_yr


def test_groups_far_apart_are_left_apart(weak):
    groups = [looked(1, 400), looked(160, 240), looked(0, 300), looked(150, 250)]
    for lives, belief in zip(groups, believe_groups(groups, weak), strict=True):
        middle, _, _ = survival_band(belief, np.array([5.0]))
        assert 1.0 - middle[0] == pytest.approx((lives.ended + 0.5) / (lives.total + 1.0), abs=0.02)


def test_middle_and_quantiles_by_hand():
    assert middle_of(make_lives([2.0, 4.0, 0.0], [INF, INF, 9.0], count=[5, 1, 1])) == 2.0
    assert quantiles(np.array([3.0, 1.0, 2.0]), np.array([0.25, 0.5, 0.25]), (0.25, 0.625)) == pytest.approx((1.0, 2.0))
