"""Who is working: sign-in with name and password, or on a single laptop the choice of a person."""

from __future__ import annotations

import secrets
from typing import Annotated
from uuid import UUID, uuid4

from fastapi import APIRouter, Form, Request
from fastapi.responses import RedirectResponse, Response

from firstlift.core.errors import FirstliftError, Problem
from firstlift.core.register.codec import new_person
from firstlift.core.register.people import Person, PersonalDetails
from firstlift.usecases.papers.find import name_of
from firstlift.usecases.register.place import now
from firstlift.web.here import COOKIE, LANGUAGE_COOKIE, check_token, language_outside, local_target
from firstlift.web.page import show_outside
from firstlift.web.say import NAMES

router = APIRouter()
# before there is a session: the same random text in a cookie and in the form
_BEFORE = "firstlift-before"
Text = Annotated[str, Form()]


@router.get("/sign-in")
def sign_in_page(request: Request, next: str = "/") -> Response:
    """Ask for name and password."""
    if not request.app.state.settings.sign_in:
        return RedirectResponse("/who", 303)
    return _with_mark(request, "sign_in.html", next=local_target(next), problem=None, name="")


@router.post("/sign-in")
def sign_in(request: Request, csrf: Text = "", name: Text = "", password: Text = "", next: Text = "/") -> Response:
    """Begin a session for a name and password that fit; always a new one."""
    if not request.app.state.settings.sign_in:
        return RedirectResponse("/who", 303)
    check_token(request, csrf, request.cookies.get(_BEFORE, ""))
    try:
        person_id = request.app.state.accounts.sign_in(name, password[:1000])
    except FirstliftError as error:
        status = 429 if error.problems[0].code == "WEB-002" else 401
        values = {"next": local_target(next), "problem": error.problems[0], "name": name[:100]}
        return _with_mark(request, "sign_in.html", status=status, **values)
    return _begin(request, person_id, next)


@router.get("/who")
def who_page(request: Request, next: str = "/") -> Response:
    """Ask who is working at this laptop."""
    if request.app.state.settings.sign_in:
        return RedirectResponse("/sign-in", 303)
    with request.app.state.store.read() as reader:
        people = [(p.id, name_of(p), p.role) for p in reader.list(Person, active=True)]
    return _with_mark(request, "who.html", next=local_target(next), people=sorted(people, key=lambda row: row[1]))


@router.post("/who")
def who(
    request: Request, csrf: Text = "", person: Text = "", name: Text = "", role: Text = "technician", next: Text = "/"
) -> Response:
    """Begin a session for somebody of the register, or for somebody new."""
    if request.app.state.settings.sign_in:
        return RedirectResponse("/sign-in", 303)
    check_token(request, csrf, request.cookies.get(_BEFORE, ""))
    if person:
        with request.app.state.store.read() as reader:
            return _begin(request, reader.get(Person, _uuid(person)).id, next)
    if not name.strip():
        raise FirstliftError(Problem("WEB-009", "nobody is named", "Who is working", "a name", "Type your name"))
    details = PersonalDetails(secrets.token_hex(16), name.strip()[:200])
    made = new_person(Person(uuid4(), role if role in ("technician", "engineer", "planner") else "technician"), details)
    with request.app.state.store.work(at=now(), who=str(made.id)) as work:
        work.add(made)
    return _begin(request, made.id, next)


def _uuid(text: str) -> UUID:
    try:
        return UUID(text)
    except ValueError:
        raise FirstliftError(Problem("WEB-009", "that is nobody of the register", needed="a person listed")) from None


def _with_mark(request: Request, template: str, *, status: int = 200, **values: object) -> Response:
    mark = request.cookies.get(_BEFORE) or secrets.token_urlsafe(24)
    response = show_outside(request, template, status=status, csrf=mark, **values)
    response.set_cookie(
        _BEFORE, mark, httponly=True, samesite="strict", secure=request.app.state.settings.secure, max_age=3600
    )
    # chosen before anybody is known: the device keeps it; a person's own choice goes before it
    if request.query_params.get("language") in NAMES:
        response.set_cookie(
            LANGUAGE_COOKIE,
            language_outside(request),
            httponly=True,
            samesite="strict",
            secure=request.app.state.settings.secure,
            max_age=365 * 86400,
        )
    return response


def _begin(request: Request, person_id: UUID, target: str) -> Response:
    secret = request.app.state.accounts.open_session(person_id, request.headers.get("user-agent", ""))
    response = RedirectResponse(local_target(target), 303)
    response.set_cookie(
        COOKIE, secret, httponly=True, samesite="strict", secure=request.app.state.settings.secure, path="/"
    )
    response.delete_cookie(_BEFORE)
    return response
