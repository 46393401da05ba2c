"""How numbers and dates are written where a paper is read: the decimal mark, the date.

A paper is written in one place: everything printed inside ``with written_in("de")`` follows it, in this thread alone.
Values are rounded before (`firstlift.words.numbers`); here a mark is changed, never a digit.
"""

from __future__ import annotations

import datetime as dt
import functools
import re
from collections.abc import Iterator
from contextlib import contextmanager
from contextvars import ContextVar

_LANGUAGE: ContextVar[str] = ContextVar("language", default="en")
_POINT = re.compile(r"(?<=\d)\.(?=\d)")


@contextmanager
def written_in(language: str) -> Iterator[None]:
    """Write numbers and dates as a language does, inside the block.

    Parameters
    ----------
    language : str
        Such as "de"; "en" writes a decimal point and dates as 2026-05-14.
    """
    before = _LANGUAGE.set(language)
    try:
        yield
    finally:
        _LANGUAGE.reset(before)


def language_here() -> str:
    """Give the language of the place.

    Returns
    -------
    str
    """
    return _LANGUAGE.get()


def local(number: str) -> str:
    """Give a number with the decimal mark of the place; its digits stay the same.

    Parameters
    ----------
    number : str
        With a decimal point, and nothing but a number and its unit.

    Returns
    -------
    str
    """
    language = _LANGUAGE.get()
    return number if language == "en" else _POINT.sub(_decimal_mark(language), number)


@functools.cache
def _decimal_mark(language: str) -> str:
    from babel.numbers import get_decimal_symbol

    return get_decimal_symbol(language, numbering_system="latn")


def local_date(day: dt.date, *, short: bool = False) -> str:
    """Give a date as the place writes it, the month in words, so that day and month are never mixed up.

    Parameters
    ----------
    day : date
    short : bool
        With the month cut short, for the column of a table.

    Returns
    -------
    str
        "2026-05-14" in English, "14. Mai 2026" in German.
    """
    language = _LANGUAGE.get()
    if language == "en":
        return day.isoformat()
    from babel.dates import format_date, format_skeleton

    said = format_skeleton("yMMMd", day, locale=language) if short else format_date(day, "long", locale=language)
    # marks that steer the direction are for plain text; the page sets the direction itself
    return said.replace("\u200f", "").replace("\u200e", "")
