"""People and their sign-ins: who may do what, given and taken by the office."""

from __future__ import annotations

from typing import Annotated

from fastapi import APIRouter, Form
from fastapi.responses import RedirectResponse, Response

from firstlift.core.errors import FirstliftError, Problem
from firstlift.core.register.people import Person
from firstlift.usecases.papers.find import name_of
from firstlift.web.deeds import Deed
from firstlift.web.here import HereNow
from firstlift.web.lists import identifier
from firstlift.web.page import show
from firstlift.web.passwords import LONGEST, SHORTEST
from firstlift.web.roles import May, Role

router = APIRouter()
Text = Annotated[str, Form()]


@router.get("/people")
def people_page(here: HereNow) -> Response:
    """List people with what they may do."""
    with here.store.read() as reader:
        people = sorted(reader.list(Person), key=name_of)
    values = {"name_of": name_of, "all_roles": tuple(Role), "shortest": SHORTEST, "longest": LONGEST}
    return show(here, "people.html", people=people, roles=here.accounts.roles(), **values)


@router.post("/people/{person_id}")
def give_sign_in(here: HereNow, person_id: str, role: Text = "", password: Text = "") -> Response:
    """Give a person a sign-in, or a new password that they change when they come; their sessions end."""
    here.must(May.PEOPLE)
    if role not in tuple(Role):
        raise FirstliftError(Problem("WEB-009", "no role is chosen", "Role", ", ".join(Role)))
    with here.store.read() as reader:
        person = reader.get(Person, identifier(person_id))
    if not person.active:
        raise FirstliftError(Problem("WEB-003", "that person has left", name_of(person), "somebody who works here"))
    others = person.id != here.person.id
    here.accounts.add(person.id, name_of(person), password[:1000], Role(role), must_change=others)
    here.sessions.end_all(person.id)
    here.note(Deed.SIGN_IN_GIVEN, person.id, role=role)
    return RedirectResponse(f"/people#p-{person.id}", 303)


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
    here.sessions.end_all(person)
    here.note(Deed.SIGN_IN_TAKEN, person)
    return RedirectResponse(f"/people#p-{person}", 303)


@router.post("/people/{person_id}/end-sessions")
def end_sessions(here: HereNow, person_id: str) -> Response:
    """End all sessions of a person, who may sign in again."""
    here.must(May.PEOPLE)
    person = identifier(person_id)
    here.sessions.end_all(person)
    here.note(Deed.SESSIONS_ENDED, person)
    return RedirectResponse(f"/people#p-{person}", 303)
