"""The phrases for outcomes, verdicts, dispositions and rules."""

from __future__ import annotations

from collections.abc import Mapping

from firstlift.core.errors import FirstliftError, Problem
from firstlift.words import phrases_en
from firstlift.words.numbers import format_exact


def _pick(table: Mapping[str, str], key: str, language: str) -> str:
    if language != "en":
        raise FirstliftError(Problem("WRD-002", f"there are no words in '{language}'", needed="'en'"))
    if key not in table:
        raise FirstliftError(Problem("WRD-003", f"there is no phrase for '{key}'", needed=f"one of {', '.join(table)}"))
    return table[key]


def outcome(value: str, *, language: str = "en") -> str:
    """Say what the whole recording shows, from `firstlift.core.result.Outcome`."""
    return _pick(phrases_en.OUTCOME, value, language)


def pull_outcome(value: str, *, language: str = "en") -> str:
    """Say what one pull shows, from `firstlift.core.result.PullOutcome`."""
    return _pick(phrases_en.PULL, value, language)


def verdict(value: str, *, language: str = "en") -> str:
    """Say the verdict, from `firstlift.core.result.VerdictOutcome`."""
    return _pick(phrases_en.VERDICT, value, language)


def disposition(value: str, *, language: str = "en") -> str:
    """Say what is to be done with the valve, from `firstlift.core.result.DispositionOutcome`."""
    return _pick(phrases_en.DISPOSITION, value, language)


def decision(value: str, probability: float, *, language: str = "en") -> str:
    """Say the decision rule in a sentence; ``probability`` is the decision probability, 0.5 to 1."""
    phrase = _pick(phrases_en.DECISION, value, language)
    return phrase.format(probability=format_exact(probability, "%"), complement=format_exact(1.0 - probability, "%"))


def definition(value: str, *, language: str = "en") -> str:
    """Say which event the rule calls the set pressure, from `firstlift.core.valve.Definition`."""
    return _pick(phrases_en.DEFINITION, value, language)


def source(status: str, *, language: str = "en") -> str:
    """Say where a rule's number comes from; a status this table does not know is shown as it is."""
    return _pick(phrases_en.SOURCE, status, language) if status in phrases_en.SOURCE else status


def purpose(value: str, *, language: str = "en") -> str:
    """Say the purpose of the visit, from `firstlift.core.job.Purpose`."""
    return _pick(phrases_en.PURPOSE, value, language)


def medium(value: str, *, language: str = "en") -> str:
    """Say the medium, from `firstlift.core.valve.Medium`."""
    return _pick(phrases_en.MEDIUM, value, language)


def valve_type(value: str, *, language: str = "en") -> str:
    """Say the build of the valve, from `firstlift.core.valve.ValveType`."""
    return _pick(phrases_en.TYPE, value, language)


def measures(value: str, *, language: str = "en") -> str:
    """Say what a channel measures, from `firstlift.core.job.Measures`."""
    return _pick(phrases_en.MEASURES, value, language)
