"""The phrases for outcomes, verdicts, dispositions and rules."""

from __future__ import annotations

import functools
import re

from firstlift.core.errors import FirstliftError, Problem
from firstlift.words import phrases_en
from firstlift.words.catalogue import check_language, in_language
from firstlift.words.numbers import format_exact
from firstlift.words.paper_en import WORDS


def _pick(name: str, key: str, language: str) -> str:
    table = phrases_en.TABLES[name]
    check_language(language)
    if key not in table:
        raise FirstliftError(Problem("WRD-003", f"there is no phrase for '{key}'", needed=f"one of {', '.join(table)}"))
    return in_language(f"phrase.{name}.{key}", table[key], language)


def outcome(value: str, *, language: str = "en") -> str:
    """Say what the whole recording shows, from `firstlift.core.result.Outcome`."""
    return _pick("outcome", value, language)


def pull_outcome(value: str, *, language: str = "en") -> str:
    """Say what one pull shows, from `firstlift.core.result.PullOutcome`."""
    return _pick("pull", value, language)


def verdict(value: str, *, language: str = "en") -> str:
    """Say the verdict, from `firstlift.core.result.VerdictOutcome`."""
    return _pick("verdict", value, language)


def disposition(value: str, *, language: str = "en") -> str:
    """Say what is to be done with the valve, from `firstlift.core.result.DispositionOutcome`."""
    return _pick("disposition", value, language)


def decision(value: str, probability: float, *, language: str = "en") -> str:
    """Say the decision rule in a sentence; ``probability`` is the decision probability, 0.5 to 1."""
    phrase = _pick("decision", value, language)
    return phrase.format(probability=format_exact(probability, "%"), complement=format_exact(1.0 - probability, "%"))


def definition(value: str, *, language: str = "en") -> str:
    """Say which event the rule calls the set pressure, from `firstlift.core.valve.Definition`."""
    return _pick("definition", value, language)


def source(status: str, *, language: str = "en") -> str:
    """Say where a rule's number comes from; a status this table does not know is shown as it is."""
    return _pick("source", status, language) if status in phrases_en.SOURCE else status


def purpose(value: str, *, language: str = "en") -> str:
    """Say the purpose of the visit, from `firstlift.core.job.Purpose`."""
    return _pick("purpose", value, language)


def medium(value: str, *, language: str = "en") -> str:
    """Say the medium, from `firstlift.core.valve.Medium`."""
    return _pick("medium", value, language)


def valve_type(value: str, *, language: str = "en") -> str:
    """Say the build of the valve, from `firstlift.core.valve.ValveType`."""
    return _pick("type", value, language)


def measures(value: str, *, language: str = "en") -> str:
    """Say what a channel measures, from `firstlift.core.job.Measures`."""
    return _pick("measures", value, language)


def distribution(value: str, *, language: str = "en") -> str:
    """Say the distribution of a budget's line; one this table does not know is shown as it is."""
    return _pick("distribution", value, language) if value in phrases_en.DISTRIBUTION else value


def budget_words(text: str, *, language: str = "en") -> str:
    """Say what a budget's line is, or what it is common to; what stands in quotes, and unknown words, stay."""
    if language == "en":
        return text
    # a phrase that is not known throughout stays as it is: half of it in another language helps nobody
    if re.search(r"[a-z]", _budget_parts().sub("", text), re.IGNORECASE):
        return text

    def said(part: re.Match[str]) -> str:
        if part.group() == ", ":
            return in_language("job.comma", WORDS["job.comma"], language)
        return part.group() if part.group(1) is None else _pick("budget", part.group(1), language)

    # one pass, so that no word is put in and then read again
    return _budget_parts().sub(said, text)


@functools.cache
def _budget_parts() -> re.Pattern[str]:
    words = "|".join(re.escape(word) for word in sorted(phrases_en.BUDGET, key=len, reverse=True))
    # after the colon of "cell:stand A" stands a name; "by hand" is the one word there that is ours
    return re.compile(rf"'[^']*'|: ?(?!by hand\b| ).*$|\b\w+_\w+\b|\b({words})\b|, ")
