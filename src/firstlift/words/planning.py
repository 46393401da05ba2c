"""The phrases of planning: hold points, cards, next steps, and what an action is worth."""

from __future__ import annotations

from collections.abc import Mapping

from firstlift.core.errors import FirstliftError, Problem
from firstlift.core.plan.next import ActionValue, Next
from firstlift.words import numbers, planning_en
from firstlift.words.fields import Value, fill

_TABLES: Mapping[str, Mapping[str, str]] = {
    "not-proven": planning_en.NOT_PROVEN,
    "stage": planning_en.STAGE,
    "hold": planning_en.HOLD,
    "event": planning_en.EVENT,
    "step": planning_en.STEP,
    "next": planning_en.NEXT,
    "action": planning_en.ACTION,
    "away": planning_en.AWAY,
    "part": planning_en.PART,
    "go": planning_en.GO,
    "likelihood": planning_en.LIKELIHOOD,
    "direction": planning_en.DIRECTION,
    "effect": planning_en.EFFECT,
    "category": planning_en.CATEGORY,
    "suggestion": planning_en.SUGGESTION,
}


def phrase(table: str, code: str, *, language: str = "en") -> str:
    """Give the phrase of a code of planning.

    Parameters
    ----------
    table : str
        What kind of code it is: "hold", "step", "stage", "event", "next", "away" and so on.
    code : str
    language : str
        Only "en" so far.

    Returns
    -------
    str

    Raises
    ------
    FirstliftError
        WRD-002 the language is not there; WRD-003 there is no phrase for the code.
    """
    if language != "en":
        raise FirstliftError(Problem("WRD-002", f"there are no words in '{language}'", needed="'en'"))
    found = _TABLES[table].get(code)
    if found is None:
        known = ", ".join(_TABLES[table])
        raise FirstliftError(Problem("WRD-003", f"there is no phrase for '{code}'", needed=f"one of {known}"))
    return found


def sentence(table: str, code: str, parameters: Mapping[str, Value], *, pressure_unit: str = "bar") -> str:
    """Give a hold point's or a step's sentence with its values.

    Parameters
    ----------
    table : str
        "hold" or "step".
    code : str
    parameters : mapping
        SI.
    pressure_unit : str
        The nameplate's.

    Returns
    -------
    str

    Raises
    ------
    FirstliftError
        WRD-003 there is no phrase for the code.
    """
    return fill(phrase(table, code), parameters, pressure_unit)


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
