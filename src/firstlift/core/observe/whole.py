"""Findings that need all pulls or the verdict."""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np

from firstlift.core.errors import Finding, Severity
from firstlift.core.job import Job
from firstlift.core.judgement import Reading
from firstlift.core.lift.find import PullFind
from firstlift.core.result import BudgetLine, PullOutcome, Verdict
from firstlift.core.signal.condition import Signals
from firstlift.core.signal.pulls import PullWindow
from firstlift.core.tolerance.limits import Limits

# below this share of set pressure the pull carries most of the load and the spindle may rise without the disc
_SPRING_ONLY = 0.25


def after(signals: Signals, job: Job, finds: Sequence[PullFind], readings: Sequence[Reading]) -> list[Finding]:
    """Give findings that need all pulls: a first pull that stuck, a line too low to prove more than the spring.

    Parameters
    ----------
    signals : Signals
    job : Job
    finds : sequence of PullFind
    readings : sequence of Reading

    Returns
    -------
    list of Finding
    """
    findings = _stuck(job, readings)
    for find in finds:
        findings.extend(_over_limit(signals, job, find.window))
    measured = [r for r in readings if r.outcome is PullOutcome.MEASURED]
    if measured and job.valve.set_pressure.si > 0:
        line = _line_share(job, readings)
        if line is not None and line < _SPRING_ONLY:
            findings.append(
                Finding(
                    "spring-setting-only",
                    Severity.WARNING,
                    parameters={"line_pressure_pa": line * job.valve.set_pressure.si},
                )
            )
    return findings


def _over_limit(signals: Signals, job: Job, window: PullWindow) -> list[Finding]:
    """Say where the pull went above what the job sheet allows this valve."""
    limit, force = job.valve.max_pull_n, signals.force
    if limit is None or force is None:
        return []
    part = force.value[force.between(window.start_s, window.end_s)]
    if part.size < 10:
        return []
    # means of ten: one noisy sample is no pull
    largest = float(part[: part.size // 10 * 10].reshape(-1, 10).mean(axis=1).max()) - window.tare_n
    if largest <= limit:
        return []
    parameters = {"pull_force_n": largest, "limit_n": limit}
    return [Finding("over-pull-limit", Severity.WARNING, window.number, parameters)]


def edition(job: Job, limits: Limits) -> list[Finding]:
    """Say where the job sheet asks for another edition than the one whose limits are used.

    Parameters
    ----------
    job : Job
    limits : Limits

    Returns
    -------
    list of Finding
    """
    asked = job.rules.edition.strip()
    if not asked or not limits.edition or asked.casefold() == limits.edition.casefold():
        return []
    return [Finding("edition-differs", Severity.WARNING, parameters={"asked": asked, "used": limits.edition})]


def _line_share(job: Job, readings: Sequence[Reading]) -> float | None:
    for reading in readings:
        if reading.budget is not None:
            for line in reading.budget.lines:
                if line.quantity.startswith("line pressure"):
                    return line.value / job.valve.set_pressure.si
    return None


def _stuck(job: Job, readings: Sequence[Reading]) -> list[Finding]:
    """The first loading against the later openings: higher by more than both scatter and a hundredth of set."""
    if len(readings) < 2:
        return []
    first = readings[0]
    later = [r for r in readings[1:] if r.set_pressure_pa is not None and r.budget is not None]
    if not later:
        return []
    values = [r.set_pressure_pa for r in later if r.set_pressure_pa is not None]
    own = max(r.budget.per_pull_pa for r in later if r.budget is not None)
    typical = float(np.median(values))
    start = first.set_pressure_pa if first.set_pressure_pa is not None else first.lower_bound_pa
    if start is None or first.outcome is PullOutcome.ALREADY_OPEN:
        return []
    above = start - typical
    scatter = 4.0 * math.hypot(own, first.budget.per_pull_pa if first.budget else own)
    if above > max(scatter, 0.015 * job.valve.set_pressure.si):
        severe = above > job.rules.agreement_spread * job.valve.set_pressure.si or first.set_pressure_pa is None
        return [
            Finding(
                "stuck-first-pull",
                Severity.SEVERE if severe else Severity.WARNING,
                first.number,
                {"first_set_pressure_pa": start, "later_set_pressure_pa": typical},
            )
        ]
    return []


def pop_distance(limits: Limits, verdict: Verdict | None) -> list[Finding]:
    """Say that the rule means pop while the pull shows first lift, where a verdict was made on it.

    Parameters
    ----------
    limits : Limits
    verdict : Verdict or None

    Returns
    -------
    list of Finding
    """
    if verdict is None or limits.pop_distance_pa <= 0:
        return []
    return [Finding("pop-distance-unknown", Severity.INFO, parameters={"distance_pa": limits.pop_distance_pa})]


def pop_line(limits: Limits) -> tuple[BudgetLine, ...]:
    """Give the one-sided budget line of the unknown distance from first lift up to pop.

    Parameters
    ----------
    limits : Limits

    Returns
    -------
    tuple of BudgetLine
    """
    if limits.pop_distance_pa <= 0:
        return ()
    u = limits.pop_distance_pa / math.sqrt(12.0)
    return (
        BudgetLine(
            "distance from first lift to pop", limits.pop_distance_pa, "Pa", u, "one-sided", None, 1.0, u, 0.0, "setup"
        ),
    )
