"""When to test valves next: rows of tests in, next dates with their reasons out."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from firstlift import words
from firstlift.core.errors import Finding, FirstliftError, Problem, UsageError
from firstlift.core.reliability.answer import Answer, Evidence, GroupAnswer, Terms, ValveAnswer
from firstlift.core.reliability.belief import survival_band
from firstlift.core.reliability.families import Family
from firstlift.core.reliability.fit import LifeFit, Untold
from firstlift.core.reliability.history import Entry
from firstlift.core.reliability.recommend import recommend
from firstlift.core.reliability.rules import Cap, Tables, cap_by_code, cap_by_person
from firstlift.figures.drift_figure import DriftShown, draw_drift
from firstlift.figures.survival_figure import Survival, draw_survival
from firstlift.words.paper import ENGLISH, Speaker

FORMAT = "firstlift-interval-1"


@dataclass(frozen=True, slots=True)
class Asked:
    """What the owner asks, as entered.

    ``effectiveness`` None takes the table's for ``method`` ("lift" or "bench"). ``service`` is a key of the table's
    ceilings, ``prior`` one of its priors.
    """

    target: float = 0.05
    danger_ratio: float = 1.10
    method: str = "lift"
    effectiveness: float | None = None
    service: str = "api-510-typical"
    prior: str = "weak"
    owner_max_yr: float | None = None
    jurisdiction_max_yr: float | None = None
    jurisdiction_rule: str | None = None
    step_rule: bool = True


def terms_of(asked: Asked, tables: Tables) -> Terms:
    """Turn what was asked into terms.

    Parameters
    ----------
    asked : Asked
    tables : Tables

    Returns
    -------
    Terms

    Raises
    ------
    UsageError
        REL-002, REL-008, REL-009: a chance, a service, a prior or an interval that is none.
    """
    try:
        caps = [cap_by_code(asked.service, tables), *_stated(asked)]
        if asked.prior not in tables.priors:
            needed = f"one of {', '.join(tables.priors)}"
            raise FirstliftError(Problem("REL-008", f"prior '{asked.prior}' is not known", "--prior", needed))
        if asked.method not in tables.effectiveness:
            needed = f"one of {', '.join(tables.effectiveness)}"
            raise FirstliftError(Problem("REL-008", f"method '{asked.method}' is not known", "--method", needed))
        _check(asked.target, "--target", below=1.0)
        _check(asked.danger_ratio - 1.0, "--danger-ratio, less 1", below=9.0)
        if asked.effectiveness is not None:
            _check(asked.effectiveness, "--effectiveness", below=math.nextafter(1.0, 2.0))
    except FirstliftError as error:
        raise UsageError(error.problems) from error
    share = tables.effectiveness[asked.method]
    return Terms(
        target=asked.target,
        danger_ratio=asked.danger_ratio,
        effectiveness=share.value if asked.effectiveness is None else asked.effectiveness,
        effectiveness_status=share.status if asked.effectiveness is None else "stated",
        prior=tables.priors[asked.prior],
        caps=tuple(caps),
        step_rule=asked.step_rule,
    )


def _stated(asked: Asked) -> list[Cap]:
    caps: list[Cap] = []
    if asked.jurisdiction_max_yr is not None:
        rule = asked.jurisdiction_rule
        caps.append(cap_by_person(asked.jurisdiction_max_yr, "interval-jurisdiction", "--jurisdiction-max", rule))
    if asked.owner_max_yr is not None:
        caps.append(cap_by_person(asked.owner_max_yr, "interval-owner", "--owner-max"))
    return caps


def _check(value: float, where: str, *, below: float) -> None:
    if not 0.0 < value < below:
        needed = f"a number above 0 and below {below:g}"
        raise FirstliftError(Problem("REL-002", f"{value:g} is not possible", where, needed))


def next_dates(entries: Sequence[Entry], asked: Asked, tables: Tables) -> Answer:
    """Recommend the next date of every valve.

    Parameters
    ----------
    entries : sequence of Entry
    asked : Asked
    tables : Tables

    Returns
    -------
    Answer

    Raises
    ------
    FirstliftError
        Nothing to answer from, or rows that contradict each other; UsageError where what is asked makes no sense.
    """
    return recommend(entries, terms_of(asked, tables), tables)


def group_named(answer: Answer, name: str | None) -> GroupAnswer:
    """Give one group of an answer.

    Parameters
    ----------
    answer : Answer
    name : str or None
        None where there is one group only.

    Returns
    -------
    GroupAnswer

    Raises
    ------
    UsageError
        REL-011 the group is not there, or several are and none is named.
    """
    names = [group.group for group in answer.groups]
    if name is None and len(names) == 1:
        return answer.groups[0]
    for group in answer.groups:
        if group.group == name:
            return group
    what = "no group is named" if name is None else f"there is no group '{name}'"
    raise UsageError(Problem("REL-011", what, "--group", f"one of {', '.join(names[:20])}"))


def draw_group_survival(
    answer: Answer, group: GroupAnswer, *, width: float = 560.0, height: float = 330.0, say: Speaker = ENGLISH
) -> str:
    """Draw the share of a group still good against age.

    Parameters
    ----------
    answer : Answer
    group : GroupAnswer
    width, height : float
        In points; smaller, its words are larger where it is shown as wide.
    say : Speaker

    Returns
    -------
    str
        SVG.
    """
    oldest = float(group.lives.ages_yr[-1]) if group.lives.ages_yr.size else 5.0
    longest = max(1.25 * oldest, 1.3 * group.recommended_yr, 1.0)
    years = np.linspace(0.0, longest, 81)
    middle, low, high = survival_band(group.belief, years)
    shares = group.shares
    stretches = (
        ()
        if shares is None
        else tuple(zip(*(a.tolist() for a in (shares.left_yr, shares.right_yr, shares.mass)), strict=True))
    )
    evidence = group.evidence
    return draw_survival(
        Survival(
            group=group.group,
            lives=int(group.lives.total),
            failed=int(group.lives.ended),
            years=years,
            middle=middle,
            low=low,
            high=high,
            stretches=stretches,
            # the share of seen failures that, with the hidden ones on top, makes the target
            must_last=(1.0 - answer.terms.target) ** answer.terms.effectiveness,
            recommended_yr=group.recommended_yr,
            evidence_yr=(evidence.low_yr, evidence.estimate_yr, evidence.high_yr),
        ),
        width=width,
        height=height,
        say=say,
    )


def draw_group_drift(
    answer: Answer, group: GroupAnswer, *, width: float = 560.0, height: float = 330.0, say: Speaker = ENGLISH
) -> str:
    """Draw the drift of a group and its valves.

    Parameters
    ----------
    answer : Answer
    group : GroupAnswer
    width, height : float
        In points; smaller, its words are larger where it is shown as wide.
    say : Speaker

    Returns
    -------
    str
        SVG.
    """
    tests, drift = group.drift_tests, group.drift
    longest = 1.15 * float(tests.years.max()) if tests.years.size else 5.0
    years = np.linspace(0.0, longest, 61)
    return draw_drift(
        DriftShown(
            group=group.group,
            test_years=tests.years,
            test_ratio=tests.ratio,
            unit=tests.unit,
            valve_of_unit=tests.valve_of_unit,
            danger_ratio=answer.terms.danger_ratio,
            years=years,
            line=None if drift is None else drift.group_line(years),
            spread=None if drift is None else drift.spread_of_valves(years),
        ),
        width=width,
        height=height,
        say=say,
    )


def plain(answer: Answer) -> dict[str, Any]:
    """Turn an answer into plain JSON values.

    Parameters
    ----------
    answer : Answer

    Returns
    -------
    dict
        Years; what has no end is null.
    """
    terms = answer.terms
    return {
        "format": FORMAT,
        "target": terms.target,
        "danger_ratio": terms.danger_ratio,
        "effectiveness": {"share": terms.effectiveness, "source_status": terms.effectiveness_status},
        "findings": [_finding(finding) for finding in answer.findings],
        "groups": [_group(group) for group in answer.groups],
        "valves": [_valve(valve) for valve in answer.valves],
    }


def _finding(finding: Finding) -> dict[str, Any]:
    return {
        "code": finding.code,
        "severity": str(finding.severity),
        "parameters": dict(finding.parameters),
        "message": words.message(finding),
        "advice": words.advice(finding),
    }


def _evidence(evidence: Evidence) -> dict[str, float | None]:
    return {
        "low_yr": finite(evidence.low_yr),
        "estimate_yr": finite(evidence.estimate_yr),
        "high_yr": finite(evidence.high_yr),
    }


def finite(value: float) -> float | None:
    """Give a number back, None where it has no end.

    Parameters
    ----------
    value : float

    Returns
    -------
    float or None
    """
    return value if math.isfinite(value) else None


def _fit(fit: LifeFit | Untold) -> dict[str, Any]:
    if isinstance(fit, Untold):
        return {"untold": str(fit)}
    given = {"scale_yr": fit.scale_yr, "log_likelihood": fit.log_likelihood, "untold": None}
    return given | ({"shape": fit.shape} if fit.family is Family.WEIBULL else {"sigma": fit.sigma})


def _group(group: GroupAnswer) -> dict[str, Any]:
    drift = group.drift
    low, high = (None, None) if drift is None else drift.slope_interval()
    return {
        "group": group.group,
        "valves": group.valves,
        "lives": group.lives.total,
        "failed": group.lives.ended,
        "evidence": _evidence(group.evidence),
        "recommended_yr": group.recommended_yr,
        "weibull": _fit(group.weibull)
        | {"shape_interval": _pair(group.shape_interval), "scale_interval_yr": _pair(group.scale_interval)},
        "lognormal": _fit(group.lognormal),
        "constant_hazard": _fit(group.constant),
        "family_share": {str(points.family): float(points.weight.sum()) for points in group.belief.points},
        "drift": None
        if drift is None
        else {"slope_per_yr": drift.slope_per_yr, "low_per_yr": low, "high_per_yr": high},
        "reasons": [_finding(finding) for finding in group.reasons],
    }


def _pair(interval: tuple[float, float] | None) -> list[float | None] | None:
    return None if interval is None else [finite(end) for end in interval]


def _valve(valve: ValveAnswer) -> dict[str, Any]:
    return {
        "valve": valve.valve,
        "group": valve.group,
        "last": valve.last.isoformat(),
        "age_yr": valve.age_yr,
        "evidence": _evidence(valve.evidence),
        "recommended_yr": valve.recommended_yr,
        "due": valve.due.isoformat(),
        "reasons": [_finding(finding) for finding in valve.reasons],
    }
