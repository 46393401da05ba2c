"""The two families of lives: Weibull and lognormal, both as a location and a scale of log age.

With w = (log t - mu) / sigma: Weibull has survival exp(-exp(w)), scale eta = exp(mu), shape beta = 1 / sigma;
lognormal has survival Phi(-w). A standard deviation of log age is 1.2825 sigma for one, sigma for the other.

References
----------
.. [1] W. Q. Meeker and L. A. Escobar, Statistical Methods for Reliability Data, 1998, chapters 4 and 8.
"""

from __future__ import annotations

from enum import StrEnum

import numpy as np
from scipy.special import log_ndtr, ndtri

from firstlift.core.recording import Floats

_HALF_LOG_2PI = 0.5 * float(np.log(2.0 * np.pi))
# beyond these, survival or its complement is 0 to the last bit; held back so that exp never overflows
_LEAST, _MOST = -700.0, 500.0
SD_OF_LOG_WEIBULL = float(np.pi / np.sqrt(6.0))


class Family(StrEnum):
    """Which distribution a life has."""

    WEIBULL = "weibull"
    LOGNORMAL = "lognormal"


def log_survival(family: Family, w: Floats) -> Floats:
    """Give the logarithm of survival.

    Parameters
    ----------
    family : Family
    w : ndarray
        Standardised log age; -infinity for age 0.

    Returns
    -------
    ndarray
    """
    if family is Family.WEIBULL:
        return -np.exp(np.minimum(w, _MOST))
    return log_ndtr(-w)


def log_density(family: Family, w: Floats) -> Floats:
    """Give the logarithm of the density of w.

    Parameters
    ----------
    family : Family
    w : ndarray
        Standardised log age.

    Returns
    -------
    ndarray
    """
    if family is Family.WEIBULL:
        return w - np.exp(np.minimum(w, _MOST))
    return -0.5 * w * w - _HALF_LOG_2PI


def slope_of_log_density(family: Family, w: Floats) -> Floats:
    """Give the derivative of the log density by w.

    Parameters
    ----------
    family : Family
    w : ndarray
        Standardised log age.

    Returns
    -------
    ndarray
    """
    return 1.0 - np.exp(np.minimum(w, _MOST)) if family is Family.WEIBULL else -w


def log_between(family: Family, w_left: Floats, w_right: Floats) -> Floats:
    """Give the logarithm of the probability that a life ends between two ages.

    Parameters
    ----------
    family : Family
    w_left, w_right : ndarray
        Standardised log ages, left below right; left -infinity for age 0, right finite.

    Returns
    -------
    ndarray
    """
    if family is Family.WEIBULL:
        early = np.exp(np.clip(w_left, _LEAST, _MOST))
        # exp(wr) - exp(wl), without losing digits where both are small
        rise = np.exp(np.clip(w_right, _LEAST, _MOST)) * -np.expm1(np.maximum(w_left - w_right, _LEAST))
        with np.errstate(divide="ignore"):
            return -early + np.log(-np.expm1(-np.maximum(rise, 1e-300)))
    # in the upper half both logarithms of the lower tail are near 0: turn the pair round
    turned = w_left > 0.0
    low = np.where(turned, -w_right, w_left)
    high = np.where(turned, -w_left, w_right)
    upper = log_ndtr(high)
    with np.errstate(divide="ignore", invalid="ignore"):
        return upper + np.log(-np.expm1(np.minimum(log_ndtr(low) - upper, -1e-300)))


def standard_age(family: Family, risk: float) -> float:
    """Give the standardised log age at which a share of lives has ended.

    Parameters
    ----------
    family : Family
    risk : float
        Above 0, below 1.

    Returns
    -------
    float
    """
    if family is Family.WEIBULL:
        return float(np.log(-np.log1p(-risk)))
    return float(ndtri(risk))


def age_of_hazard(family: Family, hazard: Floats) -> Floats:
    """Give the standardised log age at which the cumulative hazard, -log survival, has grown to a value.

    Parameters
    ----------
    family : Family
    hazard : ndarray
        0 or more.

    Returns
    -------
    ndarray
        -infinity where the hazard is 0.
    """
    with np.errstate(divide="ignore"):
        if family is Family.WEIBULL:
            return np.log(hazard)
        return -ndtri(np.exp(-hazard))
