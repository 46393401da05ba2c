"""The sentences of findings."""

from __future__ import annotations

from firstlift.core.errors import Finding, FirstliftError, Problem
from firstlift.words import phrases_en, sentences_en
from firstlift.words.fields import fill
from firstlift.words.sentences_en import Sentence

_TABLES = {"en": sentences_en.SENTENCES}
_REFUSALS = {"en": ("No set pressure is given: {why}.", phrases_en.REFUSAL)}


def _sentence(code: str, language: str) -> Sentence:
    table = _TABLES.get(language)
    if table is None:
        raise FirstliftError(
            Problem("WRD-002", f"there are no words in '{language}'", needed=f"one of {', '.join(sorted(_TABLES))}")
        )
    row = table.get(code)
    if row is None:
        raise FirstliftError(
            Problem(
                "WRD-001",
                f"finding '{code}' has no sentence",
                needed=f"a row for it in the '{language}' table of sentences",
            )
        )
    return row


def message(finding: Finding, *, language: str = "en", pressure_unit: str = "bar") -> str:
    """Say what a finding is, with its values.

    Parameters
    ----------
    finding : Finding
    language : str
        Only "en" so far.
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
    return fill(_sentence(finding.code, language).message, finding.parameters, pressure_unit)


def advice(finding: Finding, *, language: str = "en") -> str:
    """Say what to do about a finding.

    Parameters
    ----------
    finding : Finding
    language : str
        Only "en" so far.

    Returns
    -------
    str

    Raises
    ------
    FirstliftError
        WRD-001 the code has no sentence; WRD-002 the language is not there.
    """
    return _sentence(finding.code, language).advice


def title(code: str, *, language: str = "en") -> str:
    """Give a finding's short title, for a flag in a table or a reason in a list.

    Parameters
    ----------
    code : str
        Code of a finding.
    language : str
        Only "en" so far.

    Returns
    -------
    str

    Raises
    ------
    FirstliftError
        WRD-001 the code has no sentence; WRD-002 the language is not there.
    """
    return _sentence(code, language).title


def reason_for_refusal(code: str, *, language: str = "en") -> str:
    """Say why a result gives no set pressure.

    Parameters
    ----------
    code : str
        The result's reason: a finding's code.
    language : str
        Only "en" so far.

    Returns
    -------
    str

    Raises
    ------
    FirstliftError
        WRD-001 the code has no sentence; WRD-002 the language is not there.
    """
    short = title(code, language=language)
    frame, reasons = _REFUSALS[language]
    return frame.format(why=reasons.get(code, short))
