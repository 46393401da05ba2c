"""From job and result to the certificate as data: pure, no layout, no file."""

from __future__ import annotations

import dataclasses
from collections.abc import Sequence
from typing import Any

from firstlift.certificate import closing, facts, findings, pictures
from firstlift.certificate.glance import glance_of
from firstlift.certificate.model import Block, CertificateDetails, Document, Section, plain
from firstlift.core.job import Job
from firstlift.core.result import Result
from firstlift.figures import Trace

_MOST_TOGETHER = 2500
DEMO_OWNER = "Marrow Bay Energy"
DEMO_MARK = "Demonstration data: invented plant"


def build_certificate(job: Job, result: Result, traces: Sequence[Trace], details: CertificateDetails) -> Document:
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

    Returns
    -------
    Document

    Raises
    ------
    FirstliftError
        WRD-001 a flag or reason of the result has no words.
    """
    sections: list[Section | None] = [
        _judged(job, result),
        facts.occasion(job, details),
        facts.valve(job),
        findings.findings(result),
        findings.pulls(job, result),
        findings.states(job, result),
        facts.instruments(job),
        _budget(job, result),
        facts.method(job, result, details.release),
        pictures.traces_section(result, traces),
        *closing.closing(),
    ]
    return Document(
        title="Certificate of set-pressure test",
        number=details.number,
        tag=job.valve.tag,
        issuer=details.issuer,
        issued_on=details.issued_on.isoformat(),
        release=details.release,
        sha256=result.recording.sha256,
        demo=DEMO_MARK if DEMO_OWNER.casefold() in job.visit.owner.casefold() else "",
        tested_on=job.visit.date,
        glance=glance_of(job, result),
        sections=tuple(_breakable(section) for section in sections if section is not None),
        end=f"End of certificate {details.number}",
    )


def _judged(job: Job, result: Result) -> Section:
    rule = facts.rule(job, result)
    picture = pictures.limits_picture(job, result)
    blocks: tuple[Block, ...] = rule.blocks if picture is None else (picture, *rule.blocks)
    return Section(rule.title, blocks, together=True)


def _budget(job: Job, result: Result) -> Section | None:
    if not result.budget:
        return None
    blocks: tuple[Block, ...] = (findings.budget_table(job, result), pictures.budget_picture(result))
    return Section("Uncertainty budget of the judged value", blocks)


def _breakable(section: Section) -> Section:
    """Let a section run over the page's end where it holds too much to be kept together."""
    return dataclasses.replace(section, together=section.together and _characters(plain(section)) < _MOST_TOGETHER)


def _characters(value: Any) -> int:
    if isinstance(value, dict):
        return sum(_characters(item) for key, item in value.items() if key != "svg")
    if isinstance(value, list):
        return sum(_characters(item) for item in value)
    return len(value) if isinstance(value, str) else 0
