"""The next date: the longest interval that keeps the chance of a find failed to danger under the owner's target.

Evidence gives an interval with its uncertainty; its lower end is what is recommended. Rules cap it, the last results
cap it, drift caps it. An assisted lift sees a share of the dangerous failures only: what it cannot see goes on growing
since the last overhaul, however often the valve is lifted.

With H the cumulative hazard of what the test sees, c its share, a the age at the last test and q the target, the
longest time to the next test ends at the age where H = c (-log(1 - q) + H(a)): the seen part counts from the last good
test, the hidden part, (1 - c) / c times as large, from the overhaul. This takes hidden failures to come in proportion
to seen ones.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence

import numpy as np

from firstlift.core.errors import Finding, FirstliftError, Problem, Severity
from firstlift.core.recording import Floats
from firstlift.core.reliability.answer import OVERHAUL, Answer, Evidence, GroupAnswer, Terms, ValveAnswer
from firstlift.core.reliability.belief import Belief, quantiles
from firstlift.core.reliability.drift import Drift, drift_tests, fit_drift
from firstlift.core.reliability.families import Family
from firstlift.core.reliability.fit import LifeFit, check_risk, fit_constant_hazard, fit_life
from firstlift.core.reliability.history import DAYS_A_YEAR, Entry, History, histories_of, lives_of
from firstlift.core.reliability.likelihood import sort_lives
from firstlift.core.reliability.lives import Lives
from firstlift.core.reliability.nonparametric import estimate_shares
from firstlift.core.reliability.pooling import believe_groups
from firstlift.core.reliability.profile import scale_interval, shape_interval
from firstlift.core.reliability.remarks import about_drift, about_life, about_spread, beyond_experience, in_general
from firstlift.core.reliability.rules import Cap, Tables, cap_by_results

_EDGES = (0.025, 0.5, 0.975)


def recommend(entries: Sequence[Entry], terms: Terms, tables: Tables) -> Answer:
    """Recommend the next date of every valve.

    Parameters
    ----------
    entries : sequence of Entry
        Tests and overhauls, in any order.
    terms : Terms
    tables : Tables

    Returns
    -------
    Answer
        Groups and valves in order of first appearance.

    Raises
    ------
    FirstliftError
        REL-002 a target that is no chance; REL-004 no rows; REL-005, REL-006 rows that contradict each other.
    """
    check_risk(terms.target, "target")
    check_risk(terms.effectiveness * (1.0 - 1e-12), "effectiveness")
    if not entries:
        raise FirstliftError(Problem("REL-004", "there is no row", needed="one test or overhaul or more"))
    histories = histories_of(entries)
    by_group: dict[str, list[History]] = {}
    for history in histories:
        by_group.setdefault(history.group, []).append(history)
    lives = {group: lives_of(rows, terms.danger_ratio) for group, rows in by_group.items()}
    beliefs = dict(zip(lives, believe_groups(list(lives.values()), terms.prior), strict=True))
    seen = any(part.ended for part in lives.values())
    groups = {
        name: _judge_group(name, rows, lives[name], beliefs[name], terms, seen=seen) for name, rows in by_group.items()
    }
    known: dict[tuple[str, float], Evidence] = {}
    valves = tuple(
        _judge_valve(history, groups[history.group], terms, tables, known, seen=seen) for history in histories
    )
    return Answer(terms, tuple(groups.values()), valves, in_general(histories, terms, len(by_group)))


def evidence_after(belief: Belief, age_yr: float, target: float, effectiveness: float) -> Evidence:
    """Give the interval that evidence allows after a good test at an age.

    Parameters
    ----------
    belief : Belief
    age_yr : float, [yr]
        Since the last overhaul; 0 for a valve just overhauled.
    target : float
        Highest chance of a find failed to danger.
    effectiveness : float
        Share of dangerous failures that the test can see.

    Returns
    -------
    Evidence
        Years after that test; 0 where the hidden part alone has used the target up.
    """
    ages: list[Floats] = []
    weights: list[Floats] = []
    for points in belief.points:
        allowed = effectiveness * (-np.log1p(-target) + belief.hazard(points, age_yr))
        ages.append(belief.log_age(points, allowed))
        weights.append(points.weight)
    found = quantiles(np.concatenate(ages), np.concatenate(weights), _EDGES)
    # a life that outlasts a millennium is said to have no end
    until = [float(np.exp(min(value, 700.0))) for value in found]
    low, middle, high = (max(0.0, value - age_yr) if value < 1e3 else float("inf") for value in until)
    return Evidence(low, middle, high)


def _judge_group(
    name: str, histories: list[History], lives: Lives, belief: Belief, terms: Terms, *, seen: bool
) -> GroupAnswer:
    told = lives.count.size > 0
    ready = sort_lives(lives)
    weibull, lognormal = (fit_life(lives, family, ready=ready) for family in Family)
    shape = scale = None
    if isinstance(weibull, LifeFit):
        shape, scale = shape_interval(ready, weibull), scale_interval(ready, weibull)
    ratios = drift_tests(histories)
    drift = fit_drift(ratios)
    evidence = evidence_after(belief, 0.0, terms.target, terms.effectiveness)
    by_drift, spread = _drift_cap(drift, terms)
    years, reasons = _shortest(evidence, [*terms.caps, *by_drift], seen=seen)
    reasons += [*spread, *about_life(lives, weibull, shape), *about_drift(drift), *beyond_experience(lives, years)]
    return GroupAnswer(
        group=name,
        valves=len(histories),
        lives=lives,
        weibull=weibull,
        lognormal=lognormal,
        constant=fit_constant_hazard(lives, ready=ready),
        shape_interval=shape,
        scale_interval=scale,
        shares=estimate_shares(lives) if told else None,
        belief=belief,
        drift_tests=ratios,
        drift=drift,
        evidence=evidence,
        recommended_yr=years,
        reasons=tuple(reasons),
    )


def _judge_valve(
    history: History,
    group: GroupAnswer,
    terms: Terms,
    tables: Tables,
    known: dict[tuple[str, float], Evidence],
    *,
    seen: bool,
) -> ValveAnswer:
    age = history.age_yr
    # many valves of a group share one age: the same question is asked once
    key = (history.group, age)
    if key not in known:
        known[key] = evidence_after(group.belief, age, terms.target, terms.effectiveness)
    evidence = known[key]
    caps = list(terms.caps)
    by_results = cap_by_results(history, tables, terms.danger_ratio) if terms.step_rule else None
    if by_results is not None:
        caps.append(by_results)
    by_drift, spread = _drift_cap(group.drift, terms, history.valve)
    years, reasons = _shortest(evidence, [*caps, *by_drift], seen=seen)
    reasons += spread
    if history.started_unknown:
        reasons.append(Finding("start-unknown", Severity.WARNING, None, {"valve": history.valve}))
    if seen and evidence.low_yr == 0.0 and age > 0.0:
        said = {"age_yr": age, "seen_share": terms.effectiveness}
        reasons.append(Finding(OVERHAUL, Severity.WARNING, None, said))
    last = history.last.on
    due = last + dt.timedelta(days=int(years * DAYS_A_YEAR))
    return ValveAnswer(history.valve, history.group, last, age, evidence, years, due, tuple(reasons))


def _drift_cap(drift: Drift | None, terms: Terms, valve: str | None = None) -> tuple[list[Cap], list[Finding]]:
    """Give drift's cap: the line at its upper edge, with the spread between valves, or a valve's own line.

    Where openings spread so widely that no interval keeps the target, that is the reason, and said without a cap too.
    """
    if drift is None:
        return [], []
    years = drift.years_left(valve, terms.danger_ratio, terms.target)
    far = not np.isfinite(years)
    if drift.over_when_set(valve, terms.danger_ratio, terms.target):
        wide = about_spread(drift, terms.danger_ratio, None if far else years)
        return ([], [wide]) if far else ([Cap(years, wide)], [])
    if far:
        return [], []
    said = {"limit_yr": years, "slope_per_yr_relative": drift.slope_per_yr, "danger_ratio": terms.danger_ratio}
    return [Cap(years, Finding("interval-drift", Severity.INFO, None, said))], []


def _shortest(evidence: Evidence, caps: list[Cap], *, seen: bool) -> tuple[float, list[Finding]]:
    """Give the shortest of evidence and rules, and the reasons: what binds goes first.

    Where no failure was ever seen, evidence gives a bound that hangs on how much was tested and on nothing that
    happened: rules alone decide, and what the tests do not prove is said.
    """
    said = {
        "limit_yr": _finite(evidence.low_yr),
        "estimate_yr": _finite(evidence.estimate_yr),
        "high_yr": _finite(evidence.high_yr),
    }
    all_caps = list(caps)
    if seen:
        all_caps.append(Cap(evidence.low_yr, Finding("interval-evidence", Severity.INFO, None, said)))
    ordered = sorted(all_caps, key=lambda cap: cap.years)
    years = ordered[0].years
    reasons = [cap.reason for cap in ordered]
    if not seen:
        reasons.append(Finding("no-failures-seen", Severity.INFO, None, said))
        if evidence.low_yr < years:
            unproven = {"low_yr": evidence.low_yr, "limit_yr": years}
            reasons.append(Finding("target-not-proven", Severity.WARNING, None, unproven))
    return years, reasons


def _finite(value: float) -> float | None:
    return value if np.isfinite(value) else None
