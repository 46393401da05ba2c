"""Can a pull at this line pressure decide: which readings would be within, outside, or neither."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass

from firstlift.core.job import Decision, Job
from firstlift.core.plan.forecast import forecast_spread
from firstlift.core.plan.inputs import LEAST_LINE_SHARE
from firstlift.core.tolerance.judge import probability_within
from firstlift.core.tolerance.limits import Limits

_HALVINGS = 40
# share of the way that a crossing is found to: far below a digit that anybody reads
_NEAR = 1e-9


@dataclass(frozen=True, slots=True)
class Edges:
    """Where the verdict changes with the reading at one line pressure, [Pa gauge].

    Readings from ``within_low`` to ``within_high`` are within (None: no reading is); those up to
    ``outside_low`` and from ``outside_high`` are outside; between them the verdict stays open.
    ``best_probability`` is the largest probability of lying within that any reading has.
    """

    line_pressure_pa: float
    within_low_pa: float | None
    within_high_pa: float | None
    outside_low_pa: float
    outside_high_pa: float
    best_probability: float

    def outcome(self, reading_pa: float) -> str:
        """Say the verdict on a reading: "within", "outside" or "undecided"."""
        low, high = self.within_low_pa, self.within_high_pa
        if low is not None and high is not None and low <= reading_pa <= high:
            return "within"
        return "outside" if not self.outside_low_pa < reading_pa < self.outside_high_pa else "undecided"


def middle_pa(limits: Limits) -> float:
    """Give the reading that lies best between the limits, [Pa gauge].

    Parameters
    ----------
    limits : Limits

    Returns
    -------
    float, [Pa gauge]
        Half the unknown distance to pop below the middle, where the rule means pop.
    """
    return 0.5 * (limits.lower_pa + limits.upper_pa - limits.pop_distance_pa)


def find_edges(job: Job, limits: Limits, line_pa: float, u_moment_pa: float) -> Edges:
    """Find where the verdict changes with the reading, by the job's own decision rule.

    Parameters
    ----------
    job : Job
    limits : Limits
    line_pa : float, [Pa gauge]
    u_moment_pa : float, [Pa]

    Returns
    -------
    Edges

    References
    ----------
    .. [1] JCGM 106:2012, 8.2 and 8.3: acceptance interval by the conformance probability at each reading.
    """

    def within(reading_pa: float) -> float:
        spread = forecast_spread(job, line_pa, reading_pa, u_moment_pa)
        return probability_within(reading_pa, spread, limits, limits.pop_distance_pa)

    best = middle_pa(limits)
    top = within(best)
    if job.rules.decision is Decision.SIMPLE:
        return Edges(line_pa, limits.lower_pa, limits.upper_pa, limits.lower_pa, limits.upper_pa, top)
    wanted = job.rules.decision_probability
    # beyond this far nothing can be within: the tolerance and twenty times what is uncertain
    reach = limits.upper_pa - limits.lower_pa + limits.pop_distance_pa
    reach += 20.0 * forecast_spread(job, line_pa, limits.upper_pa, u_moment_pa).standard_uncertainty
    far_low, far_high = best - reach, best + reach
    low = high = None
    if top >= wanted:
        low, high = (_crossing(within, best, far, wanted) for far in (far_low, far_high))
    outside_low, outside_high = (_crossing(within, best, far, 1.0 - wanted) for far in (far_low, far_high))
    return Edges(line_pa, low, high, outside_low, outside_high, top)


def _crossing(within: Callable[[float], float], inside: float, outside: float, wanted: float) -> float:
    """Find where the probability falls through a value on the way outward; an end where it does not do so between."""
    # each asking is a whole budget: a root finder needs a quarter of those that halving takes
    from scipy.optimize import brentq

    def over(reading_pa: float) -> float:
        return within(reading_pa) - wanted

    if over(inside) < 0.0:
        return inside
    if over(outside) >= 0.0:
        return outside
    return float(brentq(over, inside, outside, xtol=_NEAR * abs(outside - inside)))


def probability_decided(edges: Edges, mean_pa: float, standard_deviation_pa: float) -> float:
    """Give the chance that a reading will be decided, where it is expected about a mean.

    Parameters
    ----------
    edges : Edges
    mean_pa : float, [Pa gauge]
        What the reading is expected to be.
    standard_deviation_pa : float, [Pa]
        How it may lie about that: the valve's own spread and the pull's uncertainty.

    Returns
    -------
    float
        0 to 1.

    References
    ----------
    .. [1] Normal predictive distribution of the reading (computed; the decision map's test samples it).
    """

    def below(value_pa: float) -> float:
        if standard_deviation_pa <= 0.0:
            return 1.0 if mean_pa <= value_pa else 0.0
        return 0.5 * math.erfc((mean_pa - value_pa) / (standard_deviation_pa * math.sqrt(2.0)))

    within = 0.0
    if edges.within_low_pa is not None and edges.within_high_pa is not None:
        within = below(edges.within_high_pa) - below(edges.within_low_pa)
    outside = below(edges.outside_low_pa) + 1.0 - below(edges.outside_high_pa)
    return min(1.0, max(0.0, within + outside))


def lowest_line_pa(job: Job, limits: Limits, u_moment_pa: float, highest_pa: float) -> float | None:
    """Find the lowest line pressure at which a valve in the middle of its limits can be found within.

    Parameters
    ----------
    job : Job
    limits : Limits
    u_moment_pa : float, [Pa]
    highest_pa : float, [Pa gauge]
        As far as the line may be raised.

    Returns
    -------
    float or None, [Pa gauge]
        At least a quarter of set: below it a pull proves the spring's setting only. None where not even the
        highest is enough.
    """
    reading = middle_pa(limits)
    wanted = 0.0 if job.rules.decision is Decision.SIMPLE else job.rules.decision_probability

    def decides(line_pa: float) -> bool:
        spread = forecast_spread(job, line_pa, reading, u_moment_pa)
        return probability_within(reading, spread, limits, limits.pop_distance_pa) >= wanted

    return find_lowest(decides, LEAST_LINE_SHARE * limits.set_pressure_pa, highest_pa)


def find_lowest(decides: Callable[[float], bool], lowest_pa: float, highest_pa: float) -> float | None:
    """Find the lowest line pressure from which on something holds, given that more line helps.

    Parameters
    ----------
    decides : callable
        Line pressure to whether it holds.
    lowest_pa, highest_pa : float, [Pa gauge]

    Returns
    -------
    float or None, [Pa gauge]
        None where it does not hold at the highest.
    """
    if highest_pa < lowest_pa or not decides(highest_pa):
        return None
    if decides(lowest_pa):
        return lowest_pa
    low, high = lowest_pa, highest_pa
    for _ in range(_HALVINGS):
        middle = 0.5 * (low + high)
        low, high = (low, middle) if decides(middle) else (middle, high)
    return high
