"""Before a pull: the plan and the hazard sheet of a valve. Their addresses hold what was typed; both print clean."""

from __future__ import annotations

import math
import re
from pathlib import Path
from typing import Annotated, Any

from fastapi import APIRouter, Query
from fastapi.responses import Response

from firstlift.core.errors import FirstliftError, Problem
from firstlift.core.plan.applies import QUESTIONS
from firstlift.core.register.equipment import Installation, RegisteredValve
from firstlift.core.register.places import Position
from firstlift.store.read import Reader
from firstlift.usecases.hazard import HazardAsked, make_hazard_sheet
from firstlift.usecases.plan import PlanAsked, Planned, plan_jobsheet
from firstlift.usecases.plan_figures import draw_plan_envelope, draw_plan_map
from firstlift.web.here import HereNow
from firstlift.web.lists import identifier, instrument_states, today
from firstlift.web.page import show
from firstlift.web.pages.pocket import with_unit
from firstlift.web.planned import planned_sheet, usual_instruments
from firstlift.web.refusals import of_form
from firstlift.web.say import N_, _, phrase, sentence, speaker, whole
from firstlift.words.numbers import format_short

router = APIRouter()
Many = Annotated[list[str] | None, Query()]
_TYPED = {
    "bore": (N_("least bore"), "mm", "28 mm"),
    "outlet": (N_("outlet pipe, inside"), "mm", "102 mm"),
    "fluid": (N_("pure fluid by name"), "", "Methane"),
    "temperature": (N_("temperature before the valve"), "degC", "20 degC"),
    "molar_mass": (N_("molar mass, g/mol"), "", "18.2"),
    "heat_ratio": (N_("ratio of specific heats"), "", "1.3"),
    "density": (N_("density of a liquid, kg/m3"), "", "998"),
    "vapour_pressure": (N_("vapour pressure, gauge"), "bar", "-0.98 bar"),
    "coefficient": (N_("certified discharge coefficient"), "", "0.9"),
}
# the fields of each form, by the options that the command line has for them
HAZARD_LABELS = {f"--{key.replace('_', '-')}": label for key, (label, _unit, _example) in _TYPED.items()}
PLAN_LABELS = {
    "--line": N_("Line pressure at the pull"),
    "--frame-limit": N_("The frame bears"),
    "--answer": N_("What only a look at the valve tells"),
}


def _place(reader: Reader, valve_id: str) -> tuple[RegisteredValve, Position | None]:
    valve = reader.get(RegisteredValve, identifier(valve_id))
    hung = reader.list(Installation, valve_id=valve.id, until=None)
    return valve, reader.get(Position, hung[0].position_id) if hung else None


@router.get("/valves/{valve_id}/plan")
def plan_page(
    here: HereNow, valve_id: str, line: str = "", frame: str = "", use: Many = None, answer: Many = None
) -> Response:
    """Plan a pull: does the method apply, is it safe, can it decide; what to confirm, what to do if it goes wrong."""
    on = today()
    planned: Planned | None = None
    problems: tuple[Problem, ...] = ()
    with here.store.read() as reader:
        valve, position = _place(reader, valve_id)
        states = instrument_states(reader, on)
        serials = use or usual_instruments(reader, valve.id, states)
        unit = here.unit or valve.set_pressure.unit
        runs = position.operating_pressure.text if position and position.operating_pressure else ""
        asked = {"line": with_unit(line, unit) or runs, "frame": with_unit(frame, "kN")}
        answers = tuple(one for one in answer or () if one.partition("=")[2])
        try:
            with planned_sheet(reader, valve, states, serials, on) as sheet:
                planned = plan_jobsheet(
                    PlanAsked(sheet, line=asked["line"] or None, frame_limit=asked["frame"] or None, answers=answers)
                )
        except FirstliftError as error:
            problems = of_form(error.problems, PLAN_LABELS)
    shown: dict[str, Any] = {"planned": planned, "problems": problems, "states": states, "serials": serials}
    shown |= {"questions": QUESTIONS, "ask_codes": tuple(question.ask for question in QUESTIONS)}
    if planned is not None:
        size = {"width": 380.0, "height": 250.0}
        envelope = draw_plan_envelope(planned, force_unit=here.units.force, say=speaker(), **size)
        shown |= {"envelope": envelope, "map": draw_plan_map(planned, say=speaker(), **size)}
    said = {"phrase": phrase, "sentence": sentence, "short": format_short, "unit": unit}
    return show(
        here,
        "plan.html",
        status=422 if problems and line else 200,
        valve=valve,
        position=position,
        asked=asked,
        answers=dict(one.split("=", 1) for one in answers),
        today=on,
        **shown,
        **said,
    )


@router.get("/valves/{valve_id}/hazard")
def hazard_page(here: HereNow, valve_id: str) -> Response:
    """Show what may happen if the valve opens fully."""
    on, query = today(), here.request.query_params
    typed = {key: with_unit(query.get(key, ""), unit) for key, (_label, unit, _example) in _TYPED.items()}
    closed, hazards = bool(query.get("closed")), query.get("hazards", "")[:300]
    entered = tuple(part.strip() for part in re.split("[;؛；]", hazards) if part.strip())
    made, problems = None, ()
    with here.store.read() as reader:
        valve, position = _place(reader, valve_id)
        states = instrument_states(reader, on)
        if typed["bore"]:
            try:
                with planned_sheet(reader, valve, states, usual_instruments(reader, valve.id, states), on) as sheet:
                    made = make_hazard_sheet(_asked(sheet, typed, entered, closed=closed))
            except FirstliftError as error:
                problems = of_form(error.problems, HAZARD_LABELS)
    return show(
        here,
        "hazard.html",
        status=422 if problems else 200,
        valve=valve,
        position=position,
        fields=_TYPED,
        typed=typed,
        closed=closed,
        hazards=hazards,
        away=_away,
        made=made,
        problems=problems,
        unit=here.unit or valve.set_pressure.unit,
        phrase=phrase,
        short=format_short,
        today=on,
    )


def _asked(sheet: Path, typed: dict[str, str], hazards: tuple[str, ...], *, closed: bool) -> HazardAsked:
    def told(key: str) -> str | None:
        return typed[key] or None

    return HazardAsked(
        sheet,
        bore=told("bore"),
        outlet=told("outlet"),
        fluid=typed["fluid"],
        temperature=told("temperature"),
        molar_mass=told("molar_mass"),
        heat_ratio=told("heat_ratio"),
        density=told("density"),
        vapour_pressure=told("vapour_pressure"),
        coefficient=told("coefficient"),
        hazards=hazards,
        closed=closed,
    )


def _away(distance_m: float) -> str:
    """Round a distance up to two digits: a distance to keep is never rounded down, and near ones are not told apart."""
    if distance_m < 5.0:
        return _("less than %(far)s", far=whole("5 m"))
    if distance_m >= 10_000.0:
        return _("more than %(far)s", far=whole("10 km"))
    step = 1.0 if distance_m < 100.0 else 10.0 if distance_m < 1000.0 else 100.0
    return whole(f"{step * math.ceil(distance_m / step):.0f} m")
