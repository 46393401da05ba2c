"""What is held likely after the tests: weighted points (place, log sigma) of both families.

Few failures, none, or a single valve leave a likelihood that is no hill but a plain; a summit and its curvature say
little there. So the whole of it is weighed, point by point, over a grid that is laid again until it fits. Weibull and
lognormal stand side by side, each with the weight that the tests give it.

``place`` is the standardised log age of ``middle_yr``, the middle of the ages at which anything was learnt: the share
failed by then, turned into the family's own scale. It is what tests tell best, and it hardly leans on the shape.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from firstlift.core.recording import Floats, frozen
from firstlift.core.reliability.families import Family, age_of_hazard, log_survival
from firstlift.core.reliability.fit import LifeFit, fit_life
from firstlift.core.reliability.lives import Lives
from firstlift.core.reliability.prior import (
    Prior,
    log_prior_of_life,
    log_prior_of_place,
    log_prior_of_scale,
    log_sigma_of,
)

_REACH, _SIDE = 5.5, 31
_GOLDEN = 0.5 * (5.0**0.5 - 1.0)
_MOST_LAYINGS = 8
_CHUNK = 200_000
LogDensity = Callable[[Floats, Floats], Floats]


@dataclass(frozen=True, slots=True, eq=False)
class Points:
    """Weighted points of one family; weights of all families together sum to 1."""

    family: Family
    place: Floats
    log_sigma: Floats
    weight: Floats


@dataclass(frozen=True, slots=True, eq=False)
class Belief:
    """What is held likely of one group's lives."""

    middle_yr: float
    points: tuple[Points, ...]

    def hazard(self, points: Points, age_yr: float) -> Floats:
        """Give the cumulative hazard at an age, for every point of a family."""
        # a hundredth of a second after the start is the start
        if age_yr < 1e-10:
            return np.zeros_like(points.place)
        w = points.place + np.log(age_yr / self.middle_yr) * np.exp(-points.log_sigma)
        return -log_survival(points.family, w)

    def log_age(self, points: Points, hazard: Floats) -> Floats:
        """Give the log age at which the cumulative hazard has grown to a value, for every point of a family."""
        return np.log(self.middle_yr) + np.exp(points.log_sigma) * (age_of_hazard(points.family, hazard) - points.place)


def middle_of(lives: Lives) -> float:
    """Give the middle of the ages at which anything was learnt, in years; half the lives learnt more later.

    Parameters
    ----------
    lives : Lives
        One or more.

    Returns
    -------
    float
    """
    last = np.where(np.isfinite(lives.right_yr), lives.right_yr, lives.left_yr)
    order = np.argsort(last)
    reached = np.cumsum(lives.count[order])
    return float(last[order][np.searchsorted(reached, 0.5 * reached[-1])])


