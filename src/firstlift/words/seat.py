"""Why a seat record is in force or not, and what is to be said of a fitted area: reasons become sentences here."""

from __future__ import annotations

from firstlift.core.errors import FirstliftError, Problem
from firstlift.core.seat.choose import Choice
from firstlift.core.seat.reason import Reason
from firstlift.words.numbers import format_force, format_share, format_short

SOURCES = {
    "measured": "measured on the valve",
    "maker": "maker's figure",
    "two-line-pressures": "pulls at several line pressures",
    "bench-correlation": "paired bench and on-line results",
}

SENTENCES = {
    # which record is in force
    "no-record-in-force": "no seat record serves on this date",
    "only-record": "{source} of {date}: the only record found on this valve that serves, known to {relative_u}",
    "smallest-uncertainty": "{source} of {date}: of the records that serve the least uncertain, known to {relative_u}",
    "makers-figure-only": "{source} of {date}: nothing was found on this valve itself; known to {relative_u}",
    "not-yet": "counts from {from_date} on",
    "seat-overhauled-since": "the seat was re-lapped or re-machined on {overhaul_date}: that one is gone",
    "said-wrong": "it was found to be wrong",
    "instruments-not-known": "serves only with the instruments that found it: {needed}",
    "other-instruments": "serves only with the instruments that found it, {needed}, not with {used}",
    "later-of-same-source": "a later one of the same source, of {later_date}, takes its place",
    "makers-figure-after-own": "what was found on this valve goes before a maker's figure, which is of all of a kind",
    "less-certain": "less certain: known to {relative_u}",
    "records-disagree": "{source} says an area {relative_difference} apart, more than both uncertainties explain: "
    "one of the two is wrong, or of another seat",
    "found-from-pulls-of-that-day": "found that day, by {source}: pulls that went into it share its scatter, so that "
    "their uncertainty is larger than stated; take the set pressure of the fit for them",
    # what is to be said of a fit
    "scatter-exceeds-statement": "the readings scatter {birge_ratio} times as far as stated: widened by that",
    "temperature-not-stated": "temperature was not noted for {readings} of the readings: they must have been alike",
    "friction-stays-in-set-pressure": "friction of the valve leaves the area alone and stays in the set pressure",
    "friction-taken-as-alike": "friction is taken to be the same on line and on the bench",
}


def say_reason(reason: Reason) -> str:
    """Say a reason in a sentence without its full stop.

    Parameters
    ----------
    reason : Reason

    Returns
    -------
    str

    Raises
    ------
    FirstliftError
        WRD-001 there is no sentence for it.
    """
    if reason.code not in SENTENCES:
        raise FirstliftError(Problem("WRD-001", f"there is no sentence for '{reason.code}'"))
    told = {name: _say(name, value) for name, value in reason.parameters.items()}
    sentence = SENTENCES[reason.code].format(**told)
    if "friction_n" in reason.parameters:
        sentence += f", raised there by {told['set_pressure_raised_by_pa']} at {told['friction_n']}"
    return sentence


def say_choice(choice: Choice) -> list[str]:
    """Say which seat record is in force and why, and what is doubtful about it.

    Parameters
    ----------
    choice : Choice

    Returns
    -------
    list of str
        A line each.
    """
    return [
        f"seat in force: {say_reason(choice.reason)}",
        *(f"seat doubtful: {say_reason(doubt)}" for doubt in choice.doubts),
    ]


def _say(name: str, value: float | str) -> str:
    if name == "source":
        return SOURCES.get(str(value), str(value))
    if isinstance(value, str):
        return value
    if name.startswith("relative"):
        return format_share(value)
    if name.endswith("_pa"):
        return format_short(value, "bar")
    if name.endswith("_n"):
        return format_force(value)
    return f"{value:.3g}"
