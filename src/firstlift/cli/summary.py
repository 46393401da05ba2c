"""The text summary of an analysed test: what a person on site reads first."""

from __future__ import annotations

from firstlift import words
from firstlift.core.result import REJECTED, Pull, Result
from firstlift.usecases.analyse import Analysed
from firstlift.usecases.draw import text_plot
from firstlift.words.numbers import format_exact, format_force, format_pressure, format_probability, format_time

_RANK = {"severe": "!!", "warning": " !", "info": "  "}


def summary(analysed: Analysed, *, ascii_only: bool = False) -> str:
    """Write the summary.

    Parameters
    ----------
    analysed : Analysed
    ascii_only : bool
        Use plain characters in the plot.

    Returns
    -------
    str
    """
    job, result = analysed.job, analysed.analysis.result
    unit = job.valve.set_pressure.unit
    lines = [
        f"{job.valve.tag}  {words.purpose(result.purpose)}, {job.visit.date.isoformat()}, "
        f"{words.medium(str(job.valve.medium))}",
        *_headline(result, unit),
        *_verdict(result, unit),
        f"disposition   {words.disposition(str(result.disposition.outcome))}{_reasons(result)}",
        "",
        *(_pull(pull, unit) for pull in result.pulls),
    ]
    plot = text_plot(analysed.analysis, pressure_unit=unit, ascii_only=ascii_only)
    if plot:
        lines += ["", plot]
    if result.findings:
        lines += ["", *_findings(result)]
    lines += [
        "",
        "Not shown by such a test: capacity, blowdown, tightness at 90 % of set. Local codes, the owner's permit and",
        "licensed practice decide what is done with the valve.",
    ]
    return "\n".join(lines)


def _headline(result: Result, unit: str) -> list[str]:
    found = result.as_found
    if found is not None and found.set_pressure_pa is not None:
        value = format_pressure(found.set_pressure_pa, unit, found.expanded_uncertainty_pa)
        return [f"set pressure  {value}  (as found, pull {found.pull}; k = {found.coverage_factor or 0.0:.2f}, 95 %)"]
    if found is not None and found.lower_bound_pa is not None:
        bound = format_pressure(found.lower_bound_pa, unit, found.expanded_uncertainty_pa)
        return [f"set pressure  none: {words.pull_outcome(str(found.outcome))}; opens above {bound}"]
    if result.as_left is not None and result.as_left.pulls:
        return [
            f"set pressure  {format_pressure(p.set_pressure_pa, unit, p.expanded_uncertainty_pa)}"
            f"  (as left, pull {p.pull})"
            for p in result.as_left.pulls
        ]
    why = words.reason_for_refusal(result.reason) if result.reason else words.outcome(str(result.outcome))
    return [f"set pressure  none: {why}"]


def _verdict(result: Result, unit: str) -> list[str]:
    verdict = result.verdict
    if verdict is None:
        return ["verdict       none: nothing can be judged"]
    limits = f"{format_exact(verdict.lower_pa, unit)} to {format_exact(verdict.upper_pa, unit)}"
    lines = [f"verdict       {words.verdict(str(verdict.outcome))}: limits {limits}"]
    rule = words.decision(verdict.decision, verdict.decision_probability)
    lines.append(f"              {verdict.code} {verdict.edition}, {verdict.clause}; {rule}")
    if verdict.probability_within is not None:
        lines.append(f"              probability within {format_probability(verdict.probability_within)}")
    return lines


def _reasons(result: Result) -> str:
    reasons = result.disposition.reasons
    return f": {', '.join(reasons)}" if reasons else ""


def _pull(pull: Pull, unit: str) -> str:
    outcome = "rejected" if REJECTED in pull.flags else words.pull_outcome(str(pull.outcome))
    head = f"pull {pull.number:<3} {outcome:<14}"
    if pull.set_pressure_pa is not None:
        closed = f"closed {format_time(pull.closure_s)}" if pull.closure_s is not None else "no closure seen"
        return (
            f"{head} {format_pressure(pull.set_pressure_pa, unit, pull.expanded_uncertainty_pa)}"
            f"  line {format_pressure(pull.line_pressure_pa, unit)}, pull {format_force(pull.pull_force_n)},"
            f" first lift {format_time(pull.first_lift_s, pull.first_lift_standard_uncertainty_s)}, {closed}"
        )
    if pull.lower_bound_pa is not None:
        return f"{head} opens above {format_pressure(pull.lower_bound_pa, unit, pull.expanded_uncertainty_pa)}"
    return head


def _findings(result: Result) -> list[str]:
    lines: list[str] = []
    for finding in result.findings:
        pull = f"pull {finding.pull}: " if finding.pull is not None else ""
        lines.append(f"{_RANK[finding.severity]} {pull}{finding.message} [{finding.code}]")
        if finding.severity != "info":
            lines.append(f"     {finding.advice}")
    return lines
