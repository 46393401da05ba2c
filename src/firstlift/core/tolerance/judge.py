"""The decision rules: a measured set pressure, its spread and the limits make a verdict."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from firstlift.core.job import Decision, Rules
from firstlift.core.result import VerdictOutcome
from firstlift.core.tolerance.limits import Limits
from firstlift.core.uncertainty.budget import Budget
from firstlift.core.uncertainty.coverage import Spread, student_factor

# Only a rise that matters can block: a third of the spread that agreeing pulls may have anyway (common practice).
_TREND_SHARE_OF_SPREAD = 1.0 / 3.0
_TREND_PROBABILITY = 0.95
# From five pulls on, the scatter about the line has three degrees of freedom or more and can speak for itself.
_PULLS_FOR_RESIDUALS = 5


@dataclass(frozen=True, slots=True)
class Judged:
    """Outcome of one value against its limits, with the probability that it lies within them."""

    outcome: VerdictOutcome
    probability_within: float


@dataclass(frozen=True, slots=True)
class JudgedAsLeft:
    """Outcome of the last consecutive openings.

    ``each`` holds the judged openings in order (the last ones, as many as the rule needs or fewer);
    ``probability_within`` is the least among them, None without openings. ``spread`` is the largest less the
    smallest as a share of set pressure; ``enough``, ``agrees`` and ``trend`` say what blocked acceptance.
    """

    outcome: VerdictOutcome
    probability_within: float | None
    each: tuple[Judged, ...]
    enough: bool
    spread: float
    agrees: bool
    trend: bool


def probability_within(
    value_pa: float, uncertainty: Budget | Spread | float, limits: Limits, one_sided_pa: float = 0.0
) -> float:
    """Give the probability that the set pressure lies within the limits, both included.

    Parameters
    ----------
    value_pa : float, [Pa gauge]
        Measured value, not rounded.
    uncertainty : Budget, Spread or float, [Pa]
        The budget, its distribution, or a standard uncertainty (normal).
    limits : Limits
    one_sided_pa : float, [Pa]
        Unknown distance that is added to the value, every length from 0 to this equally likely: from first
        lift up to pop, where the rule means pop.

    Returns
    -------
    float
        0 to 1. Of a budget with one-sided lines the smaller of what it gives with them and without: what may be,
        but need not (a seat pressurised further out while it leaks), may cost a verdict and never earns one.

    References
    ----------
    .. [1] JCGM 106:2012, 7.2 to 7.4: conformance probability.
    """
    spread = _spread_of(uncertainty).widened(one_sided_pa)
    wider = spread
    for distance in uncertainty.one_sided_pa if isinstance(uncertainty, Budget) else ():
        wider = wider.widened(distance)
    return min(_within(value_pa, each, limits) for each in {spread, wider})


def _within(value_pa: float, spread: Spread, limits: Limits) -> float:
    if spread.scale == 0.0 and not spread.half_widths:
        return 1.0 if limits.lower_pa <= value_pa <= limits.upper_pa else 0.0
    below = spread.probability_below(limits.upper_pa - value_pa) - spread.probability_below(limits.lower_pa - value_pa)
    return min(max(below, 0.0), 1.0)


def judge(
    value_pa: float,
    uncertainty: Budget | Spread | float,
    limits: Limits,
    decision: Decision,
    decision_probability: float = 0.95,
    one_sided_pa: float = 0.0,
) -> Judged:
    """Judge one set pressure.

    Guarded: within if the probability of lying within the limits is at least ``decision_probability``,
    outside if it is at most one minus that, else undecided. Simple: the unrounded value against the limits,
    both included; the probability stands beside it.

    Parameters
    ----------
    value_pa : float, [Pa gauge]
    uncertainty : Budget, Spread or float, [Pa]
    limits : Limits
    decision : Decision
    decision_probability : float
        Above 0.5.
    one_sided_pa : float, [Pa]
        See `probability_within`. The simple rule does not look at it.

    Returns
    -------
    Judged

    References
    ----------
    .. [1] JCGM 106:2012, 8.2 (simple acceptance), 8.3 (guarded).
    """
    probability = probability_within(value_pa, uncertainty, limits, one_sided_pa)
    if decision is Decision.SIMPLE:
        inside = limits.lower_pa <= value_pa <= limits.upper_pa
        return Judged(VerdictOutcome.WITHIN if inside else VerdictOutcome.OUTSIDE, probability)
    if probability >= decision_probability:
        return Judged(VerdictOutcome.WITHIN, probability)
    if probability <= 1.0 - decision_probability:
        return Judged(VerdictOutcome.OUTSIDE, probability)
    return Judged(VerdictOutcome.UNDECIDED, probability)


def judge_lower_bound(bound_pa: float, expanded_uncertainty_pa: float, limits: Limits) -> VerdictOutcome | None:
    """Judge a pull that ended without lift: the valve opens at the bound or above it.

    Parameters
    ----------
    bound_pa : float, [Pa gauge]
        Line pressure plus the largest pull over the seat area.
    expanded_uncertainty_pa : float, [Pa]
    limits : Limits

    Returns
    -------
    VerdictOutcome or None
        Outside where the bound lies beyond the upper limit by more than its uncertainty; None where it
        proves nothing.
    """
    return VerdictOutcome.OUTSIDE if bound_pa - expanded_uncertainty_pa > limits.upper_pa else None


def judge_as_left(
    readings: Sequence[tuple[float, Budget]], limits: Limits, rules: Rules, one_sided_pa: float = 0.0
) -> JudgedAsLeft:
    """Judge the last consecutive openings.

    Each of the last ``rules.agreeing_pulls`` must lie within; they must agree within
    ``rules.agreement_spread`` of set pressure, and must not drift (`find_trend`). An opening outside makes
    the whole outside; anything else that fails leaves it undecided, for another pull can settle it.

    Parameters
    ----------
    readings : sequence of (value, budget), [Pa gauge]
        Consecutive openings in order; more than needed may be given, the last ones count.
    limits : Limits
    rules : Rules
    one_sided_pa : float, [Pa]
        See `probability_within`.

    Returns
    -------
    JudgedAsLeft

    Notes
    -----
    Three pulls and 3 % are common practice, without a source.
    """
    last = list(readings)[-max(rules.agreeing_pulls, 1) :]
    each = tuple(
        judge(value, budget, limits, rules.decision, rules.decision_probability, one_sided_pa) for value, budget in last
    )
    values = [value for value, _ in last]
    enough = len(last) >= rules.agreeing_pulls
    spread = (max(values) - min(values)) / limits.set_pressure_pa if values else 0.0
    agrees = spread <= rules.agreement_spread
    trend = find_trend(values, [b.per_pull_pa for _, b in last], rules.agreement_spread * limits.set_pressure_pa)
    outcomes = {judged.outcome for judged in each}
    if VerdictOutcome.OUTSIDE in outcomes:
        outcome = VerdictOutcome.OUTSIDE
    elif enough and agrees and not trend and outcomes == {VerdictOutcome.WITHIN}:
        outcome = VerdictOutcome.WITHIN
    else:
        outcome = VerdictOutcome.UNDECIDED
    least = min((judged.probability_within for judged in each), default=None)
    return JudgedAsLeft(outcome, least, each, enough, spread, agrees, trend)


def find_trend(values_pa: Sequence[float], per_pull_u_pa: Sequence[float], agreement_spread_pa: float) -> bool:
    """Find whether consecutive openings drift.

    A straight line is laid through the openings against their number. There is a trend where its total rise
    (or fall) is more than repeatability explains at 95 %, and more than a third of the spread that agreeing
    pulls may have. Repeatability is what the pulls' own evidence gives. From five pulls on, it is also the
    scatter about the line, with Student's t for n - 2, and the larger of the two thresholds holds. With three
    or four pulls that scatter says nothing (t for one degree of freedom is 12.7); there, instead, every step
    must go the same way.

    Parameters
    ----------
    values_pa : sequence of float (n,), [Pa gauge]
    per_pull_u_pa : sequence of float (n,), [Pa]
        Standard uncertainty of each from the lines it does not share.
    agreement_spread_pa : float, [Pa]

    Returns
    -------
    bool
        False with fewer than three openings.

    References
    ----------
    .. [1] JCGM 100:2008, H.3 (slope of a fitted line); the thresholds for few pulls are common practice.
    """
    n = len(values_pa)
    if n < 3:
        return False
    values = np.asarray(values_pa, dtype=np.float64)
    order = np.arange(n, dtype=np.float64) - 0.5 * (n - 1)
    squares = float(order @ order)
    slope = float(order @ values) / squares
    rise = abs(slope) * (n - 1)
    rise_per_u = (n - 1) / math.sqrt(squares)
    own_u = math.sqrt(sum(u**2 for u in per_pull_u_pa) / n)
    explained = student_factor(_TREND_PROBABILITY) * own_u * rise_per_u
    if n >= _PULLS_FOR_RESIDUALS:
        residuals = values - values.mean() - slope * order
        scatter = math.sqrt(float(residuals @ residuals) / (n - 2))
        explained = max(explained, student_factor(_TREND_PROBABILITY, n - 2.0) * scatter * rise_per_u)
    else:
        steps = np.diff(values)
        if not (bool(np.all(steps > 0.0)) or bool(np.all(steps < 0.0))):
            return False
    return rise > max(explained, _TREND_SHARE_OF_SPREAD * agreement_spread_pa)


def _spread_of(uncertainty: Budget | Spread | float) -> Spread:
    if isinstance(uncertainty, Budget):
        return uncertainty.spread
    return uncertainty if isinstance(uncertainty, Spread) else Spread(uncertainty)
