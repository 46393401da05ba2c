"""Settings: look, language and unit of a person; rule sets and what they rest on."""

from __future__ import annotations

from typing import Annotated

from fastapi import APIRouter, Form
from fastapi.responses import RedirectResponse, Response

from firstlift.core.errors import FirstliftError, Problem
from firstlift.core.tolerance import KNOWN_CODES
from firstlift.formats.rulesets import read_rule_set
from firstlift.web.deeds import Deed
from firstlift.web.here import HereNow
from firstlift.web.page import LOOKS, show
from firstlift.web.say import NAMES
from firstlift.web.units import LIKED, OFFERED, check_unit

router = APIRouter()
Text = Annotated[str, Form()]


@router.get("/settings")
def settings_page(here: HereNow) -> Response:
    """Show what can be set."""
    values = {
        "sessions": here.sessions.every(here.person.id),
        "offered": OFFERED,
        "liked": LIKED,
        "rule_sets": [_rule_set(code) for code in KNOWN_CODES if code != "owner"],
    }
    return show(here, "settings.html", **values)


def _rule_set(code: str) -> dict[str, object]:
    rules = read_rule_set(code, where="settings")
    statuses = sorted({rules.meaning.status, *(row.status for column in rules.columns for row in column.rows)})
    return {"rules": rules, "statuses": statuses}


@router.post("/settings/look")
def choose_look(
    here: HereNow, look: Text = "", unit: Text = "", force: Text = "", length: Text = "", language: Text = ""
) -> Response:
    """Keep a person's look, units and language."""
    if look not in LOOKS:
        raise FirstliftError(Problem("WEB-009", f"there is no look '{look[:40]}'", "Look", ", ".join(LOOKS.values())))
    units = {LIKED[kind]: check_unit(text, kind) for kind, text in zip(OFFERED, (unit, force, length), strict=True)}
    if language and language not in NAMES:
        raise FirstliftError(
            Problem("WEB-009", f"there are no words in '{language[:40]}'", "Language", ", ".join(NAMES))
        )
    here.accounts.like(here.person.id, "look", look)
    here.accounts.like(here.person.id, "language", language)
    for liked, symbol in units.items():
        here.accounts.like(here.person.id, liked, symbol)
    here.note(Deed.LOOK_CHOSEN, here.person.id, look=look, language=language, **units)
    return RedirectResponse("/settings", 303)
