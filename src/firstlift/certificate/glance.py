"""The finding at a glance: what stands in the frame on the first page."""

from __future__ import annotations

from collections.abc import Sequence

from firstlift import words
from firstlift.certificate.model import Glance
from firstlift.core.job import Job, Purpose
from firstlift.core.result import AsFound, Outcome, Pull, PullOutcome, Result
from firstlift.figures import Reading
from firstlift.words import numbers

_MARK = {
    "within": "good",
    "outside": "bad",
    "undecided": "open",
    "fit": "good",
    "fit_with_restriction": "open",
    "unfit": "bad",
    "inoperable": "bad",
}


def glance_of(job: Job, result: Result) -> Glance:
    """Give the frame of the first page.

    Parameters
    ----------
    job : Job
    result : Result

    Returns
    -------
    Glance
    """
    headline, value, note = _value(job, result)
    disposition = result.disposition
    return Glance(
        tag=job.valve.tag,
        headline=headline,
        value=value,
        value_note=note,
        verdict=words.verdict(result.verdict.outcome) if result.verdict else "No verdict",
        verdict_mark=_MARK[result.verdict.outcome] if result.verdict else "open",
        verdict_note=verdict_note(job, result),
        disposition=words.disposition(disposition.outcome),
        disposition_mark=_MARK[disposition.outcome],
        disposition_note="; ".join(words.title(code) for code in disposition.reasons),
    )


def verdict_note(job: Job, result: Result) -> str:
    """Say against what the verdict was given.

    Parameters
    ----------
    job : Job
    result : Result

    Returns
    -------
    str
    """
    verdict = result.verdict
    if verdict is None:
        return "Nothing could be judged against the limits."
    unit = job.valve.set_pressure.unit
    text = f"Limits {numbers.format_exact(verdict.lower_pa, unit)} to {numbers.format_exact(verdict.upper_pa, unit)}"
    if verdict.probability_within is not None:
        text += f"; probability of lying within them {numbers.format_probability(verdict.probability_within)}"
    return f"{text}."


def lower_bound_of(result: Result) -> float | None:
    """Give the highest pressure the valve was proved to stay closed at.

    Parameters
    ----------
    result : Result

    Returns
    -------
    float or None, [Pa gauge]
    """
    if result.as_found is not None and result.as_found.lower_bound_pa is not None:
        return result.as_found.lower_bound_pa
    return max((pull.lower_bound_pa for pull in result.pulls if pull.lower_bound_pa is not None), default=None)


def _value(job: Job, result: Result) -> tuple[str, str, str]:
    unit = job.valve.set_pressure.unit
    if result.outcome is not Outcome.MEASURED:
        why = words.reason_for_refusal(result.reason) if result.reason else ""
        return _without_value(words.outcome(result.outcome), why, lower_bound_of(result), unit)
    if job.visit.purpose is Purpose.AS_FOUND and result.as_found is not None:
        return _as_found(result.as_found, unit)
    return _as_left(result, unit)


def _without_value(headline: str, why: str, bound: float | None, unit: str) -> tuple[str, str, str]:
    if bound is None:
        return headline, "No set pressure", f"{why} No lower bound is proved either.".strip()
    note = f"{why} Proved lower bound: it opens above {numbers.format_value(bound, unit)}."
    return headline, "No set pressure", note.strip()


def _as_found(found: AsFound, unit: str) -> tuple[str, str, str]:
    if found.set_pressure_pa is None:
        headline = f"As found: {words.pull_outcome(found.outcome)} at the first loading"
        why = "" if found.outcome is PullOutcome.NOT_LIFTED else "Later pulls do not replace the first loading."
        return _without_value(headline, why, found.lower_bound_pa, unit)
    note = f"U with coverage factor k = {_factor(found)}, coverage probability {_coverage(found)}"
    value = numbers.format_pressure(found.set_pressure_pa, unit, found.expanded_uncertainty_pa)
    return f"Set pressure as found, pull {found.pull}", value, f"{note}."


def _factor(found: AsFound) -> str:
    return "not stated" if found.coverage_factor is None else f"{found.coverage_factor:.2f}"


def _coverage(found: AsFound) -> str:
    if found.coverage_probability is None:
        return "not stated"
    return numbers.format_exact(found.coverage_probability, "%")


def _as_left(result: Result, unit: str) -> tuple[str, str, str]:
    left = result.as_left.pulls if result.as_left else ()
    if not left:
        return "As left", "No set pressure", "No opening gave a set pressure."
    judged = [p for p in left if result.verdict is None or p.pull in result.verdict.judged] or list(left)
    widest = max(p.expanded_uncertainty_pa for p in judged)
    low, u = numbers.pressure_pair(min(p.set_pressure_pa for p in judged), unit, widest)
    high, _ = numbers.pressure_pair(max(p.set_pressure_pa for p in judged), unit, widest)
    shown = numbers.show_unit(unit)
    pulls = ", ".join(str(p.pull) for p in judged)
    value = f"{low} to {high} {shown}" if len(judged) > 1 else f"{low} ± {u} {shown}"
    note = f"Lowest and highest of pulls {pulls}; expanded uncertainty U of each up to {u} {shown}, k about 2."
    return (
        "Set pressure as left",
        value,
        note if len(judged) > 1 else f"Pull {pulls}; expanded uncertainty U, k about 2.",
    )


def readings_of(job: Job, result: Result, pulls: Sequence[Pull]) -> tuple[Reading, ...]:
    """Give the rows of the limits figure, in the nameplate's unit.

    Parameters
    ----------
    job : Job
    result : Result
    pulls : sequence of Pull
        Those to show.

    Returns
    -------
    tuple of Reading
    """
    unit = job.valve.set_pressure.unit
    judged = result.verdict.judged if result.verdict else ()

    def shown(pa: float | None) -> float | None:
        return None if pa is None else float(numbers.in_unit(pa, unit))

    return tuple(
        Reading(
            f"pull {pull.number}",
            shown(pull.set_pressure_pa),
            shown(pull.expanded_uncertainty_pa),
            shown(pull.lower_bound_pa),
            pull.number in judged,
        )
        for pull in pulls
    )
