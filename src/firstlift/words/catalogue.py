"""The words in other languages: gettext catalogues, read as they are, so that nothing has to be compiled.

English stands in the tables (`paper_en`, `phrases_en`, `sentences_en`); a catalogue holds for each key (``msgctxt``)
the English words it was made from (``msgid``) and what they are in its language. Where the English has changed since,
the old words no longer fit and English is printed; the tests find it.
"""

from __future__ import annotations

import functools
from collections.abc import Iterator, Mapping
from importlib import resources
from importlib.resources.abc import Traversable

from firstlift.core.errors import FirstliftError, Problem
from firstlift.words import paper_en, phrases_en, sentences_en

# in the order they are offered; one is offered where its catalogue is there
LANGUAGES = ("en", "de", "fr", "es", "nl", "pl", "el", "ar")
RIGHT_TO_LEFT = frozenset({"ar"})
_DOMAIN = "firstlift.po"
# the parts of the papers' words that a certificate is made of
_PARTS = frozenset(
    [
        "title",
        "state",
        "regime",
        "demo",
        "supersedes",
        "end",
        "page",
        "glance",
        "not-stated",
        "not-recorded",
        "none",
        "yes",
        "no",
        "on",
        "off",
        "pull",
        "to",
        "occasion",
        "valve",
        "instruments",
        "rule",
        "findings",
        "severity",
        "pulls",
        "states",
        "evidence",
        "channel",
        "budget",
        "method",
        "traces",
        "history",
        "figure",
        "not-proved",
        "cautions",
        "statement",
        "signatures",
    ]
)


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
        chinese = language.partition("_")[0].partition("-")[0] == "zh"
        raise FirstliftError(
            Problem(
                "WRD-002",
                f"there are no words in '{language}'",
                needed=f"one of {', '.join(languages())}",
                next="Chinese needs a font with its letters, and none comes with this program" if chinese else "",
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


def sources() -> Iterator[tuple[str, str]]:
    """Give every key of a certificate with its English: what each catalogue must hold.

    Yields
    ------
    key, english : str
    """
    yield from ((key, words) for key, words in paper_en.WORDS.items() if words and key.partition(".")[0] in _PARTS)
    for table, phrases in phrases_en.TABLES.items():
        yield from ((f"phrase.{table}.{key}", words) for key, words in phrases.items())
    for said in (sentences_en.VALVE, sentences_en.SIGNALS, sentences_en.JUDGEMENT):
        for code, row in said.items():
            yield f"finding.{code}.title", row.title
            yield f"finding.{code}.message", row.message
            yield f"finding.{code}.advice", row.advice
