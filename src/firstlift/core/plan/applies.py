"""Does the method apply to this valve at all? Asked and answered before anything else, each with its reason.

A question is a code with a closed list of answers, and each answer counts as fine, as a caution, or as a stop.
What the job sheet already says is not asked again. The words of questions and reasons are in
`firstlift.words`.
"""

from __future__ import annotations

import difflib
from collections.abc import Mapping
from dataclasses import dataclass
from enum import StrEnum

from firstlift.core.errors import Finding, FirstliftError, Problem, Severity
from firstlift.core.plan.closing import StaysOpen
from firstlift.core.plan.inputs import HIGHEST_LINE_SHARE, LEAST_LINE_SHARE, PlanInputs
from firstlift.core.units import UNITS
from firstlift.core.valve import ValveType


class Counts(StrEnum):
    """What an answer does."""

    FINE = "fine"
    CAUTION = "caution"
    STOP = "stop"


@dataclass(frozen=True, slots=True)
class Question:
    """One question: its code, the finding that asks it, and for each answer what it does and the finding why."""

    code: str
    ask: str
    answers: Mapping[str, tuple[Counts, str]]


@dataclass(frozen=True, slots=True)
class Answered:
    """A question with the answer given; None while it is open."""

    question: str
    answer: str | None
    counts: Counts | None


@dataclass(frozen=True, slots=True)
class Applicability:
    """Whether the method applies: ``outcome`` is "applies", "open" or "does-not-apply".

    ``findings`` are the reasons; ``not_proven`` are the codes of what a test will not prove whatever it finds.
    """

    outcome: str
    answered: tuple[Answered, ...]
    findings: tuple[Finding, ...]
    not_proven: tuple[str, ...]


_F, _C, _S = Counts.FINE, Counts.CAUTION, Counts.STOP
QUESTIONS: tuple[Question, ...] = (
    Question(
        "valve-kind", "ask-valve-kind",
        {
            "direct-spring": (_F, ""), "pilot-operated": (_S, "no-pilot-operated"),
            "supplementary-loaded": (_S, "no-supplementary-loaded"), "weight-loaded": (_S, "no-weight-loaded"),
            "vacuum": (_S, "no-vacuum"), "power-assisted": (_S, "no-power-assisted"),
        },
    ),
    Question("spindle-holds-disc", "ask-spindle-holds-disc", {"yes": (_F, ""), "no": (_S, "no-hold-of-disc")}),
    Question("thread", "ask-thread", {"sound": (_F, ""), "corroded": (_S, "no-sound-thread")}),
    Question("rupture-disc", "ask-rupture-disc", {"none": (_F, ""), "in-series": (_S, "no-rupture-disc")}),
    Question(
        "bellows", "ask-bellows",
        {
            "none": (_F, ""), "sound": (_F, ""), "failed": (_S, "no-sound-bellows"),
            "unknown": (_S, "no-known-bellows"),
        },
    ),
    Question("drain-and-vent", "ask-drain-and-vent", {"clear": (_F, ""), "blocked": (_S, "no-clear-drain")}),
    Question("seat", "ask-seat", {"metal": (_F, ""), "soft": (_C, "caution-soft-seat")}),
    Question("gag", "ask-gag", {"none": (_F, ""), "fitted": (_S, "no-gag")}),
    Question("guide", "ask-guide", {"whole": (_F, ""), "missing": (_S, "no-guide")}),
    Question("release", "ask-release", {"allowed": (_F, ""), "not-allowed": (_S, "no-release")}),
    Question("accepted", "ask-accepted", {"yes": (_F, ""), "no": (_S, "no-acceptance")}),
)  # fmt: skip
_BY_CODE = {question.code: question for question in QUESTIONS}

# an assisted lift shows none of these (API RP 576, 4th edition 2017, 6.3, looked up; the last two common practice)
NOT_PROVEN = (
    "not-proven-capacity", "not-proven-blowdown", "not-proven-full-lift", "not-proven-tightness",
    "not-proven-fouling", "not-proven-parts",
)  # fmt: skip
# under 15 psi the owner states tolerance and gauge, for the usual 2 psi may exceed what a tank bears (API RP 576,
# 6.2.9.8, looked up)
_VERY_LOW_PA = 15.0 * UNITS["psi"].factor
# under this share of set the spindle may rise without the disc (common practice: at least 70 %)
_USUAL_LINE_SHARE = 0.7


