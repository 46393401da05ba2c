"""Settings: look, language and unit of a person; rule sets and what they rest on."""

from __future__ import annotations

from typing import Annotated

from fastapi import APIRouter, Form
from fastapi.responses import RedirectResponse, Response

from firstlift.core.errors import FirstliftError, Problem
from firstlift.core.tolerance import KNOWN_CODES
from firstlift.core.units import Kind, find_unit
from firstlift.formats.rulesets import read_rule_set
from firstlift.web.deeds import Deed
from firstlift.web.here import HereNow
from firstlift.web.page import LOOKS, UNITS_OFFERED, show
from firstlift.web.say import NAMES

router = APIRouter()
Text = Annotated[str, Form()]


@router.get("/settings")
def settings_page(here: HereNow) -> Response:
    """Show what can be set."""
    values = {
        "sessions": here.sessions.every(here.person.id),
        "units": UNITS_OFFERED,
        "rule_sets": [_rule_set(code) for code in KNOWN_CODES if code != "owner"],
    }
    return show(here, "settings.html", **values)


def _rule_set(code: str) -> dict[str, object]:
    rules = read_rule_set(code, where="settings")
    statuses = sorted({rules.meaning.status, *(row.status for column in rules.columns for row in column.rows)})
    return {"rules": rules, "statuses": statuses}


@router.post("/settings/look")
def choose_look(here: HereNow, look: Text = "", unit: Text = "", language: Text = "") -> Response:
    """Keep a person's look, unit and language."""
    if look not in LOOKS:
        raise FirstliftError(Problem("WEB-009", f"there is no look '{look[:40]}'", "Look", ", ".join(LOOKS.values())))
    symbol = find_unit(unit, Kind.PRESSURE, where="Unit").symbol if unit.strip() else ""
    if language and language not in NAMES:
        raise FirstliftError(
            Problem("WEB-009", f"there are no words in '{language[:40]}'", "Language", ", ".join(NAMES))
        )
    here.accounts.like(here.person.id, "look", look)
    here.accounts.like(here.person.id, "language", language)
    here.accounts.like(here.person.id, "unit", symbol)
    here.note(Deed.LOOK_CHOSEN, here.person.id, look=look, unit=symbol, language=language)
    return RedirectResponse("/settings", 303)
