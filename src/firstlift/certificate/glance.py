"""The finding at a glance: what stands in the frame on the first page."""

from __future__ import annotations

from collections.abc import Sequence

from firstlift import words
from firstlift.certificate.model import Glance
from firstlift.core.job import Job, Purpose
from firstlift.core.result import REJECTED, AsFound, Outcome, Pull, PullOutcome, Result
from firstlift.figures import Reading
from firstlift.words import numbers
from firstlift.words.paper import Speaker
from firstlift.words.place import local

_MARK = {
    "within": "good",
    "outside": "bad",
    "undecided": "open",
    "fit": "good",
    "fit_with_restriction": "open",
    "unfit": "bad",
    "inoperable": "bad",
}


def glance_of(job: Job, result: Result, say: Speaker) -> Glance:
    """Give the frame of the first page.

    Parameters
    ----------
    job : Job
    result : Result
    say : Speaker

    Returns
    -------
    Glance
    """
    headline, value, note = _value(job, result, say)
    disposition, verdict, language = result.disposition, result.verdict, say.language
    return Glance(
        tag=job.valve.tag,
        headline=headline,
        value=value,
        value_note=note,
        verdict=words.verdict(verdict.outcome, language=language) if verdict else say("glance.no-verdict"),
        verdict_mark=_MARK[verdict.outcome] if verdict else "open",
        verdict_note=verdict_note(job, result, say),
        disposition=words.disposition(disposition.outcome, language=language),
        disposition_mark=_MARK[disposition.outcome],
        disposition_note="; ".join(words.title(code, language=language) for code in disposition.reasons),
    )


def verdict_note(job: Job, result: Result, say: Speaker) -> str:
    """Say against what the verdict was given.

    Parameters
    ----------
    job : Job
    result : Result
    say : Speaker

    Returns
    -------
    str
    """
    verdict = result.verdict
    if verdict is None:
        return say("glance.nothing-judged")
    unit = job.valve.set_pressure.unit
    lower, upper = numbers.format_exact(verdict.lower_pa, unit), numbers.format_exact(verdict.upper_pa, unit)
    if verdict.probability_within is None:
        return say("glance.limits", lower=lower, upper=upper)
    probability = numbers.format_probability(verdict.probability_within)
    return say("glance.limits-probability", lower=lower, upper=upper, probability=probability)


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
    counted = (pull for pull in result.pulls if REJECTED not in pull.flags)
    return max((pull.lower_bound_pa for pull in counted if pull.lower_bound_pa is not None), default=None)


def _value(job: Job, result: Result, say: Speaker) -> tuple[str, str, str]:
    unit = job.valve.set_pressure.unit
    if result.outcome is not Outcome.MEASURED:
        why = words.reason_for_refusal(result.reason, language=say.language) if result.reason else ""
        headline = words.outcome(result.outcome, language=say.language)
        return _without_value(headline, why, lower_bound_of(result), unit, say)
    if job.visit.purpose is Purpose.AS_FOUND and result.as_found is not None:
        return _as_found(result.as_found, unit, say)
    return _as_left(result, unit, say)


def _without_value(headline: str, why: str, bound: float | None, unit: str, say: Speaker) -> tuple[str, str, str]:
    if bound is None:
        note = say("glance.no-bound", why=why)
    else:
        note = say("glance.bound", why=why, bound=numbers.format_value(bound, unit))
    return headline, say("glance.no-value"), note.strip()


def _as_found(found: AsFound, unit: str, say: Speaker) -> tuple[str, str, str]:
    if found.set_pressure_pa is None:
        outcome = words.pull_outcome(found.outcome, language=say.language)
        headline = say("glance.as-found-without", outcome=outcome)
        why = "" if found.outcome is PullOutcome.NOT_LIFTED else say("glance.later-do-not-replace")
        return _without_value(headline, why, found.lower_bound_pa, unit, say)
    factor = say("not-stated") if found.coverage_factor is None else local(f"{found.coverage_factor:.2f}")
    probability = found.coverage_probability
    coverage = say("not-stated") if probability is None else numbers.format_exact(probability, "%")
    value = numbers.format_pressure(found.set_pressure_pa, unit, found.expanded_uncertainty_pa)
    headline = say("glance.as-found", pull=found.pull)
    return headline, value, say("glance.coverage", factor=factor, coverage=coverage)


def _as_left(result: Result, unit: str, say: Speaker) -> tuple[str, str, str]:
    left = result.as_left.pulls if result.as_left else ()
    if not left:
        return say("glance.as-left-without"), say("glance.no-value"), say("glance.no-opening")
    judged = [p for p in left if result.verdict is None or p.pull in result.verdict.judged] or list(left)
    widest = max(p.expanded_uncertainty_pa for p in judged)
    low, u = numbers.pressure_pair(min(p.set_pressure_pa for p in judged), unit, widest)
    high, _ = numbers.pressure_pair(max(p.set_pressure_pa for p in judged), unit, widest)
    shown = numbers.show_unit(unit)
    pulls = ", ".join(str(p.pull) for p in judged)
    if len(judged) == 1:
        return say("glance.as-left"), f"{low} ± {u} {shown}", say("glance.one-note", pulls=pulls)
    value = say("glance.range", low=low, high=high, unit=shown)
    return say("glance.as-left"), value, say("glance.range-note", pulls=pulls, u=u, unit=shown)


def readings_of(job: Job, result: Result, pulls: Sequence[Pull], say: Speaker) -> tuple[Reading, ...]:
    """Give the rows of the limits figure, in the nameplate's unit.

    Parameters
    ----------
    job : Job
    result : Result
    pulls : sequence of Pull
        Those to show.
    say : Speaker

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
            # the sign of the table of pulls for what does not count
            say("pull", number=pull.number) + (" ×" if REJECTED in pull.flags else ""),
            shown(pull.set_pressure_pa),
            shown(pull.expanded_uncertainty_pa),
            shown(pull.lower_bound_pa),
            pull.number in judged,
        )
        for pull in pulls
    )
