"""What a refusal says in the user's language, above its exact English detail.

A problem's own words (what, where, needed, next, with their figures) are English, as in docs/errors.md. Here each code
that the app can show has a sentence without figures, and where useful what to do next; both are texts of the app.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from itertools import groupby

from firstlift.core.errors import Problem
from firstlift.web.refusals.app import THE_APP
from firstlift.web.refusals.planning import PLANNING
from firstlift.web.refusals.records import RECORDS
from firstlift.web.refusals.tests import TESTS
from firstlift.web.say import _, whole_runs
from firstlift.words.place import language_here

# by code: what is wrong, and what to do next or ""
SAID = TESTS | RECORDS | PLANNING | THE_APP


@dataclass(frozen=True, slots=True)
class Told:
    """Problems of one code, told once.

    ``headline`` and ``next`` are in the language of the place; "" in English, where the detail says it all.
    """

    code: str
    headline: str
    next: str
    problems: tuple[Problem, ...]


def headline(code: str) -> tuple[str, str]:
    """Give what is wrong and what to do next, in the language of the place.

    Parameters
    ----------
    code : str
        A problem's.

    Returns
    -------
    (str, str)
        "" for what is not said: both in English, where the detail says it better.
    """
    wrong, then = SAID.get(code, ("", ""))
    if language_here() == "en" or not wrong:
        return "", ""
    return _said(wrong), _said(then) if then else ""


def _said(text: str) -> str:
    return whole_runs(_(text))


def told(problems: Iterable[Problem]) -> list[Told]:
    """Put problems of one code that follow each other under one sentence.

    Parameters
    ----------
    problems : iterable of Problem

    Returns
    -------
    list of Told
    """
    return [Told(code, *headline(code), tuple(each)) for code, each in groupby(problems, key=lambda p: p.code)]
