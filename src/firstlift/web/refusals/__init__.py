"""What a refusal says in the user's language, above its exact English detail.

A problem's own words (what, where, needed, next, with their figures) are English, as in docs/errors.md. Here each code
that the app can show has a sentence without figures, and where useful what to do next; both are texts of the app.

The command line's options are no way out for somebody in the app: where a problem names one, the field of the form is
named instead (`of_form`), and what to do next is what stands here.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace
from itertools import groupby

from firstlift.core.errors import Problem
from firstlift.web.refusals.app import THE_APP
from firstlift.web.refusals.planning import PLANNING
from firstlift.web.refusals.records import RECORDS
from firstlift.web.refusals.tests import TESTS
from firstlift.web.say import _, raw, whole_runs
from firstlift.words.place import language_here

# by code: what is wrong, and what to do next or ""
SAID = TESTS | RECORDS | PLANNING | THE_APP
_OPTION = re.compile(r"(?<![\w-])--[a-z][a-z-]*")
# what only the command line can do: its options, its commands, its saved mapping
_OF_COMMAND_LINE = re.compile(rf"{_OPTION.pattern}|\bfirstlift [a-z]|\bmapping\b")


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


def of_form(problems: Iterable[Problem], labels: Mapping[str, str]) -> tuple[Problem, ...]:
    """Name the fields of a form where problems name the options that the command line has for them.

    Parameters
    ----------
    problems : iterable of Problem
    labels : mapping of str to str
        By option ("--line"): the field's label, a text of the app.

    Returns
    -------
    tuple of Problem
    """

    def named(where: str) -> str:
        known = [labels[option] for option in _OPTION.findall(where) if option in labels]
        return ", ".join(known) or where

    return tuple(replace(problem, where=named(problem.where)) for problem in problems)


def in_the_app(problem: Problem) -> Problem:
    """Leave out of a problem what only the command line can do; what to do next is then what the app offers.

    Parameters
    ----------
    problem : Problem

    Returns
    -------
    Problem
        Its next step in English only: in other languages it stands above the detail.
    """
    said = {part: "" for part in ("where", "needed") if _OF_COMMAND_LINE.search(getattr(problem, part))}
    if _OF_COMMAND_LINE.search(problem.next):
        then = SAID.get(problem.code, ("", ""))[1]
        said["next"] = _said(then).removesuffix(".") if then and language_here() == "en" else ""
    return replace(problem, **said) if said else problem


def control(where: str) -> str:
    """Give where it was as the screen calls it, where that is a field's label; else as it stands.

    Parameters
    ----------
    where : str

    Returns
    -------
    str
    """
    return raw(where) if where else ""


def told(problems: Iterable[Problem]) -> list[Told]:
    """Put problems of one code that follow each other under one sentence.

    Parameters
    ----------
    problems : iterable of Problem

    Returns
    -------
    list of Told
    """
    shown = (in_the_app(problem) for problem in problems)
    return [Told(code, *headline(code), tuple(each)) for code, each in groupby(shown, key=lambda p: p.code)]
