"""Verdict and disposition: two things. The verdict is on set pressure by the code; the disposition on the valve."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from firstlift.core.errors import Finding, Severity
from firstlift.core.job import Decision, Job, Purpose
from firstlift.core.result import Disposition, DispositionOutcome, PullOutcome, Verdict, VerdictOutcome
from firstlift.core.tolerance.judge import judge, judge_as_left, judge_lower_bound
from firstlift.core.tolerance.limits import Limits
from firstlift.core.uncertainty.budget import Budget


@dataclass(frozen=True, slots=True, eq=False)
class Reading:
    """One pull as it is judged: a set pressure with its budget, or a lower bound with its uncertainty."""

    number: int
    outcome: PullOutcome
    set_pressure_pa: float | None
    budget: Budget | None
    lower_bound_pa: float | None


def judge_test(readings: Sequence[Reading], limits: Limits, job: Job) -> tuple[Verdict | None, tuple[Finding, ...]]:
    """Judge a test: as found on its first loading alone, as left on its last consecutive openings.

    Parameters
    ----------
    readings : sequence of Reading
        All pulls in order.
    limits : Limits
    job : Job

    Returns
    -------
    verdict : Verdict or None
        None where nothing can be judged.
    findings : tuple of Finding
    """
    if job.visit.purpose is Purpose.AS_FOUND:
        return _as_found(readings[0], limits, job) if readings else (None, ())
    return _as_left(readings, limits, job)


def judge_reading(reading: Reading, limits: Limits, decision: Decision, probability: float) -> Verdict | None:
    """Judge one reading alone, as found.

    Parameters
    ----------
    reading : Reading
    limits : Limits
    decision : Decision
    probability : float
        Of the guarded rule.

    Returns
    -------
    Verdict or None
        None where the reading has no set pressure, or its lower bound proves nothing.
    """
    if reading.budget is None:
        return None
    number = [reading.number]
    if reading.set_pressure_pa is not None:
        judged = judge(reading.set_pressure_pa, reading.budget, limits, decision, probability, limits.pop_distance_pa)
        return _verdict(number, limits, (decision, probability), judged.outcome, judged.probability_within)
    if reading.lower_bound_pa is None:
        return None
    beyond = judge_lower_bound(reading.lower_bound_pa, reading.budget.expanded_uncertainty_pa, limits)
    return _verdict(number, limits, (decision, probability), beyond, None) if beyond is not None else None


def _verdict(
    judged: Sequence[int],
    limits: Limits,
    rule: tuple[Decision, float],
    outcome: VerdictOutcome,
    within: float | None,
) -> Verdict:
    return Verdict(
        judged=tuple(judged),
        code=limits.code,
        edition=limits.edition,
        clause=limits.clause,
        source_status=limits.status,
        definition=str(limits.definition),
        lower_pa=limits.lower_pa,
        upper_pa=limits.upper_pa,
        decision=str(rule[0]),
        decision_probability=rule[1],
        probability_within=within,
        outcome=outcome,
    )


def _as_found(first: Reading, limits: Limits, job: Job) -> tuple[Verdict | None, tuple[Finding, ...]]:
    verdict = judge_reading(first, limits, job.rules.decision, job.rules.decision_probability)
    if verdict is None:
        return None, ()
    if first.set_pressure_pa is not None:
        return verdict, undecided_findings(verdict.outcome, first, limits)
    parameters = {"lower_bound_pa": first.lower_bound_pa, "upper_pa": limits.upper_pa}
    return verdict, (Finding("lower-bound-high", Severity.SEVERE, first.number, parameters),)


def _as_left(readings: Sequence[Reading], limits: Limits, job: Job) -> tuple[Verdict | None, tuple[Finding, ...]]:
    last = last_openings(readings)
    if not last:
        return None, ()
    pairs = [(r.set_pressure_pa, r.budget) for r in last if r.set_pressure_pa is not None and r.budget is not None]
    judged = judge_as_left(pairs, limits, job.rules, limits.pop_distance_pa)
    counted = last[-len(judged.each) :]
    findings: list[Finding] = []
    if not judged.enough:
        findings.append(
            Finding(
                "too-few-openings", Severity.WARNING, None, {"count": len(last), "needed": job.rules.agreeing_pulls}
            )
        )
    if not judged.agrees:
        findings.append(Finding("openings-disagree", Severity.WARNING, None, {"spread_share": judged.spread}))
    if judged.trend:
        values = [r.set_pressure_pa for r in counted if r.set_pressure_pa is not None]
        change = values[-1] - values[0]
        findings.append(Finding("trend", Severity.WARNING, None, {"change_pa": change, "count": len(values)}))
    if judged.outcome is VerdictOutcome.UNDECIDED and not findings:
        findings.extend(undecided_findings(judged.outcome, counted[-1], limits))
    rule = (job.rules.decision, job.rules.decision_probability)
    verdict = _verdict([r.number for r in counted], limits, rule, judged.outcome, judged.probability_within)
    return verdict, tuple(findings)


def last_openings(readings: Sequence[Reading]) -> list[Reading]:
    """Give the unbroken row of measured openings that ends the test.

    Parameters
    ----------
    readings : sequence of Reading

    Returns
    -------
    list of Reading
    """
    row: list[Reading] = []
    for reading in reversed(readings):
        if reading.outcome is not PullOutcome.MEASURED or reading.set_pressure_pa is None:
            break
        row.append(reading)
    return row[::-1]


def undecided_findings(outcome: VerdictOutcome, reading: Reading, limits: Limits) -> tuple[Finding, ...]:
    """Say why a verdict stays open: the uncertainty as such, or a line pressure too low for the area.

    Parameters
    ----------
    outcome : VerdictOutcome
    reading : Reading
    limits : Limits

    Returns
    -------
    tuple of Finding
    """
    budget = reading.budget
    if outcome is not VerdictOutcome.UNDECIDED or budget is None:
        return ()
    tolerance = 0.5 * (limits.upper_pa - limits.lower_pa)
    seat = sum(line.share for line in budget.lines if line.common_to == "seat")
    parameters = {"expanded_uncertainty_pa": budget.expanded_uncertainty_pa, "tolerance_pa": tolerance}
    # the seat's share shrinks with every bar of line pressure: more line pressure is then the remedy
    if seat > 0.5 and budget.expanded_uncertainty_pa > 0.5 * tolerance:
        return (Finding("line-too-low-to-decide", Severity.INFO, reading.number, parameters),)
    return (Finding("uncertainty-too-large-to-decide", Severity.INFO, reading.number, parameters),)


_INOPERABLE = ("stayed-open", "already-open")
_UNFIT = ("leaking-before-lift", "lower-bound-high", "not-lifted")
_RESTRICTS = ("spring-setting-only", "first-loading-rejected")


def dispose(verdict: Verdict | None, findings: Sequence[Finding], reason: str | None) -> Disposition:
    """Say what is to be done with the valve.

    Stayed open is inoperable; stuck, leaking, outside, not lifted or not shown at all is unfit, and so is a valve whose
    first loading was read as outside and then rejected; a verdict that stays open, or a pull that proves the
    spring's setting only, is fit with restriction.

    Parameters
    ----------
    verdict : Verdict or None
    findings : sequence of Finding
    reason : str or None
        The result's reason, where there is no set pressure.

    Returns
    -------
    Disposition
    """
    codes = {finding.code for finding in findings}
    grave = {finding.code for finding in findings if finding.severity is Severity.SEVERE}
    inoperable = [code for code in _INOPERABLE if code in codes]
    unfit = [code for code in _UNFIT if code in codes]
    if "stuck-first-pull" in grave:
        unfit.insert(0, "stuck-first-pull")
    if "first-loading-rejected" in grave:
        unfit.append("first-loading-rejected")
    if verdict is not None and verdict.outcome is VerdictOutcome.OUTSIDE:
        unfit.append("set-pressure-outside")
    if reason is not None and reason not in unfit:
        unfit.append(reason)
    if inoperable:
        return Disposition(DispositionOutcome.INOPERABLE, tuple(inoperable + unfit))
    if unfit:
        return Disposition(DispositionOutcome.UNFIT, tuple(unfit))
    restricts = [code for code in _RESTRICTS if code in codes]
    if verdict is None or verdict.outcome is VerdictOutcome.UNDECIDED:
        restricts.append("set-pressure-undecided")
    if restricts:
        return Disposition(DispositionOutcome.FIT_WITH_RESTRICTION, tuple(restricts))
    return Disposition(DispositionOutcome.FIT, ())
