"""Parts that several papers share: the frame of a paper, dates of a visit, values as they are printed."""

from __future__ import annotations

import datetime as dt
import functools
from collections.abc import Mapping, Sequence
from zoneinfo import ZoneInfo

from firstlift.certificate.model import Signatures
from firstlift.certificate.page import DEMO_OWNER
from firstlift.certificate.papers.facts import Hung, Printing, VisitFacts
from firstlift.certificate.papers.model import JobPaper, Sheet
from firstlift.core.register.choose import search_key
from firstlift.core.register.places import Owner
from firstlift.core.register.work import HowTested, ValveTest
from firstlift.words.catalogue import RIGHT_TO_LEFT
from firstlift.words.numbers import format_pressure, format_value
from firstlift.words.paper import Speaker
from firstlift.words.place import local_date

_INVENTED = "invented"


def is_invented(owner: Owner) -> bool:
    """Say whether an owner is an invented one, whose papers are marked so.

    Parameters
    ----------
    owner : Owner

    Returns
    -------
    bool
    """
    told = search_key(f"{owner.name} {owner.note}")
    return search_key(DEMO_OWNER) in told or _INVENTED in told


def paper_of(
    title: str, subject: str, foot: str, sheets: Sequence[Sheet], printing: Printing, *, invented: bool, say: Speaker
) -> JobPaper:
    """Give the frame of a paper around its sheets.

    Parameters
    ----------
    title, subject, foot : str
    sheets : sequence of Sheet
    printing : Printing
    invented : bool
    say : Speaker

    Returns
    -------
    JobPaper
    """
    settings = printing.settings
    return JobPaper(
        title=title,
        subject=subject,
        issuer=settings.issuer,
        release=printing.release,
        demo=say("demo") if invented else "",
        draft=say("state.draft-note") if printing.draft else "",
        watermark=say("state.draft") if printing.draft else "",
        paper="a4" if settings.paper == "a4" else "us-letter",
        language=settings.language,
        direction="rtl" if settings.language in RIGHT_TO_LEFT else "ltr",
        logo=settings.logo_format if settings.logo else "",
        day=printing.day,
        printed=local_date(printing.day),
        foot=foot,
        words=_words(say),
        sheets=tuple(sheets),
    )


def _words(say: Speaker) -> Mapping[str, str]:
    return {
        "page": say("page.count", page="{page}", pages="{pages}"),
        "logo": say("page.logo"),
        "to-do": say("job.to-do"),
        "sentence": say("job.sentence", words="{words}"),
    }


def subject_of(facts: VisitFacts) -> str:
    """Give a visit in a line.

    Parameters
    ----------
    facts : VisitFacts

    Returns
    -------
    str
    """
    return f"{facts.visit.name} · {facts.site.name} · {facts.owner.name}"


def days_of(facts: VisitFacts, say: Speaker) -> str:
    """Give the days of a visit.

    Parameters
    ----------
    facts : VisitFacts
    say : Speaker

    Returns
    -------
    str
    """
    first, last = facts.visit.start, facts.visit.finish
    if last is None or last == first:
        return local_date(first)
    return say("job.from-to", first=local_date(first), last=local_date(last))


def beside_of(hung: Hung, facts: VisitFacts) -> tuple[str, ...]:
    """Give what stands beside a valve's title: where it hangs.

    Parameters
    ----------
    hung : Hung
    facts : VisitFacts

    Returns
    -------
    tuple of str
    """
    return tuple(filter(None, (facts.site.name, hung.place, hung.valve.serial)))


def set_of(hung: Hung) -> str:
    """Give the stamped set pressure as the nameplate has it."""
    return hung.valve.set_pressure.text


def value_of(test: ValveTest, unit: str, say: Speaker) -> str:
    """Give what a test found, in a line.

    Parameters
    ----------
    test : ValveTest
    unit : str
        The nameplate's.
    say : Speaker

    Returns
    -------
    str
    """
    if test.kind is HowTested.BENCH and test.bench is not None and test.bench.pop_pa is not None:
        return say("visit.bench", value=format_pressure(test.bench.pop_pa, unit, _twice(test.bench.u_pop_pa)))
    if test.set_pressure_pa is not None:
        return format_pressure(test.set_pressure_pa, unit, test.expanded_uncertainty_pa)
    if test.lower_bound_pa is not None:
        return say("nonconformity.above-bound", bound=format_value(test.lower_bound_pa, unit))
    return say("job.no-value")


def inside(words: str) -> str:
    """Give words that begin a line as they stand inside one: with a small first letter."""
    return words[:1].lower() + words[1:]


def in_a_row(parts: Sequence[str], say: Speaker) -> str:
    """Give parts of a sentence as one."""
    return say(
        "job.sentence", words=functools.reduce(lambda first, then: say("job.then", first=first, then=then), parts)
    )


def _twice(u_pa: float | None) -> float | None:
    # a bench states a standard uncertainty; papers print the expanded one
    return None if u_pa is None else 2.0 * u_pa


def clock_of(at: dt.datetime, zone: str) -> dt.datetime:
    """Give an instant by the clock of its place.

    Parameters
    ----------
    at : datetime
    zone : str
        IANA name.

    Returns
    -------
    datetime
    """
    try:
        return at.astimezone(ZoneInfo(zone))
    except (KeyError, ValueError, OSError):
        return at


def signatures(say: Speaker, *roles: str) -> Signatures:
    """Give places to sign: name, date and time, signature."""
    return Signatures(roles, (say("job.name"), say("job.date-time"), say("signatures.signature")))
