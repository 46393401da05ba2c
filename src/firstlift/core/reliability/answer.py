"""What is asked of an interval, and what is answered: frozen values."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass

from firstlift.core.errors import Finding
from firstlift.core.reliability.belief import Belief
from firstlift.core.reliability.drift import Drift, DriftTests
from firstlift.core.reliability.fit import LifeFit, Untold
from firstlift.core.reliability.lives import Lives
from firstlift.core.reliability.nonparametric import Stretches
from firstlift.core.reliability.prior import Prior
from firstlift.core.reliability.profile import Interval
from firstlift.core.reliability.rules import Cap

# what a lift cannot see has used up the target: nothing but an overhaul helps
OVERHAUL = "hidden-risk-spent"


@dataclass(frozen=True, slots=True)
class Terms:
    """What the owner asks: the target, what counts as failed to danger, how the next test is done, and the rules."""

    target: float
    danger_ratio: float
    effectiveness: float
    effectiveness_status: str
    prior: Prior
    caps: tuple[Cap, ...]
    step_rule: bool = True


@dataclass(frozen=True, slots=True)
class Evidence:
    """An interval by evidence: estimate with its 95 % interval, in years; high may be infinite, low 0."""

    low_yr: float
    estimate_yr: float
    high_yr: float


@dataclass(frozen=True, slots=True, eq=False)
class GroupAnswer:
    """What is known of a group, and the interval it allows from overhaul to first test.

    ``weibull``, ``lognormal`` and ``constant`` are the maximum likelihood fits, or why there is none, with the
    profile intervals of shape and characteristic life of the Weibull fit. ``shares`` is the estimate without a
    distribution (None: no lives).
    """

    group: str
    valves: int
    lives: Lives
    weibull: LifeFit | Untold
    lognormal: LifeFit | Untold
    constant: LifeFit | Untold
    shape_interval: Interval | None
    scale_interval: Interval | None
    shares: Stretches | None
    belief: Belief
    drift_tests: DriftTests
    drift: Drift | None
    evidence: Evidence
    recommended_yr: float
    reasons: tuple[Finding, ...]


@dataclass(frozen=True, slots=True)
class ValveAnswer:
    """When to test a valve next: years after its last row, and the day."""

    valve: str
    group: str
    last: dt.date
    age_yr: float
    evidence: Evidence
    recommended_yr: float
    due: dt.date
    reasons: tuple[Finding, ...]

    @property
    def because(self) -> str:
        """The code of what decides; empty where nothing does. An overhaul that is due goes before what limits lifts."""
        codes = [finding.code for finding in self.reasons]
        return OVERHAUL if OVERHAUL in codes else next(iter(codes), "")


@dataclass(frozen=True, slots=True, eq=False)
class Answer:
    """Next dates of all valves, with what stands behind them."""

    terms: Terms
    groups: tuple[GroupAnswer, ...]
    valves: tuple[ValveAnswer, ...]
    findings: tuple[Finding, ...]
