"""The nonconformity report: a valve out of its limits, stuck, leaking, or that stayed open, and what was done."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from firstlift import words
from firstlift.certificate.model import Column, FindingRow, Findings, Pairs, Paragraph, Table
from firstlift.certificate.papers.facts import Printing, Sibling, Siblings, Tested, VisitFacts
from firstlift.certificate.papers.model import (
    Band,
    Beside,
    Call,
    Cell,
    Checks,
    Headed,
    JobPaper,
    Notes,
    Piece,
    Sheet,
)
from firstlift.certificate.papers.parts import (
    beside_of,
    clock_of,
    in_a_row,
    inside,
    paper_of,
    set_of,
    signatures,
    subject_of,
    value_of,
)
from firstlift.certificate.papers.visit import seals_of, turns_of, verdict_of
from firstlift.core.errors import Finding, Severity
from firstlift.core.job import Purpose
from firstlift.core.register.work import HowTested, ValveTest
from firstlift.core.result import FindingText
from firstlift.words.numbers import format_exact, format_share
from firstlift.words.paper import Speaker
from firstlift.words.place import local_date

_NOW = 6
_DECIDE = 6
_BUILDS = {"spring": "nonconformity.share-spring", "build": "nonconformity.share-build"}


@dataclass(frozen=True, slots=True)
class Amiss:
    """A test that found a valve out of order, and who tested.

    ``what`` is "high", "low", "stuck", "stayed-open", "leaked", "lower-bound" or "unfit". ``siblings`` are other
    valves that may share the fault.
    """

    tested: Tested
    test: ValveTest
    what: str
    people: tuple[str, ...]
    siblings: Siblings


def build_nonconformity(facts: VisitFacts, amiss: Sequence[Amiss], printing: Printing) -> JobPaper:
    """Build nonconformity reports, each on a page of its own.

    Parameters
    ----------
    facts : VisitFacts
    amiss : sequence of Amiss
    printing : Printing

    Returns
    -------
    JobPaper
    """
    say = Speaker(printing.settings.language)
    sheets = [_report(facts, one, say) for one in amiss]
    foot = say("nonconformity.foot")
    return paper_of(say("nonconformity"), subject_of(facts), foot, sheets, printing, invented=facts.invented, say=say)


def _report(facts: VisitFacts, one: Amiss, say: Speaker) -> Sheet:
    now = tuple(say(f"nonconformity.now.{number + 1}") for number in range(_NOW))
    decide = tuple(say(f"nonconformity.decide.{number + 1}") for number in range(_DECIDE))
    pieces = (
        Call(say(f"nonconformity.{one.what}"), "bad", say(f"nonconformity.{one.what}-means")),
        _band(one, say),
        Headed(say("nonconformity.facts"), Pairs(_facts(one, say))),
        Headed(say("nonconformity.seen"), _seen(one, say)),
        Headed(say("nonconformity.since"), _since(one, say)),
        Headed(say("nonconformity.siblings"), _siblings(one.siblings, say)),
        Beside(
            (Headed(say("nonconformity.at-once"), Checks((("", now),), ())),),
            (Headed(say("nonconformity.decision"), Checks((("", decide),), ())),),
        ),
        Notes(say("nonconformity.cause"), 3, rest=True),
        signatures(say, say("nonconformity.reported"), say("nonconformity.noted"), say("nonconformity.closed")),
    )
    return Sheet(
        one.tested.hung.tag,
        say("nonconformity.above"),
        beside_of(one.tested.hung, facts),
        pieces,
        fit=True,
        largest_pt=10.0,
    )


def _band(one: Amiss, say: Speaker) -> Band:
    test, unit = one.test, one.tested.hung.unit
    stamped = one.tested.hung.valve.set_pressure.si
    opening = test.set_pressure_pa
    if opening is None and test.bench is not None:
        opening = test.bench.pop_pa
    away = "–" if opening is None else _signed(opening / stamped - 1.0)
    verdict = None if test.result is None else test.result.verdict
    limits = "–" if verdict is None else say(
        "job.from-to", first=format_exact(verdict.lower_pa, unit), last=format_exact(verdict.upper_pa, unit)
    )  # fmt: skip
    rule = "" if verdict is None else f"{verdict.code}, {verdict.clause}"
    return Band(
        (
            Cell(say("packet.stamped"), set_of(one.tested.hung)),
            Cell(say("nonconformity.found"), value_of(test, unit, say)),
            Cell(say("nonconformity.deviation"), away),
            Cell(say("nonconformity.limits"), limits, rule),
        )
    )


def _signed(share: float) -> str:
    sign = "+" if share > 0.0 else "−" if share < 0.0 else ""
    return f"{sign}{format_share(abs(share))}"


def _facts(one: Amiss, say: Speaker) -> tuple[tuple[str, str], ...]:
    test, valve = one.test, one.tested.hung.valve
    return (
        (
            say("nonconformity.tested"),
            say.listed(local_date(test.day), words.purpose(str(test.purpose), language=say.language)),
        ),
        (say("nonconformity.by"), ", ".join(one.people) or say("not-stated")),
        (say("job.serial"), valve.serial),
        (say("packet.maker"), " ".join(filter(None, (valve.maker, valve.model))) or "–"),
        (say("instruments"), ", ".join(used.serial for used in test.instruments) or say("none")),
        (say("visit.paper"), one.tested.papers.get(str(test.id), say("none"))),
    )


def _seen(one: Amiss, say: Speaker) -> Piece:
    findings = () if one.test.result is None else one.test.result.findings
    grave = [finding for finding in findings if finding.severity is not Severity.INFO]
    if not grave:
        return Paragraph(say("nonconformity.nothing-more"))
    rows = tuple(
        FindingRow(
            severity=str(finding.severity),
            shown=say(f"severity.{finding.severity}"),
            where=say("findings.whole") if finding.pull is None else say("pull", number=finding.pull),
            **_said(finding, one.tested.hung.unit, say),
        )
        for finding in grave
    )
    return Findings(rows)


def _said(finding: FindingText, unit: str, say: Speaker) -> dict[str, str]:
    """Give a finding's words: in English those that were kept with the result, else said anew."""
    anew = Finding(finding.code, finding.severity, finding.pull, finding.parameters)
    if say.language == "en":
        message, advice = finding.message, finding.advice
    else:
        message = words.message(anew, language=say.language, pressure_unit=unit)
        advice = words.advice(anew, language=say.language)
    return {"title": words.title(finding.code, language=say.language), "message": message, "advice": advice}


