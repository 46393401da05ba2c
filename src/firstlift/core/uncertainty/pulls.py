"""The mean over several pulls: information beside the verdict, never what it judges."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from firstlift.core.errors import FirstliftError, Problem
from firstlift.core.uncertainty.coverage import Spread


@dataclass(frozen=True, slots=True)
class PullMean:
    """Mean over pulls, [Pa]; ``repeatability_pa`` is the standard deviation of one pull, None for a single one."""

    mean_pa: float
    repeatability_pa: float | None
    standard_uncertainty_pa: float
    degrees_of_freedom: float
    coverage_factor: float
    expanded_uncertainty_pa: float


def mean_over_pulls(
    values_pa: Sequence[float],
    per_pull_u_pa: Sequence[float],
    shared_u_pa: float | Spread,
    probability: float = 0.95,
) -> PullMean:
    """Give the mean over pulls with what they share kept whole.

    A mean divides only what each pull has of its own: ``u^2 = s^2/n + u^2(shared)``. Two or three pulls that
    happen to agree do not prove a small scatter, so the result is never narrower than the pulls' own
    evidence allows: the wider of "scatter seen" and "scatter expected" holds.

    Parameters
    ----------
    values_pa : sequence of float (n,), [Pa gauge]
    per_pull_u_pa : sequence of float (n,), [Pa]
        Standard uncertainty of each pull from the lines it does not share.
    shared_u_pa : float or Spread, [Pa]
        Standard uncertainty of the lines all pulls share, or their distribution
        (``make_budget(shared lines).spread``), which keeps a rectangle a rectangle.
    probability : float
        Coverage probability.

    Returns
    -------
    PullMean, [Pa]

    Raises
    ------
    FirstliftError
        UNC-001 probability, UNC-005 no pull, or not one uncertainty for each.

    References
    ----------
    .. [1] JCGM 100:2008, 4.2.3 (mean of n), 4.3.7, 5.2 (shared part), G.4.1.
    """
    n = len(values_pa)
    if n == 0 or len(per_pull_u_pa) != n:
        raise FirstliftError(
            Problem("UNC-005", f"{n} pulls with {len(per_pull_u_pa)} uncertainties", needed="one for each, 1 or more")
        )
    shared = shared_u_pa if isinstance(shared_u_pa, Spread) else Spread(shared_u_pa)
    expected = shared.with_line(math.hypot(*per_pull_u_pa) / n)
    mean = math.fsum(values_pa) / n
    if n == 1:
        return _mean(mean, None, expected, probability)
    s = float(np.std(np.asarray(values_pa, dtype=np.float64), ddof=1))
    seen = shared.with_line(s / math.sqrt(n), n - 1.0)
    wider = max(seen, expected, key=lambda spread: spread.expanded(probability))
    return _mean(mean, s, wider, probability)


def _mean(mean: float, s: float | None, spread: Spread, probability: float) -> PullMean:
    u, expanded = spread.standard_uncertainty, spread.expanded(probability)
    factor = expanded / u if u > 0.0 else Spread(1.0).expanded(probability)
    return PullMean(mean, s, u, spread.degrees_of_freedom, factor, expanded)
