"""The phrases of planning: hold points, cards, next steps, and what an action is worth."""

from __future__ import annotations

from collections.abc import Mapping

from firstlift.core.errors import FirstliftError, Problem
from firstlift.core.plan.next import ActionValue, Next
from firstlift.words import numbers, planning_en
from firstlift.words.catalogue import check_language, in_language
from firstlift.words.fields import Value, fill
from firstlift.words.place import written_in


def phrase(table: str, code: str, *, language: str = "en") -> str:
    """Give the phrase of a code of planning.

    Parameters
    ----------
    table : str
        What kind of code it is: "hold", "step", "stage", "event", "next", "away" and so on.
    code : str
    language : str
        What only the command line says is English in every language.

    Returns
    -------
    str

    Raises
    ------
    FirstliftError
        WRD-002 the language is not there; WRD-003 there is no phrase for the code.
    """
    check_language(language)
    found = planning_en.TABLES[table].get(code)
    if found is None:
        known = ", ".join(planning_en.TABLES[table])
        raise FirstliftError(Problem("WRD-003", f"there is no phrase for '{code}'", needed=f"one of {known}"))
    return in_language(f"planning.{table}.{code}", found, language)


def sentence(
    table: str, code: str, parameters: Mapping[str, Value], *, language: str = "en", pressure_unit: str = "bar"
) -> str:
    """Give a hold point's or a step's sentence with its values.

    Parameters
    ----------
    table : str
        "hold" or "step".
    code : str
    parameters : mapping
        SI.
    language : str
    pressure_unit : str
        The nameplate's.

    Returns
    -------
    str

    Raises
    ------
    FirstliftError
        WRD-002 the language is not there; WRD-003 there is no phrase for the code.
    """
    with written_in(language):
        return fill(phrase(table, code, language=language), parameters, pressure_unit, language=language)


def next_line(following: Next, *, pressure_unit: str = "bar") -> str:
    """Give the one line on what to do next.

    Parameters
    ----------
    following : Next
    pressure_unit : str
        The nameplate's.

    Returns
    -------
    str
        "decided, stop", "raise the line by 0.6 bar: ...", "measure the seat: worth five pulls, ...".
    """
    template = phrase("next", following.advice)
    chosen = following.chosen
    if chosen is None:
        return template
    rise = chosen.raise_pa
    text = template.replace("{raise_pa}", "" if rise is None else numbers.format_short(rise, pressure_unit, digits=2))
    return f"{text}: {', '.join(_worth(chosen))}"


def _worth(action: ActionValue) -> list[str]:
    said = [f"decided with {numbers.format_probability(action.probability_decided)}"]
    if action.action != "one-more-pull":
        said.append(worth_in_pulls(action.worth_pulls))
    if not action.changes_verdict:
        said.append("the as-found verdict stays with the first loading")
    return said


def worth_in_pulls(pulls: float | None) -> str:
    """Say what an action is worth in further pulls.

    Parameters
    ----------
    pulls : float or None
        None where no number of pulls brings the same.

    Returns
    -------
    str
    """
    if pulls is None:
        return "more than any number of pulls brings"
    if pulls < 0.5:
        return "worth less than a pull"
    whole = round(pulls)
    return f"worth {whole} pull{'' if whole == 1 else 's'}"
