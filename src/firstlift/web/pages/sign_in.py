"""Who is working: sign-in with name and password, or on a single laptop the choice of a person."""

from __future__ import annotations

import re
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
from firstlift.web.deeds import Deed, note
from firstlift.web.here import (
    ACCOUNT,
    COOKIE,
    LANGUAGE_COOKIE,
    check_token,
    cookie_of,
    keep_cookie,
    language_outside,
    local_target,
)
from firstlift.web.page import show_outside
from firstlift.web.say import NAMES
from firstlift.web.watch import tell_refused

router = APIRouter()
# before there is a session: the same random text in a cookie and in the form
_BEFORE = "firstlift-before"
# a browser that somebody signed in by
_DEVICE = "firstlift-device"
_LONGEST_TYPED = 1000
_DEVICE_KEPT_S = 180 * 86400
_MARK = re.compile(r"[A-Za-z0-9_-]{32}")
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
    check_token(request, csrf, _mark_of(request))
    accounts, settings = request.app.state.accounts, request.app.state.settings
    device = cookie_of(request, _DEVICE)
    try:
        came = accounts.sign_in(name[:_LONGEST_TYPED], password[:_LONGEST_TYPED], device)
    except FirstliftError as error:
        problem = error.problems[0]
        tell_refused(request, problem.code)
        values = {"next": local_target(next), "problem": problem, "name": name[:100]}
        return _with_mark(request, "sign_in.html", status=429 if problem.code == "WEB-002" else 401, **values)
    response = _begin(request, came.person_id, ACCOUNT if came.must_change else next)
    keep_cookie(response, settings, _DEVICE, accounts.know_device(came.person_id, device), _DEVICE_KEPT_S)
    return response


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
    check_token(request, csrf, _mark_of(request))
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
    mark = _mark_of(request) or secrets.token_urlsafe(24)
    response = show_outside(request, template, status=status, csrf=mark, **values)
    settings = request.app.state.settings
    keep_cookie(response, settings, _BEFORE, mark, 3600)
    # chosen before anybody is known: the device keeps it; a person's own choice goes before it
    if request.query_params.get("language") in NAMES:
        keep_cookie(response, settings, LANGUAGE_COOKIE, language_outside(request), 365 * 86400)
    return response


def _begin(request: Request, person_id: UUID, target: str) -> Response:
    """Begin a session, always a new one; the one before in this browser ends."""
    state, settings = request.app.state, request.app.state.settings
    before = state.sessions.find(cookie_of(request, COOKIE))
    if before is not None:
        state.sessions.end(before.person_id, before.mark)
    secret = state.sessions.begin(person_id, request.headers.get("user-agent", ""))
    note(state.store, Deed.SIGNED_IN, who=str(person_id), about=person_id)
    response = RedirectResponse(local_target(target), 303)
    keep_cookie(response, settings, COOKIE, secret)
    keep_cookie(response, settings, _BEFORE, "", 0)
    return response


def _mark_of(request: Request) -> str:
    """Give the text that this browser got with the form, "" where it brings none of ours."""
    mark = cookie_of(request, _BEFORE)
    return mark if _MARK.fullmatch(mark) else ""
