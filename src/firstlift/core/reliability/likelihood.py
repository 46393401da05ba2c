"""The log likelihood of lives, with its gradient and its curvature, in location mu and log scale.

The derivatives are written out, not differenced: Newton's steps then close in on a maximum in a handful of passes.

References
----------
.. [1] W. Q. Meeker and L. A. Escobar, Statistical Methods for Reliability Data, 1998, chapter 8.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from firstlift.core.recording import Floats
from firstlift.core.reliability.families import (
    Family,
    log_between,
    log_density,
    log_survival,
    slope_of_log_density,
)
from firstlift.core.reliability.lives import Lives


@dataclass(frozen=True, slots=True, eq=False)
class Sorted:
    """Lives by what they contribute, log ages ready: seen ends, ends between two ages, lives that lasted, entries."""

    exact: tuple[Floats, Floats]
    between: tuple[Floats, Floats, Floats]
    lasted: tuple[Floats, Floats]
    entered: tuple[Floats, Floats]


def sort_lives(lives: Lives) -> Sorted:
    """Sort lives by what they contribute.

    Parameters
    ----------
    lives : Lives

    Returns
    -------
    Sorted
    """
    with np.errstate(divide="ignore"):
        left, right, entry = np.log(lives.left_yr), np.log(lives.right_yr), np.log(lives.entry_yr)
    exact = lives.left_yr == lives.right_yr
    lasted = np.isinf(lives.right_yr)
    between = ~exact & ~lasted
    entered = lives.entry_yr > 0.0
    count = lives.count
    return Sorted(
        exact=(left[exact], count[exact]),
        between=(left[between], right[between], count[between]),
        lasted=_by_age(left[lasted], count[lasted]),
        entered=_by_age(entry[entered], count[entered]),
    )


def _by_age(log_age: Floats, count: Floats) -> tuple[Floats, Floats]:
    ages, place = np.unique(log_age, return_inverse=True)
    return ages, np.bincount(place, weights=count, minlength=ages.size).astype(np.float64)


def log_likelihood(ready: Sorted, family: Family, mu: Floats, log_sigma: Floats) -> Floats:
    """Give the log likelihood at many points.

    Parameters
    ----------
    ready : Sorted
    family : Family
    mu, log_sigma : ndarray (m,)
        Location and log scale of log age, age in years.

    Returns
    -------
    ndarray (m,)
        On the scale of age, as is usual: seen ends carry their 1 / age.
    """
    out = np.empty(mu.size)
    for index, (location, log_scale) in enumerate(zip(mu.tolist(), log_sigma.tolist(), strict=True)):
        scale = float(np.exp(log_scale))
        total = 0.0
        if ready.between[0].size:
            low, high = ((age - location) / scale for age in ready.between[:2])
            total += float(ready.between[2] @ log_between(family, low, high))
        total += float(ready.lasted[1] @ log_survival(family, (ready.lasted[0] - location) / scale))
        total -= float(ready.entered[1] @ log_survival(family, (ready.entered[0] - location) / scale))
        age, count = ready.exact
        total += float(count @ (log_density(family, (age - location) / scale) - log_scale - age))
        out[index] = total
    return out


def likelihood_with_slopes(ready: Sorted, family: Family, mu: float, log_sigma: float) -> tuple[float, Floats, Floats]:
    """Give the log likelihood at one point with its gradient and its matrix of second derivatives.

    Parameters
    ----------
    ready : Sorted
    family : Family
    mu, log_sigma : float

    Returns
    -------
    value : float
    gradient : ndarray (2,)
        By mu and by log sigma.
    curvature : ndarray (2, 2)
    """
    sums = _Sums(float(np.exp(log_sigma)))
    _add_between(sums, ready, family, mu)
    _add_survival(sums, ready.lasted, family, mu, 1.0)
    _add_survival(sums, ready.entered, family, mu, -1.0)
    age, count = ready.exact
    if age.size:
        w = (age - mu) / sums.scale
        slope = slope_of_log_density(family, w)
        bend = -np.exp(np.minimum(w, 500.0)) if family is Family.WEIBULL else np.full_like(w, -1.0)
        sums.value += float(count @ (log_density(family, w) - log_sigma - age))
        sums.gradient[1] -= float(count.sum())
        sums.add(w, count * slope, count * bend)
    return sums.value, sums.gradient, sums.curvature


class _Sums:
    """Value, gradient and curvature as they add up."""

    def __init__(self, scale: float) -> None:
        self.scale = scale
        self.value = 0.0
        self.gradient = np.zeros(2)
        self.curvature = np.zeros((2, 2))

    def add(self, w: Floats, first: Floats, second: Floats) -> None:
        """Add sums over terms whose first and second derivatives by w are given.

        w falls by 1 / sigma with mu and by w with log sigma; those derivatives have derivatives themselves.
        """
        total = float(first.sum())
        moment = float(first @ w)
        self.gradient += (-total / self.scale, -moment)
        bend, bend_w, bend_ww = float(second.sum()), float(second @ w), float(second @ (w * w))
        cross = bend_w / self.scale + total / self.scale
        self.curvature += ((bend / self.scale**2, cross), (cross, bend_ww + moment))


def _add_survival(sums: _Sums, part: tuple[Floats, Floats], family: Family, mu: float, sign: float) -> None:
    age, count = part
    if not age.size:
        return
    w = (age - mu) / sums.scale
    value = log_survival(family, w)
    # the hazard of w, and its slope: h' = h (density's log slope + h)
    hazard = np.exp(np.minimum(log_density(family, w) - value, 500.0))
    sums.value += sign * float(count @ value)
    sums.add(w, -sign * count * hazard, -sign * count * hazard * (slope_of_log_density(family, w) + hazard))


def _add_between(sums: _Sums, ready: Sorted, family: Family, mu: float) -> None:
    left, right, count = ready.between
    if not left.size:
        return
    low, high = (left - mu) / sums.scale, (right - mu) / sums.scale
    value = log_between(family, low, high)
    early = np.isneginf(low)
    kept = np.where(early, 0.0, low)
    from_low = np.where(early, 0.0, np.exp(np.clip(log_density(family, kept) - value, -700.0, 300.0)))
    from_high = np.exp(np.clip(log_density(family, high) - value, -700.0, 300.0))
    sums.value += float(count @ value)
    # P = S(low) - S(high): d log P = from_high dw_high - from_low dw_low
    sums.add(high, count * from_high, count * from_high * slope_of_log_density(family, high))
    sums.add(kept, -count * from_low, -count * from_low * slope_of_log_density(family, kept))
    # what is left of the curvature: minus the square of the slope of log P
    slope_mu = (from_low - from_high) / sums.scale
    slope_scale = from_low * kept - from_high * high
    cross = float(count @ (slope_mu * slope_scale))
    sums.curvature -= ((float(count @ slope_mu**2), cross), (cross, float(count @ slope_scale**2)))