def read_answers(given: Mapping[str, str]) -> dict[str, str]:
    """Hold answers to the closed lists of questions and answers.

    Parameters
    ----------
    given : mapping of str to str
        Question's code to answer.

    Returns
    -------
    dict of str to str

    Raises
    ------
    FirstliftError
        PLN-004 a question or an answer that is not in the lists.
    """
    problems: list[Problem] = []
    for code, answer in given.items():
        question = _BY_CODE.get(code)
        known = tuple(_BY_CODE) if question is None else tuple(question.answers)
        wrong = code if question is None else answer
        if wrong not in known:
            near = difflib.get_close_matches(wrong, known, n=1)
            problems.append(
                Problem(
                    "PLN-004",
                    f"'{wrong[:60]}' is not known" + ("" if question is None else f" as an answer to '{code}'"),
                    "answers",
                    f"one of {', '.join(known)}",
                    f"Did you mean '{near[0]}'" if near else "",
                )
            )
    if problems:
        raise FirstliftError(problems)
    return dict(given)


def applies(inputs: PlanInputs, stays_open: StaysOpen) -> Applicability:
    """Say whether the method applies, what is still to be asked, and what the test will not prove.

    Parameters
    ----------
    inputs : PlanInputs
    stays_open : StaysOpen
        At the planned line pressure.

    Returns
    -------
    Applicability

    Raises
    ------
    FirstliftError
        PLN-004 an answer that is not in the lists.

    References
    ----------
    .. [1] Hazards and limits of the method: API RP 576, 4th edition 2017, 6.3 (looked up as a public copy).
    """
    given = read_answers(inputs.answers)
    if inputs.job.valve.type is not ValveType.BALANCED_BELLOWS:
        given.setdefault("bellows", "none")
    answered = tuple(_answer(question, given.get(question.code)) for question in QUESTIONS)
    findings = [finding for one in answered if (finding := _reason(one)) is not None]
    findings.extend(_from_the_sheet(inputs, stays_open))
    if any(finding.severity is Severity.SEVERE for finding in findings):
        outcome = "does-not-apply"
    elif any(one.answer is None for one in answered):
        outcome = "open"
    else:
        outcome = "applies"
    return Applicability(outcome, answered, tuple(findings), NOT_PROVEN)


def _answer(question: Question, answer: str | None) -> Answered:
    return Answered(question.code, answer, None if answer is None else question.answers[answer][0])


def _reason(one: Answered) -> Finding | None:
    question = _BY_CODE[one.question]
    if one.answer is None:
        return Finding(question.ask, Severity.INFO)
    counts, why = question.answers[one.answer]
    if counts is Counts.FINE:
        return None
    return Finding(why, Severity.SEVERE if counts is Counts.STOP else Severity.WARNING)


def _from_the_sheet(inputs: PlanInputs, stays_open: StaysOpen) -> list[Finding]:
    set_pa, line = inputs.set_pa, inputs.line_pressure_pa
    findings: list[Finding] = []
    if inputs.job.valve.cap_on:
        findings.append(Finding("plan-cap-on", Severity.WARNING))
    if set_pa < _VERY_LOW_PA:
        findings.append(Finding("plan-very-low-set", Severity.WARNING, None, {"set_pressure_pa": set_pa}))
    parameters = {"line_pressure_pa": line, "line_share": line / set_pa}
    if line > HIGHEST_LINE_SHARE * set_pa:
        findings.append(Finding("plan-line-near-set", Severity.SEVERE, None, parameters))
    elif stays_open.likelihood != "unlikely":
        code = "plan-stays-open-likely" if stays_open.likelihood == "likely" else "plan-stays-open-possible"
        more = {**parameters, "stays_open_probability": stays_open.chance, "closes_low_pa": stays_open.closes_low_pa}
        findings.append(Finding(code, Severity.WARNING, None, more))
    if line < LEAST_LINE_SHARE * set_pa:
        findings.append(Finding("plan-spring-setting-only", Severity.WARNING, None, parameters))
    elif line < _USUAL_LINE_SHARE * set_pa:
        findings.append(Finding("plan-line-low", Severity.WARNING, None, parameters))
    return findings
