"""The words in other languages: gettext catalogues, read as they are, so that nothing has to be compiled.

English stands in the tables (`paper_en`, `phrases_en`, `sentences_en`); a catalogue holds for each key (``msgctxt``)
the English words it was made from (``msgid``) and what they are in its language. Where the English has changed since,
the old words no longer fit and English is printed; the tests find it.
"""

from __future__ import annotations

import functools
from collections.abc import Iterator, Mapping
from decimal import Decimal
from importlib import resources
from importlib.resources.abc import Traversable

from firstlift.core.errors import FirstliftError, Problem
from firstlift.words import adjust_en, hazard_en, interval_en, paper_en, phrases_en, plan_en, planning_en, sentences_en

# in the order they are offered; one is offered where its catalogue is there
LANGUAGES = ("en", "de", "fr", "es", "nl", "pl", "el", "ar", "zh")
RIGHT_TO_LEFT = frozenset({"ar"})
_DOMAIN = "firstlift.po"
# the tables of planning that stand on papers and pages, and what only the command line says
_PLANNING = (
    "stage", "hold", "event", "step", "part", "go", "likelihood", "category", "found", "question", "untold",
    "not-proven", "action", "away", "effect",
)  # fmt: skip
_COMMAND_LINE = ("system-", "plan-check-", "signature-")


def languages() -> tuple[str, ...]:
    """Give the languages that papers can be printed in.

    Returns
    -------
    tuple of str
        English first.
    """
    return tuple(name for name in LANGUAGES if name == "en" or _file(name) is not None)


def check_language(language: str) -> None:
    """Refuse a language that there are no words in.

    Parameters
    ----------
    language : str

    Raises
    ------
    FirstliftError
        WRD-002.
    """
    if language != "en" and language not in languages():
        raise FirstliftError(
            Problem(
                "WRD-002",
                f"there are no words in '{language}'",
                needed=f"one of {', '.join(languages())}",
            )
        )


def in_language(key: str, english: str, language: str) -> str:
    """Give the words of a key in a language.

    Parameters
    ----------
    key : str
        Such as "pulls.set", "phrase.verdict.within", "finding.stayed-open.title".
    english : str
        What it is in English.
    language : str

    Returns
    -------
    str
        English where the language has no words for it.

    Raises
    ------
    FirstliftError
        WRD-002 the language is not there.
    """
    if language == "en" or not english:
        return english
    return catalogue(language).get((key, english)) or english


@functools.cache
def catalogue(language: str) -> Mapping[tuple[str, str], str]:
    """Read a language's catalogue.

    Parameters
    ----------
    language : str

    Returns
    -------
    mapping of (key, English) to words

    Raises
    ------
    FirstliftError
        WRD-002 the language is not there.
    """
    check_language(language)
    from babel.messages.pofile import read_po

    found = _file(language)
    assert found is not None
    with found.open("rb") as file:
        messages = read_po(file, locale=language)
    return {
        (str(m.context), str(m.id)): str(m.string) for m in messages if m.id and m.context and m.string and not m.fuzzy
    }


@functools.cache
def _file(language: str) -> Traversable | None:
    found = resources.files("firstlift.words").joinpath("locale", language, "LC_MESSAGES", _DOMAIN)
    return found if found.is_file() else None


def plural(number: Decimal, language: str) -> str:
    """Give which form of a noun stands behind a number as it is written.

    Parameters
    ----------
    number : Decimal
        With the decimals that are printed: some languages say "1 year" but "1.0 years".
    language : str

    Returns
    -------
    str
        "one", "two", "few", "many", "zero" or "other" (Unicode's plural rules).
    """
    from babel import Locale

    return Locale.parse(language).plural_form(number)


@functools.cache
def plural_forms(language: str) -> tuple[str, ...]:
    """Give the forms of a noun that a language has for the numbers of papers: 0 to 1000, without or with a decimal.

    Parameters
    ----------
    language : str

    Returns
    -------
    tuple of str
    """
    numbers = (Decimal(number).scaleb(-shift) for number in range(1001) for shift in (0, 1))
    return tuple(sorted({plural(number, language) for number in numbers}))


def sources(language: str = "en") -> Iterator[tuple[str, str]]:
    """Give every key of papers and pages with its English: what a catalogue must hold.

    Parameters
    ----------
    language : str
        Languages differ in how many forms of a noun they have.

    Yields
    ------
    key, english : str
    """
    yield from ((key, words) for key, words in paper_en.WORDS.items() if words)
    for name, (one, other) in phrases_en.COUNTED.items():
        for form in plural_forms(language):
            yield f"count.{name}.{form}", one if form == "one" else other
    for table, phrases in phrases_en.TABLES.items():
        yield from ((f"phrase.{table}.{key}", words) for key, words in phrases.items())
    for table in _PLANNING:
        for key, words in planning_en.TABLES[table].items():
            if not key.startswith(_COMMAND_LINE):
                yield f"planning.{table}.{key}", words
    tables = (
        *(sentences_en.VALVE, sentences_en.SIGNALS, sentences_en.JUDGEMENT),
        *(plan_en.PLAN, interval_en.INTERVAL, adjust_en.ADJUST, hazard_en.HAZARD),
    )
    for said in tables:
        for code, row in said.items():
            if not code.startswith(_COMMAND_LINE):
                yield f"finding.{code}.title", row.title
                yield f"finding.{code}.message", row.message
                yield f"finding.{code}.advice", row.advice
