"""What is held likely before any test of these valves: a shape near that of valves in general, hardly more.

References
----------
.. [1] API RP 581, 3rd edition with addendum 2 (2020), part 5: default shape and characteristic lives of the failure
   to open on demand. From memory; see the table's own status marks.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy.special import log_ndtr

from firstlift.core.recording import Floats
from firstlift.core.reliability.families import SD_OF_LOG_WEIBULL, Family, log_density


@dataclass(frozen=True, slots=True)
class Prior:
    """What is held likely before the tests.

    ``shape`` is the Weibull shape at its middle and ``shape_spread`` the standard deviation of its logarithm. The
    share that has failed by the middle of the tests' ages has a beta distribution of ``good`` and ``failed``
    (Jeffreys': half a test each). ``scale_yr`` with ``scale_spread``, where given, holds a characteristic life likely
    as well. ``between_groups`` is the usual size of differences between groups, in log hazard.
    """

    shape: float
    shape_spread: float
    failed: float = 0.5
    good: float = 0.5
    scale_yr: float | None = None
    scale_spread: float = 1.0
    between_groups: float = 0.7


def log_sigma_of(prior: Prior, family: Family) -> float:
    """Give the middle of log sigma: that of the shape, at the same spread of log age for both families.

    Parameters
    ----------
    prior : Prior
    family : Family

    Returns
    -------
    float
    """
    own = 1.0 if family is Family.WEIBULL else SD_OF_LOG_WEIBULL
    return float(np.log(own / prior.shape))


def log_prior_of_scale(prior: Prior, family: Family, log_sigma: Floats) -> Floats:
    """Give the log prior density of log sigma.

    Parameters
    ----------
    prior : Prior
    family : Family
    log_sigma : ndarray

    Returns
    -------
    ndarray
    """
    apart = (log_sigma - log_sigma_of(prior, family)) / prior.shape_spread
    return -0.5 * apart * apart


def log_prior_of_place(prior: Prior, family: Family, place: Floats) -> Floats:
    """Give the log prior density of the place: the standardised log age of the middle of the tests' ages.

    Parameters
    ----------
    prior : Prior
    family : Family
    place : ndarray

    Returns
    -------
    ndarray
    """
    if family is Family.WEIBULL:
        hazard = np.exp(np.minimum(place, 500.0))
        with np.errstate(divide="ignore"):
            log_failed, log_good = np.log(-np.expm1(-np.maximum(hazard, 1e-300))), -hazard
    else:
        log_failed, log_good = log_ndtr(place), log_ndtr(-place)
    share = (prior.failed - 1.0) * log_failed + (prior.good - 1.0) * log_good
    return share + log_density(family, place)


def log_prior_of_life(prior: Prior, mu: Floats) -> Floats:
    """Give the log prior density that a likely characteristic life adds; 0 where none is held likely.

    Parameters
    ----------
    prior : Prior
    mu : ndarray
        Location of log age, age in years.

    Returns
    -------
    ndarray
    """
    if prior.scale_yr is None:
        return np.zeros_like(mu)
    apart = (mu - np.log(prior.scale_yr)) / prior.scale_spread
    return -0.5 * apart * apart
