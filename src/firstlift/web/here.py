"""Who asks, and with what: the parts of a request that every page needs, and the guards in front of pages."""

from __future__ import annotations

import secrets
from collections.abc import AsyncIterator
from dataclasses import dataclass
from typing import Annotated
from urllib.parse import quote, urlsplit
from uuid import UUID

from fastapi import Depends, Request, Response, WebSocket, WebSocketException
from starlette.requests import HTTPConnection

from firstlift.core.errors import FirstliftError, Problem
from firstlift.core.register.people import Person
from firstlift.store.open import Store
from firstlift.usecases.papers.find import name_of
from firstlift.web.accounts import Accounts
from firstlift.web.deeds import Deed, note
from firstlift.web.roles import May, Role, allows, role_said
from firstlift.web.say import NAMES, wanted_language
from firstlift.web.sessions import Session, Sessions
from firstlift.web.settings import Settings
from firstlift.web.units import Units
from firstlift.words.place import written_in

COOKIE = "firstlift-session"
# where somebody goes first whose password another person knows
ACCOUNT = "/account"
_BEFORE_A_NEW_PASSWORD = (ACCOUNT, "/account/password", "/sign-out")
LANGUAGE_COOKIE = "firstlift-language"
SAFE = ("GET", "HEAD", "OPTIONS")


class GoTo(Exception):  # noqa: N818  it is no error
    """The page is elsewhere: sign in first, or say who is working."""

    def __init__(self, where: str) -> None:
        super().__init__(where)
        self.where = where


@dataclass(frozen=True, slots=True)
class Here:
    """A request's surroundings.

    ``units`` are those a person chose, ``unit`` the pressure's, "" for each nameplate's own; ``language`` the one that
    pages are made in, ``own_language`` the one that the person chose, "" for the device's.
    """

    request: Request
    store: Store
    settings: Settings
    accounts: Accounts
    sessions: Sessions
    session: Session
    person: Person
    role: Role
    look: str
    units: Units
    language: str
    own_language: str

    @property
    def unit(self) -> str:
        """The pressure unit the person chose."""
        return self.units.pressure

    @property
    def who(self) -> str:
        """What stands in the chain for this person."""
        return str(self.person.id)

    @property
    def name(self) -> str:
        """The person's name."""
        return name_of(self.person)

    def note(self, deed: Deed, about: UUID, **said: str) -> None:
        """Write into the chain what the person did."""
        note(self.store, deed, who=self.who, about=about, **said)

    def may(self, what: May) -> bool:
        """Say whether the person may do something."""
        return allows(self.role, what)

    def must(self, what: May) -> None:
        """Refuse with WEB-003 where the person may not do something."""
        if not self.may(what):
            raise FirstliftError(
                Problem("WEB-003", f"as {self.role} you cannot {what}", needed="another role", next="Ask the office")
            )


def here(request: Request) -> Here:
    """Give the surroundings of a request of somebody who works here.

    Parameters
    ----------
    request : Request

    Returns
    -------
    Here

    Raises
    ------
    GoTo
        Nobody is known yet.
    """
    state = request.app.state
    settings: Settings = state.settings
    accounts: Accounts = state.accounts
    sessions: Sessions = state.sessions
    session = sessions.find(cookie_of(request, COOKIE))
    person, role, must_change = None, None, False
    if session is not None:
        with state.store.read() as reader:
            person = reader.find(Person, session.person_id)
        if person is not None and person.active:
            role, must_change = accounts.standing(person.id) if settings.sign_in else (role_said(person.role), False)
    if session is None or person is None or role is None:
        target = request.url.path + (f"?{request.url.query}" if request.url.query else "")
        back = f"?next={quote(target, safe='')}" if request.method in SAFE and target != "/" else ""
        raise GoTo(("/sign-in" if settings.sign_in else "/who") + back)
    if must_change and request.url.path not in _BEFORE_A_NEW_PASSWORD:
        raise GoTo(ACCOUNT)
    likes = accounts.likes(person.id)
    own = likes.get("language", "")
    return Here(
        request,
        state.store,
        settings,
        accounts,
        sessions,
        session,
        person,
        role,
        likes.get("look", ""),
        Units.of(likes),
        own if own in NAMES else language_outside(request),
        own,
    )


