"""Settings: looks and units of a person, their sessions; people and their sign-ins; rule sets and what they rest on."""

from __future__ import annotations

from typing import Annotated

from fastapi import APIRouter, Form
from fastapi.responses import RedirectResponse, Response

from firstlift.core.errors import FirstliftError, Problem
from firstlift.core.register.people import Person
from firstlift.core.tolerance import KNOWN_CODES
from firstlift.core.units import Kind, find_unit
from firstlift.formats.rulesets import read_rule_set
from firstlift.usecases.papers.find import name_of
from firstlift.web.here import COOKIE, HereNow
from firstlift.web.lists import identifier
from firstlift.web.page import LOOKS, UNITS_OFFERED, show
from firstlift.web.roles import May, Role
from firstlift.web.say import NAMES

router = APIRouter()
Text = Annotated[str, Form()]


@router.get("/settings")
def settings_page(here: HereNow) -> Response:
    """Show what can be set."""
    values = {
        "sessions": here.accounts.sessions(here.person.id),
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
    return RedirectResponse("/settings", 303)


@router.post("/settings/revoke")
def revoke(here: HereNow, mark: Text = "") -> Response:
    """End one of one's own sessions."""
    here.accounts.revoke(here.person.id, mark)
    return RedirectResponse("/settings", 303)


@router.post("/sign-out")
def sign_out(here: HereNow) -> Response:
    """End this session."""
    here.accounts.revoke(here.person.id, here.session.mark)
    response = RedirectResponse("/sign-in" if here.settings.sign_in else "/who", 303)
    response.delete_cookie(COOKIE)
    return response


@router.get("/people")
def people_page(here: HereNow) -> Response:
    """List people with what they may do."""
    roles = here.accounts.roles()
    with here.store.read() as reader:
        people = sorted(reader.list(Person), key=name_of)
    return show(here, "people.html", people=people, roles=roles, name_of=name_of, all_roles=tuple(Role))


@router.post("/people/{person_id}")
def give_sign_in(here: HereNow, person_id: str, role: Text = "", password: Text = "") -> Response:
    """Give a person a sign-in, or a new password."""
    here.must(May.PEOPLE)
    if role not in tuple(Role):
        raise FirstliftError(Problem("WEB-009", "no role is chosen", "Role", ", ".join(Role)))
    with here.store.read() as reader:
        person = reader.get(Person, identifier(person_id))
    here.accounts.add(person.id, name_of(person), password, Role(role))
    return RedirectResponse("/people", 303)


@router.post("/people/{person_id}/close")
def take_sign_in(here: HereNow, person_id: str) -> Response:
    """Take a person's sign-in away; not one's own, so that somebody stays in."""
    here.must(May.PEOPLE)
    person = identifier(person_id)
    if person == here.person.id:
        raise FirstliftError(
            Problem("WEB-003", "you cannot take your own sign-in away", needed="somebody else of the office")
        )
    here.accounts.close_account(person)
    return RedirectResponse("/people", 303)
