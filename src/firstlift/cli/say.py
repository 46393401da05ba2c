"""Findings as lines of text: the gravest first, with what to do under each."""

from __future__ import annotations

import textwrap
from collections.abc import Sequence
from typing import Any

from firstlift import words
from firstlift.core.errors import Finding, Severity
from firstlift.core.result import to_json

_RANK = {Severity.SEVERE: "!!", Severity.WARNING: " !", Severity.INFO: "  "}
_WIDTH = 116


def finding_lines(findings: Sequence[Finding], unit: str) -> list[str]:
    """Say findings, the gravest first.

    Parameters
    ----------
    findings : sequence of Finding
    unit : str
        The nameplate's pressure unit.

    Returns
    -------
    list of str
    """
    order = list(_RANK)
    lines: list[str] = []
    for finding in sorted(findings, key=lambda one: order.index(one.severity)):
        lines += wrapped(words.message(finding, pressure_unit=unit), f"{_RANK[finding.severity]} ")
        lines += wrapped(words.advice(finding), "   -> ")
    return lines


def wrapped(text: str, mark: str) -> list[str]:
    """Break a sentence at the page's width, hung under its mark.

    Parameters
    ----------
    text : str
    mark : str
        What the first line begins with.

    Returns
    -------
    list of str
    """
    return textwrap.wrap(text, _WIDTH, initial_indent=mark, subsequent_indent=" " * len(mark))


def with_words(record: object, unit: str) -> Any:
    """Give a record's JSON with message and advice beside each finding.

    Parameters
    ----------
    record : object
        A frozen record with ``findings``.
    unit : str
        The nameplate's pressure unit.

    Returns
    -------
    dict
    """
    whole = to_json(record)
    findings: Sequence[Finding] = getattr(record, "findings", ())
    for entry, finding in zip(whole.get("findings", ()), findings, strict=True):
        entry["message"] = words.message(finding, pressure_unit=unit)
        entry["advice"] = words.advice(finding)
    return whole
