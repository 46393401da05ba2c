"""Why a seat record serves or not, and what is to be said of a fit, in the language of whoever asks."""

from __future__ import annotations

import datetime as dt

from firstlift.core.seat.reason import Reason
from firstlift.web.say import N_, _, whole
from firstlift.web.terms import term
from firstlift.words.numbers import format_share
from firstlift.words.place import local, local_date

_REASONS = {
    # which record is in force
    "no-record-in-force": N_("No seat record serves on this day."),
    "only-record": N_("It is the only one found on this valve that serves; known to %(relative_u)s."),
    "smallest-uncertainty": N_("Of those found on this valve it is the least uncertain: known to %(relative_u)s."),
    "makers-figure-only": N_(
        "Nothing was found on this valve itself: the maker's figure serves, known to %(relative_u)s."
    ),
    # why another is not
    "not-yet": N_("It counts from %(from_date)s on."),
    "seat-overhauled-since": N_("The seat was made anew on %(overhaul_date)s: the one it describes is gone."),
    "said-wrong": N_("It was found to be wrong."),
    "instruments-not-known": N_("It serves only with the instruments that found it: %(needed)s."),
    "other-instruments": N_("It serves only with the instruments that found it, %(needed)s, not with %(used)s."),
    "later-of-same-source": N_("A later one of the same source, of %(later_date)s, takes its place."),
    "makers-figure-after-own": N_(
        "What was found on this valve goes before a maker's figure, which is of all of a kind."
    ),
    "less-certain": N_("It is less certain than the one in force: known to %(relative_u)s."),
    # what is doubtful
    "records-disagree": N_(
        "The record by %(source)s gives an area %(relative_difference)s apart, more than both uncertainties explain: "
        "one of the two is wrong, or of another seat."
    ),
    "found-from-pulls-of-that-day": N_(
        "It was found from pulls of that very day, which share its scatter: for them take the set pressure of the fit."
    ),
    # of a fit
    "scatter-exceeds-statement": N_(
        "The readings scatter %(birge_ratio)s times as far as stated: the uncertainty was widened by that."
    ),
    "temperature-not-stated": N_("Temperature was not noted: it must have been the same for all."),
    "friction-stays-in-set-pressure": N_("Friction of the valve leaves the area alone and stays in the set pressure."),
    "friction-taken-as-alike": N_("Friction is taken to be the same on line and on the bench."),
}

# the rule by which one is chosen, as docs/seat.md has it
RULE = (
    N_(
        "A record counts from its day on, until the seat is re-lapped, re-machined or renewed, or the record is found "
        "to be wrong."
    ),
    N_("An area found from pulls counts only with exactly the instruments that found it: it holds their errors."),
    N_("Of each source the latest counts; of one day the one with the smaller uncertainty."),
    N_("What was found on this valve goes before a maker's figure."),
    N_("Of those left, the one with the smallest relative uncertainty is in force."),
)


def say_reason(reason: Reason) -> str:
    """Say a reason in a sentence.

    Parameters
    ----------
    reason : Reason

    Returns
    -------
    str
    """
    told = {name: _value(name, value) for name, value in reason.parameters.items()}
    return _(_REASONS[reason.code], **told)


def _value(name: str, value: float | str) -> str:
    if name == "source":
        return term(value)
    if name.endswith("_date"):
        return whole(local_date(dt.date.fromisoformat(str(value)), short=True))
    if isinstance(value, str):
        return whole(value)
    if name.startswith("relative"):
        return whole(format_share(abs(value)))
    return whole(local(f"{value:.3g}"))