def _since(one: Amiss, say: Speaker) -> Piece:
    after = [
        say(
            "nonconformity.adjusted",
            date=local_date(clock_of(a.at, a.zone).date()),
            turns=turns_of(a),
            seals=seals_of(a, say),
        )
        for a in one.tested.adjustments
        if a.at >= one.test.at
    ]
    after += [
        say(
            "nonconformity.left",
            date=local_date(test.day),
            value=value_of(test, one.tested.hung.unit, say),
            verdict=inside(verdict_of(test, say)),
        )
        for test in one.tested.tests
        if test.purpose is Purpose.AS_LEFT and test.kind is not HowTested.NOT_TESTED and test.at > one.test.at
    ]
    return Paragraph(in_a_row(after, say) if after else say("nonconformity.nothing-since"))


def _siblings(siblings: Siblings, say: Speaker) -> Piece:
    unknown = () if siblings.build_noted else (say("nonconformity.build-unknown"),)
    if not siblings.shown:
        return Paragraph(
            " ".join((say("nonconformity.no-siblings"), *(say("job.sentence", words=words) for words in unknown)))
        )
    columns = (
        Column(say("job.tag"), weight=1.2),
        Column(say("job.serial"), weight=1.2),
        Column(say("job.place"), weight=1.7),
        Column(say("nonconformity.shares"), weight=2.5),
        # a column of its own: where writing runs to the left, a year and a value beside it would read as one
        Column(say("nonconformity.tested"), weight=1.3),
        Column(say("nonconformity.last-found"), weight=2.0),
    )
    rows = tuple(_sibling_row(one, say) for one in siblings.shown)
    strong = tuple(at for at, one in enumerate(siblings.shown) if one.amiss)
    more = (say("nonconformity.more-siblings", count=siblings.more),) if siblings.more else ()
    bold = (say("nonconformity.siblings-bold"),) if strong else ()
    return Table(columns, rows, strong, (*bold, *more, *unknown))


def _sibling_row(one: Sibling, say: Speaker) -> tuple[str, ...]:
    system = say("nonconformity.share-system", name=one.system) if one.system else ""
    build = say(_BUILDS[one.build]) if one.build else ""
    shares = "; ".join(filter(None, (system, build)))
    return (one.hung.tag, one.hung.valve.serial, one.hung.place or "–", shares, *_last_found(one, say))


def _last_found(one: Sibling, say: Speaker) -> tuple[str, str]:
    if one.found is None:
        return ("–", "–")
    value = value_of(one.found, one.hung.unit, say)
    return (local_date(one.found.day, short=True), say.listed(value, inside(verdict_of(one.found, say))))
