"""The share ended without a distribution."""

import numpy as np
import pytest
from scipy.optimize import isotonic_regression

from firstlift.core.errors import FirstliftError
from firstlift.core.reliability.lives import make_lives
from firstlift.core.reliability.nonparametric import current_status, estimate_shares, pool_adjacent

INF = np.inf


@pytest.mark.parametrize("seed", range(6))
def test_pooled_violators_are_an_isotonic_regression(seed):
    rng = np.random.default_rng(seed)
    values, weights = rng.normal(size=200) + 0.01 * np.arange(200), rng.uniform(0.1, 5.0, 200)
    assert pool_adjacent(values, weights) == pytest.approx(isotonic_regression(values, weights=weights).x)


def test_current_status_by_hand():
    lives = make_lives([0, 2, 0, 4, 0, 6], [2, INF, 4, INF, 6, INF], count=[3, 7, 2, 8, 6, 4])
    ages, share = current_status(lives)
    assert ages.tolist() == [2, 4, 6]
    # three of ten, then two of ten: pooled to five of twenty
    assert share.tolist() == pytest.approx([0.25, 0.25, 0.6])
    found = estimate_shares(lives)
    assert (found.left_yr.tolist(), found.right_yr.tolist()) == ([0, 4, 6], [2, 6, INF])
    assert [found.share_ended(age) for age in (1.9, 2, 5.9, 6)] == pytest.approx([0, 0.25, 0.25, 0.6])


def test_seen_ends_give_the_product_limit():
    lives = make_lives([1, 2, 2, 3, 4], [1, 2, INF, 3, INF])
    found = estimate_shares(lives)
    # 4/5, then 3/4, then one of two
    assert found.share_ended(1.0) == pytest.approx(0.2, abs=1e-6)
    assert found.share_ended(2.0) == pytest.approx(1.0 - 0.8 * 0.75, abs=1e-6)
    assert found.share_ended(3.0) == pytest.approx(1.0 - 0.8 * 0.75 * 0.5, abs=1e-6)


@pytest.mark.parametrize("seed", range(5))
def test_no_other_masses_have_a_higher_likelihood(seed):
    """Hold the summit to its condition: no stretch of ages, used or not, would gain by more mass."""
    rng = np.random.default_rng(seed)
    looks = np.cumsum(np.round(rng.uniform(0.5, 2.5, (300, 4)), 1), axis=1)
    life = 6.0 * rng.weibull(1.6, 300)
    passed = (looks < life[:, None]).sum(axis=1)
    ages = np.hstack([np.zeros((300, 1)), looks, np.full((300, 1), INF)])
    left, right = ages[np.arange(300), passed], ages[np.arange(300), passed + 1]
    lives = make_lives(left, right)
    found = estimate_shares(lives)
    assert found.mass.sum() == pytest.approx(1.0)
    edges = np.unique(np.concatenate([left, right]))
    inside = (found.left_yr >= left[:, None] - 1e-12) & (found.right_yr <= right[:, None] + 1e-12)
    chance = inside @ found.mass
    can = (edges[:-1] >= left[:, None]) & (edges[1:] <= right[:, None])
    assert (can / chance[:, None]).sum(axis=0).max() / 300 < 1.0 + 1e-4


def test_more_than_one_look_is_no_current_status():
    with pytest.raises(FirstliftError, match="REL-003"):
        current_status(make_lives([1.0], [2.0]))
    with pytest.raises(FirstliftError, match="REL-004"):
        estimate_shares(make_lives([], []))
