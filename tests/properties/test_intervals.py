"""What must hold of next dates whatever the tests say."""

import numpy as np
from hypothesis import example, given, settings
from hypothesis import strategies as st

from firstlift.core.reliability.belief import believe
from firstlift.core.reliability.families import Family, age_of_hazard, log_between, log_survival
from firstlift.core.reliability.fit import LifeFit, fit_life
from firstlift.core.reliability.lives import make_lives
from firstlift.core.reliability.nonparametric import estimate_shares, pool_adjacent
from firstlift.core.reliability.prior import Prior
from firstlift.core.reliability.recommend import evidence_after

fixed = settings(derandomize=True, deadline=None, max_examples=40)
PRIOR = Prior(shape=1.8, shape_spread=0.5)
ages = st.integers(1, 400).map(lambda tenth: tenth / 10.0)
family = st.sampled_from(Family)


@st.composite
def many_lives(draw):
    kinds = st.sampled_from(["failed", "good", "between"])
    rows = draw(st.lists(st.tuples(ages, ages, kinds, st.integers(1, 30)), min_size=1, max_size=8))
    left, right, count = [], [], []
    for first, second, kind, many in rows:
        low, high = min(first, second), max(first, second)
        left.append({"failed": 0.0, "good": low, "between": low}[kind])
        right.append({"failed": high, "good": np.inf, "between": high + 0.1}[kind])
        count.append(many)
    return left, right, count


@fixed
@given(many_lives(), st.sampled_from([0.25, 3.0, 12.0]))
def test_the_unit_of_time_does_not_matter(rows, factor):
    left, right, count = rows
    plain = make_lives(left, right, count=count)
    scaled = make_lives([factor * v for v in left], [factor * v for v in right], count=count)
    ours, theirs = (evidence_after(believe(lives, PRIOR), 0.0, 0.05, 1.0) for lives in (plain, scaled))
    assert theirs.low_yr == np.float64(factor * ours.low_yr) or abs(theirs.low_yr / (factor * ours.low_yr) - 1.0) < 1e-6
    a, b = fit_life(plain, Family.WEIBULL), fit_life(scaled, Family.WEIBULL)
    assert isinstance(a, LifeFit) == isinstance(b, LifeFit)
    if isinstance(a, LifeFit) and isinstance(b, LifeFit):
        assert abs(b.shape / a.shape - 1.0) < 1e-3


@fixed
@example(([0.0], [1.0], [1]), 0.05, 0.7, 5e-324)
@example(([4.5], [np.inf], [19]), 0.01, 0.9921875, 1.06640625)
@given(many_lives(), st.floats(0.01, 0.4), st.floats(0.3, 1.0), st.floats(0.0, 20.0))
def test_a_wider_target_and_a_better_test_never_shorten_an_interval(rows, target, share, age):
    left, right, count = rows
    belief = believe(make_lives(left, right, count=count), PRIOR)
    here = evidence_after(belief, age, target, share)
    assert 0.0 <= here.low_yr <= here.estimate_yr <= here.high_yr
    assert evidence_after(belief, age, min(0.9, 1.5 * target), share).low_yr >= here.low_yr - 1e-9
    assert evidence_after(belief, age, target, min(1.0, 1.2 * share)).low_yr >= here.low_yr - 1e-9


@fixed
@given(ages, st.integers(0, 20), st.integers(1, 50), st.integers(1, 200))
def test_more_good_tests_never_shorten_an_interval_and_failures_never_lengthen_it(age, failed, good, more):
    """Looked at one age, so that only the share failed by then is told."""

    def low(failed, good):
        rows = [(0.0, age, failed), (age, np.inf, good)]
        left, right, count = zip(*(row for row in rows if row[2]), strict=True)
        return evidence_after(believe(make_lives(left, right, count=count), PRIOR), 0.0, 0.05, 1.0).low_yr

    here = low(failed, good)
    assert low(failed, good + more) >= here * 0.995
    assert low(failed + more, good) <= here * 1.005


@fixed
@given(many_lives())
def test_shares_without_a_distribution_are_shares(rows):
    left, right, count = rows
    found = estimate_shares(make_lives(left, right, count=count))
    assert np.all(found.mass >= 0.0)
    assert abs(found.mass.sum() - 1.0) < 1e-9
    assert np.all(found.left_yr < found.right_yr)


@fixed
@given(st.lists(st.tuples(st.floats(-5, 5), st.floats(0.1, 10)), min_size=1, max_size=60))
def test_pooling_rises_and_keeps_the_mean(rows):
    values, weights = (np.array(column) for column in zip(*rows, strict=True))
    pooled = pool_adjacent(values, weights)
    assert np.all(np.diff(pooled) >= 0.0)
    assert abs(float(weights @ (pooled - values))) < 1e-6


@fixed
@given(family, st.floats(-40.0, 5.0), st.floats(1e-6, 10.0))
def test_the_chance_between_two_ages_is_that_of_the_survivals(which, low, width):
    w = np.array([low, low + width])
    survival = np.exp(log_survival(which, w))
    between = float(np.exp(log_between(which, w[:1], w[1:]))[0])
    assert abs(between - (survival[0] - survival[1])) < 1e-12
    hazard = -log_survival(which, w)
    told = (hazard > 1e-12) & (hazard < 500.0)
    assert np.allclose(age_of_hazard(which, hazard[told]), w[told], atol=1e-3)
