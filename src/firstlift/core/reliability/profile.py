"""Profile-likelihood intervals: how far a quantity may move before the lives speak against it.

The other parameter is fitted anew at every value tried; the interval holds the values whose likelihood stays within
half a chi-squared quantile of the summit. An end that the likelihood never reaches is open.

References
----------
.. [1] W. Q. Meeker and L. A. Escobar, Statistical Methods for Reliability Data, 1998, section 8.3.
"""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
from scipy.special import chdtri

from firstlift.core.recording import Floats
from firstlift.core.reliability.families import Family, standard_age
from firstlift.core.reliability.fit import LEAST_LOG_SIGMA, MOST_LOG_SIGMA, LifeFit
from firstlift.core.reliability.likelihood import Sorted, likelihood_with_slopes

Interval = tuple[float, float]
# by mu and by log sigma: where the path of the free parameter is, its direction and its bend there
_Path = Callable[[float, float], tuple[float, float, Floats, Floats]]


def shape_interval(ready: Sorted, fit: LifeFit, confidence: float = 0.95) -> Interval:
    """Give the profile interval of the shape, 1 / sigma.

    Parameters
    ----------
    ready : Sorted
        The lives that were fitted.
    fit : LifeFit
    confidence : float

    Returns
    -------
    low, high : float
        0 or infinity where the interval is open.
    """

    def path(log_shape: float, mu: float) -> tuple[float, float, Floats, Floats]:
        return mu, -log_shape, np.array([1.0, 0.0]), np.zeros(2)

    limits = (-MOST_LOG_SIGMA, -LEAST_LOG_SIGMA)
    return _interval(ready, fit, path, (-fit.log_sigma, fit.mu), confidence, limits)


def scale_interval(ready: Sorted, fit: LifeFit, confidence: float = 0.95) -> Interval:
    """Give the profile interval of the characteristic life (Weibull) or the median (lognormal).

    Parameters
    ----------
    ready : Sorted
        The lives that were fitted.
    fit : LifeFit
    confidence : float

    Returns
    -------
    low, high : float, [yr]
        0 or infinity where the interval is open.
    """
    return _at_standard_age(ready, fit, 0.0, confidence)


def age_interval(ready: Sorted, fit: LifeFit, risk: float, confidence: float = 0.95) -> Interval:
    """Give the profile interval of the age by which a share of lives has ended.

    Parameters
    ----------
    ready : Sorted
        The lives that were fitted.
    fit : LifeFit
    risk : float
    confidence : float

    Returns
    -------
    low, high : float, [yr]
        0 or infinity where the interval is open.
    """
    return _at_standard_age(ready, fit, standard_age(fit.family, risk), confidence)


def _at_standard_age(ready: Sorted, fit: LifeFit, w: float, confidence: float) -> Interval:
    def path(log_age: float, log_sigma: float) -> tuple[float, float, Floats, Floats]:
        pull = -float(np.exp(log_sigma)) * w
        return log_age + pull, log_sigma, np.array([pull, 1.0]), np.array([pull, 0.0])

    return _interval(ready, fit, path, (fit.mu + fit.sigma * w, fit.log_sigma), confidence, (-30.0, 30.0))


def _interval(
    ready: Sorted, fit: LifeFit, path: _Path, start: tuple[float, float], confidence: float, limits: Interval
) -> Interval:
    drop = 0.5 * float(chdtri(1.0, 1.0 - confidence))
    wanted = fit.log_likelihood - drop
    low = _end(ready, fit.family, path, start, wanted, -1.0, limits[0])
    high = _end(ready, fit.family, path, start, wanted, 1.0, limits[1])
    return 0.0 if low is None else float(np.exp(low)), float("inf") if high is None else float(np.exp(high))


def _end(
    ready: Sorted, family: Family, path: _Path, start: tuple[float, float], wanted: float, way: float, limit: float
) -> float | None:
    """Walk from the summit until the profile has fallen far enough, then close in; None where it never does."""
    inside, free = start
    step, outside = 0.1, inside
    while True:
        outside = way * min(way * (inside + way * step), way * limit)
        value, free_there = _best(ready, family, path, outside, free)
        if value < wanted:
            break
        if outside == limit:
            return None
        inside, free, step = outside, free_there, 2.0 * step
    for _ in range(60):
        middle = 0.5 * (inside + outside)
        value, free_there = _best(ready, family, path, middle, free)
        if value >= wanted:
            inside, free = middle, free_there
        else:
            outside = middle
        if abs(outside - inside) < 1e-7:
            break
    return 0.5 * (inside + outside)


def _best(ready: Sorted, family: Family, path: _Path, fixed: float, free: float) -> tuple[float, float]:
    """Give the highest likelihood along a path, and where: Newton's steps, each made to climb."""
    mu, log_sigma, along, bend = path(fixed, free)
    value, gradient, curvature = likelihood_with_slopes(ready, family, mu, log_sigma)
    for _ in range(40):
        slope = float(gradient @ along)
        second = float(along @ curvature @ along + gradient @ bend)
        step = min(1.0, max(-1.0, slope / max(abs(second), 1e-12)))
        if abs(slope * step) < 1e-10 * (1.0 + abs(value)):
            break
        for _ in range(25):
            there = free + step
            mu, log_sigma, along, bend = path(fixed, min(MOST_LOG_SIGMA, there) if along[1] else there)
            new, gradient, curvature = likelihood_with_slopes(ready, family, mu, log_sigma)
            if new >= value:
                break
            step *= 0.5
        else:
            break
        free, value = free + step, new
    return value, free