def language_outside(request: Request) -> str:
    """Give the language of a request of somebody not known yet: as chosen in this browser, else as it asks for.

    Parameters
    ----------
    request : Request

    Returns
    -------
    str
    """
    for chosen in (request.query_params.get("language", ""), cookie_of(request, LANGUAGE_COOKIE)):
        if chosen in NAMES:
            return chosen
    return wanted_language(request.headers.get("accept-language", ""))


def cookie_of(connection: HTTPConnection, name: str) -> str:
    """Give what a browser keeps for this app.

    Parameters
    ----------
    connection : HTTPConnection
    name : str

    Returns
    -------
    str
        "" where it keeps nothing.
    """
    settings: Settings = connection.app.state.settings
    return connection.cookies.get(settings.cookie(name), "")


def keep_cookie(response: Response, settings: Settings, name: str, value: str, max_age_s: int | None = None) -> None:
    """Give a browser something to keep: no script reads it, no other site's request carries it.

    Parameters
    ----------
    response : Response
    settings : Settings
    name, value : str
    max_age_s : int or None, [s]
        None: until the browser is closed. 0: to be forgotten.
    """
    response.set_cookie(
        settings.cookie(name), value, max_age=max_age_s, httponly=True, samesite="strict", secure=settings.secure
    )


def listens(socket: WebSocket) -> None:
    """Let only somebody with a session listen on a socket; guards of requests do not see sockets.

    Parameters
    ----------
    socket : WebSocket

    Raises
    ------
    WebSocketException
        Nobody is known.
    """
    settings: Settings = socket.app.state.settings
    accounts: Accounts = socket.app.state.accounts
    session = socket.app.state.sessions.find(cookie_of(socket, COOKIE))
    closed = False
    if session is not None and settings.sign_in:
        role, must_change = accounts.standing(session.person_id)
        closed = role is None or must_change
    if session is None or closed:
        raise WebSocketException(4401, "sign in first")


HereNow = Annotated[Here, Depends(here)]


async def in_their_language(now_here: HereNow) -> AsyncIterator[None]:
    """Let a page's texts and numbers be made in the language of whoever asks.

    Parameters
    ----------
    now_here : Here
    """
    with written_in(now_here.language):
        yield


async def with_token(request: Request, now_here: HereNow) -> None:
    """Let an unsafe request pass only with its session's token, from a page of this app.

    Parameters
    ----------
    request : Request
    now_here : Here

    Raises
    ------
    FirstliftError
        WEB-004.
    """
    if request.method not in SAFE:
        sent = request.headers.get("x-csrf") or str((await request.form()).get("csrf") or "")
        check_token(request, sent, now_here.session.csrf)


def check_token(request: Request, sent: str, wanted: str) -> None:
    """Refuse a form that was not filled in on a page of this app.

    Parameters
    ----------
    request : Request
    sent, wanted : str

    Raises
    ------
    FirstliftError
        WEB-004.
    """
    origin = request.headers.get("origin")
    foreign = origin is not None and urlsplit(origin).netloc != request.headers.get("host", "")
    if foreign or not wanted or not secrets.compare_digest(sent.encode(), wanted.encode()):
        raise FirstliftError(
            Problem(
                "WEB-004",
                "the form was not sent from an open page of this app, or the page was too old",
                needed="a page of this session",
                next="Go back, load the page again and repeat; nothing was changed",
            )
        )


def local_target(text: str) -> str:
    """Give a place in this app to go on to; anything else becomes the first page.

    Parameters
    ----------
    text : str

    Returns
    -------
    str
    """
    plain = text.startswith("/") and not text.startswith("//") and "\\" not in text
    return text if plain and text.isprintable() else "/"
