"""Maximum likelihood of a life distribution, and a plain word where the lives cannot tell one.

References
----------
.. [1] W. Q. Meeker and L. A. Escobar, Statistical Methods for Reliability Data, 1998, chapter 8.
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum

import numpy as np

from firstlift.core.errors import FirstliftError, Problem
from firstlift.core.recording import Floats, frozen
from firstlift.core.reliability.families import Family, standard_age
from firstlift.core.reliability.likelihood import Sorted, likelihood_with_slopes, sort_lives
from firstlift.core.reliability.lives import Lives

# a shape beyond these (Weibull 150, or 0.02) is no shape: the likelihood is still rising
LEAST_LOG_SIGMA, MOST_LOG_SIGMA = -5.0, 4.0
_MOST_STEPS = 100


class Untold(StrEnum):
    """Why lives cannot tell a location and a scale."""

    NO_FAILURES = "no-failures"
    NO_SURVIVORS = "no-survivors"
    ONE_AGE = "one-inspection-age"
    NO_SHAPE = "shape-not-determined"


@dataclass(frozen=True, slots=True, eq=False)
class LifeFit:
    """A fitted life distribution: location and scale of log age (years), with standard errors.

    ``covariance`` (2, 2) belongs to mu and log sigma.
    """

    family: Family
    mu: float
    log_sigma: float
    log_likelihood: float
    covariance: Floats

    @property
    def sigma(self) -> float:
        """Scale of log age."""
        return float(np.exp(self.log_sigma))

    @property
    def scale_yr(self) -> float:
        """Weibull's characteristic life, lognormal's median."""
        return float(np.exp(self.mu))

    @property
    def shape(self) -> float:
        """Weibull's shape beta; 1 / sigma for both."""
        return float(np.exp(-self.log_sigma))

    def age_yr(self, risk: float) -> float:
        """Give the age by which a share of lives has ended."""
        return float(np.exp(self.mu + self.sigma * standard_age(self.family, risk)))


def why_untold(lives: Lives) -> Untold | None:
    """Say why no location and scale can come out of lives, where that is plain before any fitting.

    Parameters
    ----------
    lives : Lives

    Returns
    -------
    Untold or None
    """
    if lives.ended == 0.0:
        return Untold.NO_FAILURES
    if not bool(np.any(lives.left_yr > lives.entry_yr)):
        return Untold.NO_SURVIVORS
    seen = np.concatenate([lives.left_yr[lives.left_yr > 0.0], lives.right_yr[np.isfinite(lives.right_yr)]])
    return Untold.ONE_AGE if float(seen.min()) == float(seen.max()) else None


def fit_life(lives: Lives, family: Family, *, ready: Sorted | None = None) -> LifeFit | Untold:
    """Fit a life distribution by maximum likelihood.

    Parameters
    ----------
    lives : Lives
    family : Family
    ready : Sorted or None
        The same lives sorted before, where that was done.

    Returns
    -------
    LifeFit or Untold
        The reason where the lives cannot tell both parameters.
    """
    untold = why_untold(lives)
    if untold is not None:
        return untold
    ready = sort_lives(lives) if ready is None else ready
    mu, log_sigma = start_of(lives, family)
    value, gradient, curvature = likelihood_with_slopes(ready, family, mu, log_sigma)
    for _ in range(_MOST_STEPS):
        step = _uphill(gradient, curvature)
        gain = float(gradient @ step)
        if gain < 1e-13 * (1.0 + abs(value)):
            break
        climbed = _climb(ready, family, (mu, log_sigma), value, step)
        if climbed is None:
            break
        mu, log_sigma, (value, gradient, curvature) = climbed
        if not LEAST_LOG_SIGMA < log_sigma < MOST_LOG_SIGMA:
            return Untold.NO_SHAPE
    information = -curvature
    if not _is_told(information, lives.total):
        return Untold.NO_SHAPE
    return LifeFit(family, mu, log_sigma, value, frozen(np.linalg.inv(information)))


