"""The sentences of findings."""

from __future__ import annotations

from firstlift.core.errors import Finding, FirstliftError, Problem
from firstlift.words import phrases_en
from firstlift.words.catalogue import check_language, in_language
from firstlift.words.fields import fill
from firstlift.words.place import written_in
from firstlift.words.sentences_en import SENTENCES


def _part(code: str, part: str, language: str) -> str:
    check_language(language)
    row = SENTENCES.get(code)
    if row is None:
        raise FirstliftError(
            Problem("WRD-001", f"finding '{code}' has no sentence", needed="a row for it in the table of sentences")
        )
    return in_language(f"finding.{code}.{part}", getattr(row, part), language)


def message(finding: Finding, *, language: str = "en", pressure_unit: str = "bar") -> str:
    """Say what a finding is, with its values.

    Parameters
    ----------
    finding : Finding
    language : str
        One of `firstlift.words.paper.languages`.
    pressure_unit : str
        Unit for pressures: the nameplate's.

    Returns
    -------
    str

    Raises
    ------
    FirstliftError
        WRD-001 the code has no sentence; WRD-002 the language is not there.
    """
    with written_in(language):
        return fill(_part(finding.code, "message", language), finding.parameters, pressure_unit, language=language)


def advice(finding: Finding, *, language: str = "en") -> str:
    """Say what to do about a finding.

    Parameters
    ----------
    finding : Finding
    language : str
        One of `firstlift.words.paper.languages`.

    Returns
    -------
    str

    Raises
    ------
    FirstliftError
        WRD-001 the code has no sentence; WRD-002 the language is not there.
    """
    return _part(finding.code, "advice", language)


def title(code: str, *, language: str = "en") -> str:
    """Give a finding's short title, for a flag in a table or a reason in a list.

    Parameters
    ----------
    code : str
        Code of a finding.
    language : str
        One of `firstlift.words.paper.languages`.

    Returns
    -------
    str

    Raises
    ------
    FirstliftError
        WRD-001 the code has no sentence; WRD-002 the language is not there.
    """
    return _part(code, "title", language)


def reason_for_refusal(code: str, *, language: str = "en") -> str:
    """Say why a result gives no set pressure.

    Parameters
    ----------
    code : str
        The result's reason: a finding's code.
    language : str
        One of `firstlift.words.paper.languages`.

    Returns
    -------
    str

    Raises
    ------
    FirstliftError
        WRD-001 the code has no sentence; WRD-002 the language is not there.
    """
    known = phrases_en.REFUSAL.get(code)
    why = title(code, language=language) if known is None else in_language(f"phrase.refusal.{code}", known, language)
    frame = in_language("phrase.frame.refusal", phrases_en.FRAME["refusal"], language)
    return frame.format(why=why)
