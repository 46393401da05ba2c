"""Groups lend one another strength: a group with few tests leans on the others as far as they are alike.

Every group has its own place (its log hazard at the pool's middle age), drawn around a common one; how far groups lie
apart is learnt from them. The shape is common. All of it is weighed over a grid, so a group's own tests are never
counted twice: what is lent to it comes from the others alone. A group with many tests hardly moves; one with none
takes the others' answer, with the spread between groups on top.

References
----------
.. [1] A. Gelman et al., Bayesian Data Analysis, 3rd edition, 2013, chapter 5.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from scipy.interpolate import CubicSpline, RectBivariateSpline

from firstlift.core.recording import Floats
from firstlift.core.reliability.belief import Belief, LogDensity, Ready, believe, log_prior, middle_of
from firstlift.core.reliability.families import Family
from firstlift.core.reliability.lives import Lives, join_lives
from firstlift.core.reliability.prior import Prior, log_sigma_of

_PLACES, _FINE, _SCALES = 81, 6, 17
_COMMON, _SPREADS = 61, 9


@dataclass(frozen=True, slots=True, eq=False)
class _Grid:
    place: Floats
    fine: Floats
    log_sigma: Floats
    common: Floats
    between: Floats
    kernel: Floats


def believe_groups(groups: Sequence[Lives], prior: Prior) -> tuple[Belief, ...]:
    """Weigh what tests say of each group, with what the other groups lend.

    Parameters
    ----------
    groups : sequence of Lives
        One or more; a group may have no lives.
    prior : Prior

    Returns
    -------
    tuple of Belief
        One a group, in order.
    """
    pool = join_lives(list(groups))
    if len(groups) == 1 or not pool.count.size:
        return tuple(believe(lives, prior) for lives in groups)
    middle = middle_of(pool)
    lent = {family: _lend(groups, prior, family, middle) for family in Family}
    return tuple(
        believe(lives, prior, middle_yr=middle, others={family: lent[family][index] for family in Family})
        for index, lives in enumerate(groups)
    )


def _lend(groups: Sequence[Lives], prior: Prior, family: Family, middle_yr: float) -> list[LogDensity]:
    """Give, for each group, the log density of place and log sigma that all the others lend it."""
    grid = _grid(prior, family)
    each = [_by_common(Ready(lives, middle_yr), family, grid) for lives in groups]
    whole = sum(each) + _log_hyper_prior(prior, family, middle_yr, grid)
    return [_density(whole - own, grid) for own in each]


def _grid(prior: Prior, family: Family) -> _Grid:
    reach = 3.5 * prior.shape_spread
    middle = log_sigma_of(prior, family)
    low, high = (-14.0, 3.0) if family is Family.WEIBULL else (-6.0, 4.0)
    place = np.linspace(low, high, _PLACES)
    fine = np.linspace(low, high, _FINE * (_PLACES - 1) + 1)
    common, between = np.linspace(low, high, _COMMON), np.geomspace(0.05, 2.5, _SPREADS)
    return _Grid(
        place=place,
        fine=fine,
        log_sigma=np.linspace(middle - reach, middle + reach, _SCALES),
        common=common,
        between=between,
        kernel=_kernel(fine, common, between),
    )


def _by_common(ready: Ready, family: Family, grid: _Grid) -> Floats:
    """Give a group's log likelihood by log sigma, common place and spread between groups: its own place weighed out."""
    place, log_sigma = (axis.ravel() for axis in np.meshgrid(grid.place, grid.log_sigma, indexing="ij"))
    rows = ready.log_likelihood(family, place, log_sigma).reshape(grid.place.size, grid.log_sigma.size)
    # the likelihood of a large group is narrower than the grid: its logarithm is smooth, so it is drawn finer there
    rows = np.maximum(rows, rows.max() - 5e3)
    fine = CubicSpline(grid.place, rows)(grid.fine)
    top = fine.max()
    weight = np.exp(fine - top).T
    out = np.log(np.maximum(weight @ grid.kernel, 1e-300)) + top
    return out.reshape(grid.log_sigma.size, grid.common.size, grid.between.size)


def _kernel(fine: Floats, common: Floats, between: Floats) -> Floats:
    """Give the density of a group's place (rows) around each common place at each spread between groups (columns)."""
    step = fine[1] - fine[0]
    apart = fine[:, None, None] - common[None, :, None]
    density = np.exp(-0.5 * (apart / between) ** 2) * (step / (np.sqrt(2.0 * np.pi) * between))
    return density.reshape(fine.size, -1)


def _log_hyper_prior(prior: Prior, family: Family, middle_yr: float, grid: _Grid) -> Floats:
    common, log_sigma = np.meshgrid(grid.common, grid.log_sigma)
    of_place = log_prior(prior, family, middle_yr, common.ravel(), log_sigma.ravel()).reshape(common.shape)
    # half normal in the spread, over a grid of equal steps in its logarithm
    of_spread = -0.5 * (grid.between / prior.between_groups) ** 2 + np.log(grid.between)
    return of_place[:, :, None] + of_spread


def _density(log_weight: Floats, grid: _Grid) -> LogDensity:
    """Turn weights over log sigma, common place and spread into a log density of one more group's place."""
    top = float(log_weight.max())
    weight = np.exp(log_weight - top).reshape(grid.log_sigma.size, -1)
    table = np.log(np.maximum(weight @ grid.kernel.T, 1e-280)).T
    spline = RectBivariateSpline(grid.fine[::_FINE], grid.log_sigma, table[::_FINE], kx=3, ky=3)

    def density(place: Floats, log_sigma: Floats) -> Floats:
        inside = np.clip(place, grid.fine[0], grid.fine[-1])
        within = np.clip(log_sigma, grid.log_sigma[0], grid.log_sigma[-1])
        beyond = np.abs(place - inside) + 10.0 * np.abs(log_sigma - within)
        return np.asarray(spline.ev(inside, within), dtype=np.float64) - beyond

    return density
