"""The pocket calculation: a pull read off by hand, worked out at once. Its address holds what was typed."""

from __future__ import annotations

import re

from fastapi import APIRouter
from fastapi.responses import Response

from firstlift.core.errors import FirstliftError
from firstlift.core.result import Result
from firstlift.core.tolerance import KNOWN_CODES
from firstlift.core.units import UNITS, Kind, parse_quantity
from firstlift.core.valve import Medium
from firstlift.figures import Reading, draw_budget, draw_limits
from firstlift.usecases.quick import ByHand, assumed, calculate
from firstlift.web.here import HereNow
from firstlift.web.page import show
from firstlift.web.refusals import of_form
from firstlift.web.say import N_, _, speaker

router = APIRouter()
_BARE = re.compile(r"[+-]?\d[\d.,]*\s*")
_KIND_OF = {"line": Kind.PRESSURE, "pull": Kind.FORCE, "seat": Kind.LENGTH, "set": Kind.PRESSURE}
# the fields of the form, by the options that the command line has for them
LABELS = {
    "--line": N_("Line pressure"),
    "--pull": N_("Pull"),
    "--seat-diameter": N_("Mean seat diameter"),
    "--set": N_("Stamped set pressure"),
    "--code": N_("Judged by"),
    "--line-uncertainty": N_("uncertainty of the line pressure"),
    "--pull-uncertainty": N_("uncertainty of the pull"),
    "--seat-uncertainty": N_("uncertainty of the diameter"),
}


@router.get("/pocket")
def pocket_page(
    here: HereNow,
    line: str = "",
    pull: str = "",
    seat: str = "",
    set: str = "",
    code: str = "iso-4126-1",
    medium: str = "gas",
    u_line: str = "",
    u_pull: str = "",
    u_seat: str = "",
) -> Response:
    """Show the form, and where all is typed its answer."""
    typed = {
        "line": line,
        "pull": pull,
        "seat": seat,
        "set": set,
        "u_line": u_line,
        "u_pull": u_pull,
        "u_seat": u_seat,
    }
    # what is meant where only a number is typed
    meant = {key: here.units.meant(kind) for key, kind in _KIND_OF.items()}
    asked = {key: with_unit(text, meant[key.removeprefix("u_")]) for key, text in typed.items()}
    values: dict[str, object] = {"result": None, "problems": (), "figures": {}, "assumed": {}, "unit": "bar"}
    if all(asked[key] for key in ("line", "pull", "seat", "set")):
        hand = ByHand(
            line=asked["line"],
            pull=asked["pull"],
            set_pressure=asked["set"],
            code=code,
            seat_diameter=asked["seat"],
            u_line=asked["u_line"] or None,
            u_pull=asked["u_pull"] or None,
            u_seat=asked["u_seat"] or None,
            medium=medium if medium in tuple(Medium) else "gas",
        )
        try:
            values |= _answer(calculate(hand), asked["set"], here.unit) | {"assumed": assumed(hand)}
        except FirstliftError as error:
            values["problems"] = of_form(error.problems, LABELS)
    codes = tuple(known for known in KNOWN_CODES if known != "owner")
    return show(
        here,
        "pocket.html",
        asked=asked,
        code=code,
        medium=medium,
        codes=codes,
        media=tuple(Medium),
        kinds=_KIND_OF,
        meant=meant,
        status=422 if values["problems"] else 200,
        **values,
    )


def _answer(result: Result, stamped: str, chosen: str) -> dict[str, object]:
    quantity = parse_quantity(stamped, Kind.PRESSURE)
    unit = chosen or quantity.unit
    factor, pull, verdict = UNITS[unit].factor, result.pulls[0], result.verdict
    scale = ""
    if pull.set_pressure_pa is not None and verdict is not None:
        half = (pull.expanded_uncertainty_pa or 0.0) / factor
        reading = Reading(_("this pull"), pull.set_pressure_pa / factor, half, judged=True)
        limits = (verdict.lower_pa / factor, verdict.upper_pa / factor)
        scale = draw_limits(
            (reading,),
            lower=limits[0],
            upper=limits[1],
            stamped=quantity.si / factor,
            unit=unit,
            width=370.0,
            say=speaker(),
        )
    return {
        "result": result,
        "unit": unit,
        "figures": {"scale": scale, "budget": draw_budget(result.budget, width=370.0, say=speaker())},
    }


def with_unit(text: str, unit: str) -> str:
    """Give a typed value its unit where only a number was typed.

    Parameters
    ----------
    text, unit : str

    Returns
    -------
    str
    """
    plain = text.strip()[:60]
    return f"{plain} {unit}" if _BARE.fullmatch(plain) else plain
