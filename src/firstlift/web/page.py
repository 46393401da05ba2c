"""Pages from templates: one environment, and how numbers, dates and signs are shown in it."""

from __future__ import annotations

import datetime as dt
import functools
import re
from collections.abc import Callable, Iterable, Mapping
from pathlib import Path
from typing import Any
from zoneinfo import ZoneInfo

from fastapi import Request
from fastapi.responses import HTMLResponse
from jinja2 import Environment, FileSystemLoader, StrictUndefined, pass_context
from jinja2.runtime import Context
from markupsafe import Markup

from firstlift import __version__
from firstlift.core.units import Quantity
from firstlift.usecases.register.place import now
from firstlift.web import say
from firstlift.web.field_names import choice_name, field_name
from firstlift.web.here import Here, language_outside
from firstlift.web.refusals import control, told
from firstlift.web.roles import May
from firstlift.web.say import N_, whole
from firstlift.web.sheet_words import sheet_says
from firstlift.web.terms import term
from firstlift.web.trace_words import trace_words
from firstlift.web.units import Units, converted
from firstlift.words.numbers import (
    format_exact,
    format_pressure,
    format_probability,
    format_share,
    format_time,
    format_value,
)
from firstlift.words.place import language_here, local, local_date, written_in

LOOKS = {"": N_("as the device"), "day": N_("day"), "night": N_("night"), "contrast": N_("high contrast")}
PLACES = (
    ("/", N_("Today")),
    ("/visits", N_("Visits")),
    ("/register", N_("Register")),
    ("/papers", N_("Certificates")),
    ("/verify", N_("Verify")),
    ("/instruments", N_("Instruments")),
    ("/fleet", N_("Fleet")),
    ("/pocket", N_("Pocket")),
)


@functools.cache
def environment() -> Environment:
    """Give the templates; their texts pass through gettext, in the language of the place where a page is made.

    Returns
    -------
    Environment
    """
    made = Environment(
        loader=FileSystemLoader(Path(__file__).parent / "templates"),
        autoescape=True,
        undefined=StrictUndefined,
        extensions=["jinja2.ext.i18n"],
        trim_blocks=True,
        lstrip_blocks=True,
    )
    made.install_gettext_callables(  # type: ignore[attr-defined]  # added by the extension
        say.raw, say.raw_many, newstyle=True, pgettext=say.raw_in, npgettext=say.raw_many_in
    )
    made.filters |= {
        "day": _day,
        "instant": _instant,
        "force": _force,
        "metres": _metres,
        "seconds": _whole(format_time),
        "share": _whole(format_share),
        "probability": _whole(format_probability),
        "value": _whole(format_value),
        "number": lambda number, pattern: whole(local(pattern % number)),
        "whole": _each_time(whole),
        "digits": _digits,
        "lined": _lined,
        "term": _each_time(term),
        "field_name": _each_time(field_name),
        "sheet_says": _each_time(sheet_says),
        "control": _each_time(control),
        "svg": Markup,  # only ever given a figure of our own, whose words are escaped there
    }
    made.globals |= {
        "words": say.words,
        "weekday": say.weekday,
        "comma": say.comma,
        "semicolon": say.semicolon,
        "colon": say.colon,
        "stop": say.stop,
        "trace_words": trace_words,
        "told": told,
        "language_here": language_here,
        "choice_name": choice_name,
        "May": May,
        "LOOKS": LOOKS,
        "PLACES": PLACES,
        "LANGUAGES": say.NAMES,
        "release": __version__,
        "now": now,
        "converted": _whole(converted),
    }
    return made


@pass_context
def _force(context: Context, n: float | None) -> str:
    """Show a force in the unit of whoever looks."""
    return whole(_units(context).show_force(n))


@pass_context
def _metres(context: Context, m: float | None) -> str:
    """Show a small length in the unit of whoever looks."""
    return whole(_units(context).show_length(m))


def _units(context: Context) -> Units:
    somebody: Here | None = context.get("here")
    return Units() if somebody is None else somebody.units


_NUMBER = re.compile(r"[−-]?\d+")
_FIGURE_SPACE = "\u2007"


def _digits(texts: Iterable[str | None]) -> int:
    """Give the most digits before the decimal mark among texts that begin with a number."""
    return max((len(found[0]) for text in texts if text and (found := _NUMBER.search(text))), default=0)


def _lined(text: str, digits: int) -> str:
    """Set a number off so that the decimal marks of a column stand below one another."""
    found = _NUMBER.search(text)
    if found is None:
        return text
    # a blank as broad as a digit; inside the marks that keep the number running to the right
    return f"{text[: found.start()]}{_FIGURE_SPACE * (digits - len(found[0]))}{text[found.start() :]}"


def _each_time(function: Callable[..., str]) -> Callable[..., str]:
    """Have a filter asked each time: of a word that stands in a template the first answer would be kept for all."""

    @pass_context
    def asked(_: Context, *values: Any) -> str:
        return function(*values)

    return asked


def _whole(function: Callable[..., str]) -> Callable[..., str]:
    return lambda *values, **more: whole(function(*values, **more))


def show(here: Here, template: str, *, status: int = 200, **values: Any) -> HTMLResponse:
    """Show a page to somebody who works here.

    Parameters
    ----------
    here : Here
    template : str
    status : int
    **values : Any

    Returns
    -------
    HTMLResponse
    """

    def pressure(pa: float | None, unit: str, u_pa: float | None = None) -> str:
        return whole(format_pressure(pa, here.unit or unit, u_pa))

    def lined_up(values_pa: Iterable[float | None], unit: str) -> int:
        return _digits(pressure(pa, unit) for pa in values_pa)

    def limit(pa: float, unit: str) -> str:
        return whole(format_exact(pa, here.unit or unit))

    def plate(quantity: Quantity | str | None, si: float | None = None) -> str:
        """Show a nameplate's own text, and beside it the person's unit where that is another."""
        if quantity is None:
            return "–"
        if isinstance(quantity, str):
            return whole(quantity)
        # what is stamped stays as it is stamped, whatever decimal mark the language has
        other = here.unit and here.unit != quantity.unit
        return whole(f"{quantity.text} ({format_value(quantity.si, here.unit)})" if other else quantity.text)

    shown = {
        "here": here,
        "pressure": pressure,
        "lined_up": lined_up,
        "limit": limit,
        "plate": plate,
        "look": here.look,
        **values,
    }
    return _rendered(template, here.language, status, shown)


def _rendered(template: str, language: str, status: int, values: Mapping[str, Any]) -> HTMLResponse:
    with written_in(language):
        text = environment().get_template(template).render(values, language=language, direction=say.direction(language))
    return HTMLResponse(text, status)


def show_outside(request: Request, template: str, *, status: int = 200, **values: Any) -> HTMLResponse:
    """Show a page to somebody not known yet.

    Parameters
    ----------
    request : Request
    template : str
    status : int
    **values : Any

    Returns
    -------
    HTMLResponse
    """
    shown: Mapping[str, Any] = {"here": None, "look": "", "invented": request.app.state.settings.invented, **values}
    return _rendered(template, language_outside(request), status, shown)


def _day(day: dt.date | None) -> str:
    return "–" if day is None else local_date(day, short=True)


def _instant(at: dt.datetime | str | None, zone: str = "UTC") -> str:
    if at is None:
        return "–"
    instant = dt.datetime.fromisoformat(at) if isinstance(at, str) else at
    there = instant.astimezone(ZoneInfo(zone))
    return f"{local_date(there.date(), short=True)} {there:%H:%M}"