def start_of(lives: Lives, family: Family) -> tuple[float, float]:
    """Give a first location and log scale: the share that ended, placed at the middle of the ages.

    Parameters
    ----------
    lives : Lives
    family : Family

    Returns
    -------
    mu, log_sigma : float
    """
    share = min(0.9, max(0.5, lives.ended) / max(1.0, lives.total))
    last = np.where(np.isfinite(lives.right_yr), lives.right_yr, lives.left_yr)
    middle = float(np.log(last) @ lives.count) / max(lives.total, 1e-300) if last.size else 0.0
    return middle - standard_age(family, share), 0.0


def _uphill(gradient: Floats, curvature: Floats) -> Floats:
    """Give Newton's step; where the curvature is not that of a summit, one along its turned axes."""
    values, axes = np.linalg.eigh(-curvature)
    size = max(float(np.abs(values).max()), 1e-12)
    bent = np.maximum(np.abs(values), 1e-9 * size)
    step = axes @ ((axes.T @ gradient) / bent)
    # a step of more than two in log age or log scale leaves the country the curvature speaks of
    return step * min(1.0, 2.0 / max(float(np.abs(step).max()), 1e-300))


def _climb(
    ready: Sorted, family: Family, at: tuple[float, float], value: float, step: Floats
) -> tuple[float, float, tuple[float, Floats, Floats]] | None:
    """Go along a step, halved until the likelihood rises; None where it rises no more."""
    length = 1.0
    for _ in range(30):
        mu, log_sigma = at[0] + length * float(step[0]), at[1] + length * float(step[1])
        there = likelihood_with_slopes(ready, family, mu, log_sigma)
        if there[0] > value:
            return mu, log_sigma, there
        length *= 0.5
    return None


def _is_told(information: Floats, total: float) -> bool:
    """Say whether the curvature at the summit is that of a summit, in both directions."""
    values = np.linalg.eigvalsh(information)
    return bool(values[0] > 1e-9 * min(1.0, total) and values[0] > 1e-12 * values[1])


def fit_constant_hazard(lives: Lives, *, ready: Sorted | None = None) -> LifeFit | Untold:
    """Fit a Weibull distribution of shape 1: the chance of failing does not change with age.

    Parameters
    ----------
    lives : Lives
    ready : Sorted or None
        The same lives sorted before, where that was done.

    Returns
    -------
    LifeFit or Untold
        With its covariance's row and column of log sigma at 0.
    """
    untold = why_untold(lives)
    if untold is Untold.NO_FAILURES or untold is Untold.NO_SURVIVORS:
        return untold
    ready = sort_lives(lives) if ready is None else ready
    mu, _ = start_of(lives, Family.WEIBULL)
    for _ in range(_MOST_STEPS):
        _, gradient, curvature = likelihood_with_slopes(ready, Family.WEIBULL, mu, 0.0)
        step = float(gradient[0] / max(-curvature[0, 0], 1e-9 * abs(float(gradient[0])) + 1e-300))
        mu += min(2.0, max(-2.0, step))
        if abs(step) < 1e-10:
            break
    value, _, curvature = likelihood_with_slopes(ready, Family.WEIBULL, mu, 0.0)
    covariance = np.zeros((2, 2))
    covariance[0, 0] = -1.0 / curvature[0, 0]
    return LifeFit(Family.WEIBULL, mu, 0.0, value, covariance)


def check_risk(risk: float, where: str = "target") -> float:
    """Give a risk back if it is one.

    Parameters
    ----------
    risk : float
    where : str
        Said in the message.

    Returns
    -------
    float

    Raises
    ------
    FirstliftError
        REL-002 not above 0 and below 1.
    """
    if not 0.0 < risk < 1.0:
        raise FirstliftError(Problem("REL-002", f"{risk:g} is no chance", where, "a number above 0 and below 1"))
    return risk
