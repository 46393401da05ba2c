"""Pages from templates: one environment, and how numbers, dates and signs are shown in it."""

from __future__ import annotations

import datetime as dt
import functools
from collections.abc import Mapping
from pathlib import Path
from typing import Any
from zoneinfo import ZoneInfo

from fastapi import Request
from fastapi.responses import HTMLResponse
from jinja2 import Environment, FileSystemLoader, StrictUndefined
from markupsafe import Markup

from firstlift import __version__, words
from firstlift.core.units import Quantity
from firstlift.web.here import Here
from firstlift.web.roles import May
from firstlift.words.numbers import (
    format_exact,
    format_force,
    format_length,
    format_pressure,
    format_probability,
    format_share,
    format_time,
    format_value,
)

LOOKS = {"": "as the device", "day": "day", "night": "night", "contrast": "high contrast"}
UNITS_OFFERED = ("", "bar", "kPa", "MPa", "psi")
PLACES = (
    ("/", "Today"),
    ("/visits", "Visits"),
    ("/register", "Register"),
    ("/papers", "Certificates"),
    ("/instruments", "Instruments"),
    ("/fleet", "Fleet"),
    ("/pocket", "Pocket"),
)


@functools.cache
def environment() -> Environment:
    """Give the templates; texts pass through gettext, English where no other language is there.

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
    made.install_null_translations(newstyle=True)  # type: ignore[attr-defined]  # added by the extension
    made.filters |= {
        "day": _day,
        "instant": _instant,
        "force": format_force,
        "metres": format_length,
        "seconds": format_time,
        "share": format_share,
        "probability": format_probability,
        "value": format_value,
        "svg": Markup,  # only ever given a figure of our own, whose words are escaped there
    }
    made.globals |= {"words": words, "May": May, "LOOKS": LOOKS, "PLACES": PLACES, "release": __version__}
    return made


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
        return format_pressure(pa, here.unit or unit, u_pa)

    def limit(pa: float, unit: str) -> str:
        return format_exact(pa, here.unit or unit)

    def plate(quantity: Quantity | str | None, si: float | None = None) -> str:
        """Show a nameplate's own text, and beside it the person's unit where that is another."""
        if quantity is None:
            return "–"
        if isinstance(quantity, str):
            return quantity
        other = here.unit and here.unit != quantity.unit
        return f"{quantity.text} ({format_value(quantity.si, here.unit)})" if other else quantity.text

    shown = {"here": here, "pressure": pressure, "limit": limit, "plate": plate, "look": here.look, **values}
    return HTMLResponse(environment().get_template(template).render(shown), status)


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
    return HTMLResponse(environment().get_template(template).render(shown), status)


def _day(day: dt.date | None) -> str:
    return "–" if day is None else f"{day.isoformat()}"


def _instant(at: dt.datetime | str | None, zone: str = "UTC") -> str:
    if at is None:
        return "–"
    instant = dt.datetime.fromisoformat(at) if isinstance(at, str) else at
    return instant.astimezone(ZoneInfo(zone)).strftime("%Y-%m-%d %H:%M")
