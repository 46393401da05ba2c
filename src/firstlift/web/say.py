"""What the app says, in the language of whoever asks: gettext catalogues, read as they are.

English stands where it is used, marked by ``_``; a language's catalogue lies beside that of the papers. A text that a
language lacks is said in English; the tests find it. The language is that of the place (`firstlift.words.place`).
"""

from __future__ import annotations

import datetime as dt
import functools
import io
import re
from collections.abc import Callable
from gettext import GNUTranslations, NullTranslations
from importlib import resources
from types import SimpleNamespace
from typing import Any

from firstlift import words as papers_words
from firstlift.words.catalogue import RIGHT_TO_LEFT
from firstlift.words.paper import Speaker
from firstlift.words.place import language_here
from firstlift.words.planning import phrase as _phrase
from firstlift.words.planning import sentence as _sentence

DOMAIN = "firstlift-app.po"
# each in its own language, so that everybody finds theirs
NAMES = {
    "en": "English",
    "de": "Deutsch",
    "fr": "Français",
    "es": "Español",
    "nl": "Nederlands",
    "pl": "Polski",
    "el": "Ελληνικά",
    "ar": "العربية",
    "zh": "中文",
}
_RUN = re.compile(
    r"(?:[<>±−+×][ \u00a0]?)?[^\W_\u0590-\u08ff]"
    r"(?:[^\u0590-\u08ff()\[\];،؛»«\u2066\u2069]*(?:[^\W_\u0590-\u08ff]|[%°²³…]))?"
)
_QUALITY = re.compile(r";\s*q\s*=\s*(\d(?:\.\d{0,3})?)\s*$")


@functools.cache
def translations(language: str) -> NullTranslations:
    """Read a language's catalogue of the app.

    Parameters
    ----------
    language : str

    Returns
    -------
    NullTranslations
        English itself where there is no catalogue.
    """
    found = resources.files("firstlift.words").joinpath("locale", language, "LC_MESSAGES", DOMAIN)
    if not found.is_file():
        return NullTranslations()
    # the standard library chooses plurals and contexts; it reads the compiled form only
    from babel.messages.mofile import write_mo
    from babel.messages.pofile import read_po

    compiled = io.BytesIO()
    with found.open("rb") as file:
        write_mo(compiled, read_po(file, locale=language))
    compiled.seek(0)
    return GNUTranslations(compiled)


def _(text: str, **values: object) -> str:
    """Say a text in the language of the place, its values filled in: ``%(name)s``; a per cent sign is ``%%``."""
    return raw(text) % values


def ngettext(one: str, many: str, n: int, **values: object) -> str:
    """Say a text that depends on a number, which is filled in as ``%(num)s``."""
    return raw_many(one, many, n) % {"num": n, **values}


def N_(text: str) -> str:  # noqa: N802  gettext's own name
    """Mark a text that is said elsewhere."""
    return text


def raw(text: str) -> str:
    """Give a text's words in the language of the place, values not filled in."""
    return translations(language_here()).gettext(text)


def raw_many(one: str, many: str, n: int) -> str:
    """Give the words for a number in the language of the place, values not filled in."""
    return translations(language_here()).ngettext(one, many, n)


def raw_in(context: str, text: str) -> str:
    """Give a text's words where they mean what the context says."""
    return translations(language_here()).pgettext(context, text)


def raw_many_in(context: str, one: str, many: str, n: int) -> str:
    """Give the words for a number where they mean what the context says."""
    return translations(language_here()).npgettext(context, one, many, n)


def speaker() -> Speaker:
    """Give who speaks in figures.

    Returns
    -------
    Speaker
    """
    return Speaker(language_here())


def comma() -> str:
    """Give what stands between things that are listed."""
    return _(", ")


def semicolon() -> str:
    """Give what stands between two things that are said of one."""
    return _("; ")


def colon() -> str:
    """Give what stands between a thing and what is said of it."""
    return _(": ")


def stop() -> str:
    """Give what ends a sentence."""
    return _(".")


def direction(language: str) -> str:
    """Give which way a language is written.

    Parameters
    ----------
    language : str

    Returns
    -------
    str
        "ltr" or "rtl".
    """
    return "rtl" if language in RIGHT_TO_LEFT else "ltr"


def whole(text: str) -> str:
    """Keep a number with its sign and unit, or a name, running to the right where writing runs to the left.

    Parameters
    ----------
    text : str

    Returns
    -------
    str
    """
    return f"\u2066{text}\u2069" if language_here() in RIGHT_TO_LEFT else text


def whole_runs(text: str) -> str:
    """Keep every number and name inside a sentence running to the right where writing runs to the left.

    Parameters
    ----------
    text : str

    Returns
    -------
    str
    """
    if language_here() not in RIGHT_TO_LEFT:
        return text
    return _RUN.sub(lambda run: whole(run.group()), text)


def _spoken(function: Callable[..., str]) -> Callable[..., str]:
    @functools.wraps(function)
    def said(*values: Any, **more: Any) -> str:
        return whole_runs(function(*values, language=language_here(), **more))

    return said


# the words of findings, verdicts and channels as the papers have them, in the language of the place
words = SimpleNamespace(**{name: _spoken(getattr(papers_words, name)) for name in papers_words.__all__})
phrase, sentence = _spoken(_phrase), _spoken(_sentence)


def lower_first(text: str) -> str:
    """Let a phrase go on in the middle of a line; German keeps its nouns' capitals.

    Parameters
    ----------
    text : str

    Returns
    -------
    str
    """
    return text if language_here() == "de" else text[:1].lower() + text[1:]


def weekday(day: dt.date) -> str:
    """Give the day's name.

    Parameters
    ----------
    day : date

    Returns
    -------
    str
    """
    language = language_here()
    if language == "en":
        return day.strftime("%A")
    from babel.dates import format_date

    return format_date(day, "EEEE", locale=language)


def wanted_language(accepted: str) -> str:
    """Choose a language from what a browser says it accepts.

    Parameters
    ----------
    accepted : str
        The header, such as "de-AT,de;q=0.9,en;q=0.5".

    Returns
    -------
    str
        English where none of ours is wanted.
    """
    best, weight = "en", 0.0
    for part in accepted[:500].split(","):
        quality = _QUALITY.search(part)
        wanted = float(quality.group(1)) if quality else 1.0
        name = part.partition(";")[0].strip().casefold().partition("-")[0]
        if name in NAMES and wanted > weight:
            best, weight = name, wanted
    return best
