"""Adjust and repeat: how far to turn after a test, what was done, the pulls after it, until the valve is within."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated, Any

from fastapi import APIRouter, Form
from fastapi.responses import RedirectResponse, Response

from firstlift.core.adjust import Advice
from firstlift.core.adjust.advise import FLATS_PER_TURN
from firstlift.core.errors import FirstliftError, Problem
from firstlift.core.register.equipment import RegisteredValve
from firstlift.core.register.places import Position
from firstlift.core.register.work import ValveTest
from firstlift.core.units import Kind
from firstlift.store.read import Reader
from firstlift.usecases.adjust import AdjustAsked, Advised
from firstlift.usecases.register.adjusting import Done, advise_test, keep_adjustment, way_of
from firstlift.usecases.typed import typed_quantity
from firstlift.web.here import Here, HereNow
from firstlift.web.lists import identifier, names
from firstlift.web.page import show
from firstlift.web.pages.pocket import with_unit
from firstlift.web.roles import May
from firstlift.web.say import phrase, sentence
from firstlift.words.numbers import format_short

router = APIRouter()
Text = Annotated[str, Form()]
# what may be typed for the advice, as its field is labelled, with the unit that is meant where only a number stands
# ("": the pressure's own)
_TYPED = {
    "line": ("Line pressure now", Kind.PRESSURE, ""),
    "target": ("Target", Kind.PRESSURE, ""),
    "mawp": ("MAWP of the system", Kind.PRESSURE, ""),
    "rate": ("Spring rate", Kind.STIFFNESS, "N/mm"),
    "pitch": ("Screw pitch", Kind.LENGTH, "mm"),
}


@router.get("/tests/{test_id}/adjust")
def adjust_page(here: HereNow, test_id: str) -> Response:
    """Show how far to turn, or why not to, what was done, and what came of it."""
    query = here.request.query_params
    with here.store.read() as reader:
        test = reader.get(ValveTest, identifier(test_id))
        valve = reader.get(RegisteredValve, test.valve_id)
        position = reader.get(Position, test.position_id) if test.position_id else None
        unit = here.unit or valve.set_pressure.unit
        typed = {key: with_unit(query.get(key, ""), own or unit) for key, (_, _, own) in _TYPED.items()}
        if not typed["mawp"] and position is not None and position.mawp is not None:
            typed["mawp"] = position.mawp.text
        ticks = {"off": bool(query.get("off")), "by": query.get("by", "").strip()[:100]}
        advised, problems = _advised(reader, test, typed, ticks)
        way = way_of(reader, test)
        made = [step.made for step in way if step.made is not None]
        by_hand = {one.id: names(reader, [one.person_id]) for one in made if one.person_id is not None}
    shown: dict[str, Any] = {"test": test, "valve": valve, "position": position, "unit": unit, "typed": typed}
    shown |= {"ticks": ticks, "advised": advised, "problems": problems, "way": way}
    shown |= {"by_hand": by_hand, "last": next((step.test for step in reversed(way) if step.test), None)}
    shown |= {"phrase": phrase, "sentence": sentence, "short": format_short, "flats": _flats}
    may = here.may(May.TEST)
    return show(here, "adjust.html", status=422 if problems and query else 200, may_keep=may, **shown)


def _advised(
    reader: Reader, test: ValveTest, typed: dict[str, str], ticks: dict[str, Any]
) -> tuple[Advised | None, tuple[Problem, ...]]:
    try:
        for key, (label, kind, _) in _TYPED.items():
            if typed[key]:
                typed_quantity(typed[key], kind, label)
        asked = AdjustAsked(
            sheet=Path("test"),
            target=typed["target"] or None,
            line=typed["line"] or None,
            mawp=typed["mawp"] or None,
            authorised_by=ticks["by"],
            pull_off=ticks["off"],
            spring_rate=typed["rate"] or None,
            screw_pitch=typed["pitch"] or None,
        )
        return advise_test(reader, test, asked), ()
    except FirstliftError as error:
        return None, error.problems


def _flats(advice: Advice) -> tuple[str, float]:
    """Give flats of the hexagon as they are counted at the valve, and the same in turns."""
    flats = abs(advice.flats or 0.0)
    whole, part = int(flats), {0.0: "", 0.25: "¼", 0.5: "½", 0.75: "¾"}[flats % 1.0]
    return f"{whole or ''}{part}" or "0", flats / FLATS_PER_TURN


@router.post("/tests/{test_id}/adjust")
def keep(
    here: HereNow,
    test_id: str,
    at: Text = "",
    turns: Text = "",
    to: Text = "right",
    height_before: Text = "",
    height_after: Text = "",
    rings_before: Text = "",
    rings_after: Text = "",
    seals_before: Text = "",
    seals_after: Text = "",
    note: Text = "",
) -> Response:
    """Keep what was done, and go on to the pulls after it."""
    here.must(May.TEST)
    heights = (with_unit(height_before, "mm"), with_unit(height_after, "mm"))
    lists = (text.strip()[:300] for text in (rings_before, rings_after, seals_before, seals_after))
    done = Done(at, turns, to, *heights, *lists, note=note.strip()[:500])
    return _kept(here, test_id, done)


def _kept(here: Here, test_id: str, done: Done) -> Response:
    keep_adjustment(here.store, identifier(test_id), done, by=here.person.id)
    return RedirectResponse(f"/tests/{test_id}/adjust#again", 303)
