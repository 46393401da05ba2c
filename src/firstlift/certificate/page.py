"""From job and result to the certificate as data: pure, no layout, no file."""

from __future__ import annotations

import dataclasses
from collections.abc import Callable, Mapping, Sequence
from typing import Any

from firstlift.certificate import closing, facts, findings, instruments, pictures, states
from firstlift.certificate.glance import glance_of
from firstlift.certificate.model import Block, CertificateDetails, Document, Section, plain
from firstlift.core.job import Job
from firstlift.core.result import Result
from firstlift.figures import Past, Trace
from firstlift.words import numbers
from firstlift.words.catalogue import RIGHT_TO_LEFT
from firstlift.words.paper import Speaker
from firstlift.words.place import local_date, written_in

_MOST_TOGETHER = 2500
DEMO_OWNER = "Marrow Bay Energy"


def build_certificate(
    job: Job, result: Result, traces: Sequence[Trace], details: CertificateDetails, *, history: Sequence[Past] = ()
) -> Document:
    """Build the page model of a certificate.

    Every result gets one: one that gives no set pressure says why, and what lower bound is proved.

    Parameters
    ----------
    job : Job
    result : Result
        Its findings' sentences are printed as they stand.
    traces : sequence of Trace
        Channels over time in display units; empty for a certificate without figures of traces.
    details : CertificateDetails
        With the issuer's settings: title, sections and their order, paper, language.
    history : sequence of Past
        Earlier tests of the valve; empty where none is known.

    Returns
    -------
    Document

    Raises
    ------
    FirstliftError
        WRD-001 a flag or reason of the result has no words; WRD-002 the language is not there.
    """
    settings = details.settings
    with written_in(settings.language):
        return _built(in_pressure_unit(job, settings.pressure_unit), result, traces, details, history)


def _built(
    job: Job, result: Result, traces: Sequence[Trace], details: CertificateDetails, history: Sequence[Past]
) -> Document:
    say = Speaker(details.settings.language)
    makers: Mapping[str, Callable[[], Section | None]] = {
        "rule": lambda: _judged(job, result, say),
        "occasion": lambda: facts.occasion(job, details, say),
        "valve": lambda: facts.valve(job, say),
        "findings": lambda: findings.findings(job, result, say),
        "pulls": lambda: findings.pulls(job, result, say),
        "states": lambda: states.states(job, result, say),
        "evidence": lambda: states.evidence(result, say),
        "history": lambda: pictures.history_section(job, result, history, say),
        "instruments": lambda: instruments.instruments(job, say),
        "budget": lambda: _budget(job, result, say),
        "method": lambda: facts.method(job, result, details, say),
        "traces": lambda: pictures.traces_section(result, traces, say),
        "not-proved": lambda: closing.not_proved(say),
        "cautions": lambda: closing.cautions(say),
        "statement": lambda: closing.statement(details.settings, say),
    }
    made = (makers[name]() for name in details.settings.sections)
    sections = tuple(_breakable(section) for section in made if section is not None)
    return _document(job, result, details, sections, say)


def in_pressure_unit(job: Job, unit: str) -> Job:
    """Give a job whose paper prints pressures in another unit; the nameplate's own text stays beside it.

    Parameters
    ----------
    job : Job
    unit : str
        A pressure unit of `firstlift.core.units.UNITS`; empty for the nameplate's.

    Returns
    -------
    Job
        For printing only: nothing is judged by it.
    """
    stamped = job.valve.set_pressure
    if unit in ("", stamped.unit):
        return job
    number = numbers.in_unit(stamped.si, unit)
    text = f"{stamped.text} ({numbers.format_exact(stamped.si, unit)})"
    shown = dataclasses.replace(stamped, text=text, number=number, unit=unit)
    return dataclasses.replace(job, valve=dataclasses.replace(job.valve, set_pressure=shown))


def _document(
    job: Job, result: Result, details: CertificateDetails, sections: tuple[Section, ...], say: Speaker
) -> Document:
    settings, draft = details.settings, details.draft
    superseded = say("supersedes", number=details.supersedes, reason=details.reason) if details.supersedes else ""
    return Document(
        title=say(f"title.{settings.kind}"),
        note=say("title.note"),
        number=details.number,
        tag=job.valve.tag,
        issuer=details.issuer,
        issued_on=details.issued_on.isoformat(),
        release=details.release,
        sha256=result.recording.sha256,
        seal=details.seal,
        demo=say("demo") if DEMO_OWNER.casefold() in job.visit.owner.casefold() else "",
        draft=say("state.draft-note") if draft else "",
        watermark=say("state.draft") if draft else "",
        supersedes=superseded,
        regime=facts.regime_text(settings, say),
        paper="a4" if settings.paper == "a4" else "us-letter",
        language=settings.language,
        direction="rtl" if settings.language in RIGHT_TO_LEFT else "ltr",
        logo=settings.logo_format if settings.logo else "",
        mark=held.mark_format if (held := facts.covering(settings)) is not None and held.mark else "",
        words=_words(details, say),
        tested_on=job.visit.date,
        glance=glance_of(job, result, say),
        sections=sections,
        end=say(f"end.{settings.kind}", number=details.number),
    )


def _words(details: CertificateDetails, say: Speaker) -> dict[str, str]:
    """Give the small words that stand in the layout; {page} and {pages} are filled in there."""
    issued = local_date(details.issued_on)
    by = say("page.issued-by", date=issued, issuer=details.issuer) if details.issuer else ""
    return {
        "number": say("page.number", number="{number}"),
        "page": say("page.count", page="{page}", pages="{pages}"),
        "issued": by or say("page.issued", date=issued),
        "seal": say("page.seal", seal="{seal}"),
        "recording": say("page.recording", sha256="{sha256}"),
        "code": say("page.code"),
        "mark": say("page.mark"),
        "logo": say("page.logo"),
        "valve": say("glance.valve"),
        "to-do": say("findings.to-do"),
        "sentence": say("job.sentence", words="{words}"),
    }


def _judged(job: Job, result: Result, say: Speaker) -> Section:
    rule = facts.rule(job, result, say)
    picture = pictures.limits_picture(job, result, say)
    blocks: tuple[Block, ...] = rule.blocks if picture is None else (picture, *rule.blocks)
    return Section(rule.title, blocks, together=True)


def _budget(job: Job, result: Result, say: Speaker) -> Section | None:
    if not result.budget:
        return None
    blocks: tuple[Block, ...] = (findings.budget_table(job, result, say), pictures.budget_picture(result, say))
    return Section(say("budget"), blocks)


def _breakable(section: Section) -> Section:
    """Let a section run over the page's end where it holds too much to be kept together."""
    return dataclasses.replace(section, together=section.together and _characters(plain(section)) < _MOST_TOGETHER)


def _characters(value: Any) -> int:
    if isinstance(value, dict):
        return sum(_characters(item) for key, item in value.items() if key != "svg")
    if isinstance(value, list):
        return sum(_characters(item) for item in value)
    return len(value) if isinstance(value, str) else 0