class Ready:
    """Lives with their different ages listed once, so that survival is worked out once an age."""

    def __init__(self, lives: Lives, middle_yr: float) -> None:
        ages = lives.ages_yr if lives.ages_yr.size else np.array([middle_yr])
        entries = np.unique(np.concatenate([ages, lives.entry_yr[lives.entry_yr > 0.0]]))
        self.log_age = np.log(entries / middle_yr)
        self.size = entries.size
        # one more place than there are ages: age 0, where nothing has happened yet
        self.left = np.where(lives.left_yr > 0.0, np.searchsorted(entries, lives.left_yr), self.size)
        ended = np.isfinite(lives.right_yr)
        self.left_ended, self.left_lasted = self.left[ended], self.left[~ended]
        self.right = np.searchsorted(entries, lives.right_yr[ended])
        self.count_ended = lives.count[ended]
        entered = lives.entry_yr > 0.0
        # what lasted and what entered late add up by age
        entry = np.searchsorted(entries, lives.entry_yr[entered])
        self.load = np.zeros(self.size + 1)
        np.add.at(self.load, self.left_lasted, lives.count[~ended])
        np.subtract.at(self.load, entry, lives.count[entered])
        # an end that was seen is one in the last thousandth of its age
        seen = self.left_ended == self.right
        self.seen = bool(seen.any())
        self.where_seen = seen

    def log_likelihood(self, family: Family, place: Floats, log_sigma: Floats) -> Floats:
        """Give the log likelihood at many points (m,)."""
        out = np.empty(place.size)
        step = max(1, _CHUNK // max(1, self.size + self.right.size))
        for start in range(0, place.size, step):
            part = slice(start, start + step)
            w = place[part, None] + self.log_age * np.exp(-log_sigma[part, None])
            hazard = np.zeros((w.shape[0], self.size + 1))
            hazard[:, : self.size] = np.minimum(-log_survival(family, w), 1e30)
            total = -hazard @ self.load
            if self.right.size:
                early = hazard[:, self.left_ended]
                rise = hazard[:, self.right] - early
                if self.seen:
                    rise[:, self.where_seen] = self._rise_of_seen(family, place[part], log_sigma[part])
                total += (np.log(-np.expm1(-np.maximum(rise, 1e-300))) - early) @ self.count_ended
            out[part] = total
        return out

    def _rise_of_seen(self, family: Family, place: Floats, log_sigma: Floats) -> Floats:
        ages = self.log_age[self.right[self.where_seen]]
        slope = np.exp(-log_sigma[:, None])
        late = -log_survival(family, place[:, None] + (ages + 5e-4) * slope)
        return late + log_survival(family, place[:, None] + (ages - 5e-4) * slope)


def believe(
    lives: Lives, prior: Prior, *, middle_yr: float | None = None, others: dict[Family, LogDensity] | None = None
) -> Belief:
    """Weigh what tests say against what was held likely before.

    Parameters
    ----------
    lives : Lives
        May be empty: what was held likely before then stays.
    prior : Prior
    middle_yr : float or None, [yr]
        Age the place belongs to; the middle of these lives where None.
    others : dict or None
        By family: the log density of place and log sigma that other groups lend; the prior's where None.

    Returns
    -------
    Belief
    """
    middle = (middle_of(lives) if lives.count.size else 5.0) if middle_yr is None else middle_yr
    ready = Ready(lives, middle)
    found: list[tuple[Family, Floats, Floats, Floats, float]] = []
    for family in Family:
        lent = None if others is None else others[family]

        def density(
            place: Floats, log_sigma: Floats, family: Family = family, lent: LogDensity | None = lent
        ) -> Floats:
            value = ready.log_likelihood(family, place, log_sigma)
            if lent is not None:
                return value + lent(place, log_sigma)
            return value + log_prior(prior, family, middle, place, log_sigma)

        place, log_sigma, log_weight, log_cell = _lay(density, *_first_guess(lives, prior, family, middle))
        found.append((family, place, log_sigma, log_weight + log_cell, log_cell))
    top = max(float(row[3].max()) for row in found)
    total = sum(float(np.exp(row[3] - top).sum()) for row in found)
    return Belief(
        middle, tuple(Points(f, frozen(p), frozen(s), frozen(np.exp(lw - top) / total)) for f, p, s, lw, _ in found)
    )


def log_prior(prior: Prior, family: Family, middle_yr: float, place: Floats, log_sigma: Floats) -> Floats:
    """Give the log prior density of place and log sigma.

    Parameters
    ----------
    prior : Prior
    family : Family
    middle_yr : float, [yr]
    place, log_sigma : ndarray

    Returns
    -------
    ndarray
    """
    mu = np.log(middle_yr) - np.exp(log_sigma) * place
    of_place = log_prior_of_place(prior, family, place)
    return of_place + log_prior_of_scale(prior, family, log_sigma) + log_prior_of_life(prior, mu)


def _first_guess(lives: Lives, prior: Prior, family: Family, middle_yr: float) -> tuple[Floats, Floats]:
    """Give where to lay the grid first: at the fit where failures are many, else wide over the prior."""
    fit = fit_life(lives, family) if lives.ended >= 10.0 else None
    if isinstance(fit, LifeFit) and float(fit.covariance[1, 1]) < 0.25:
        place = (np.log(middle_yr) - fit.mu) / fit.sigma
        turn = np.array([[-1.0 / fit.sigma, -place], [0.0, 1.0]])
        return np.array([place, fit.log_sigma]), turn @ fit.covariance @ turn.T
    share = (lives.ended + 0.5) / (lives.total + 1.0)
    return np.array([np.log(share), log_sigma_of(prior, family)]), np.diag([4.0, prior.shape_spread**2])


def _lay(density: LogDensity, centre: Floats, spread: Floats) -> tuple[Floats, Floats, Floats, float]:
    """Lay a grid along the axes of what was found before, until it fits; give its points, log weights and cell."""
    steps = np.linspace(-_REACH, _REACH, _SIDE)
    first, second = np.meshgrid(steps, steps, indexing="ij")
    # each row is set off by another part of a step: along no direction do points fall together, so that quantiles of
    # whatever is worked out from them are smooth
    first = first + (np.arange(_SIDE) * _GOLDEN % 1.0 - 0.5) * (steps[1] - steps[0])
    laid = np.vstack([first.ravel(), second.ravel()])
    # a grid that saw one point only is laid again around it, within a step of it
    least = (0.3 * float(steps[1] - steps[0])) ** 2 * np.eye(2)
    turns = 0
    while True:
        turns += 1
        root = np.linalg.cholesky(spread)
        points = centre[:, None] + root @ laid
        log_weight = density(points[0], points[1])
        weight = np.exp(log_weight - log_weight.max())
        weight /= weight.sum()
        middle = laid @ weight
        apart = laid - middle[:, None]
        # in units of the grid: 1 and 1, in the middle of it, where it fits
        inner = np.asarray((apart * weight) @ apart.T, dtype=np.float64)
        sizes = np.sqrt(np.linalg.eigvalsh(inner))
        fits = sizes[0] > 0.6 and sizes[1] < 1.6 and float(np.abs(middle).max()) < 2.0
        if fits or turns == _MOST_LAYINGS:
            return points[0], points[1], log_weight, float(np.log(np.diag(root)).sum())
        centre, spread = centre + root @ middle, root @ (inner + least) @ root.T


def quantiles(values: Floats, weights: Floats, shares: tuple[float, ...]) -> tuple[float, ...]:
    """Give weighted quantiles: the least value that a share of the weight does not exceed.

    No interpolation: values that all grow then never give a smaller quantile, whatever becomes of their order.

    Parameters
    ----------
    values, weights : ndarray (n,)
        Weights sum to 1.
    shares : tuple of float

    Returns
    -------
    tuple of float
    """
    order = np.argsort(values)
    reached = np.cumsum(weights[order])
    last = values.size - 1
    places = [min(int(np.searchsorted(reached, share * float(reached[-1]))), last) for share in shares]
    return tuple(float(values[order[place]]) for place in places)


def survival_band(belief: Belief, ages_yr: Floats) -> tuple[Floats, Floats, Floats]:
    """Give the share that still lasts at each age, with the band that holds it 95 times in a hundred.

    Parameters
    ----------
    belief : Belief
    ages_yr : ndarray (n,), [yr]

    Returns
    -------
    middle, low, high : ndarray (n,)
    """
    weights = np.concatenate([points.weight for points in belief.points])
    rows = np.empty((3, ages_yr.size))
    for index, age in enumerate(ages_yr.tolist()):
        lasting = np.concatenate([np.exp(-belief.hazard(points, age)) for points in belief.points])
        rows[:, index] = quantiles(lasting, weights, (0.5, 0.025, 0.975))
    return rows[0], rows[1], rows[2]
