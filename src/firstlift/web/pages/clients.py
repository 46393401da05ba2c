"""Clients: the tokens by which other systems read the register."""

from __future__ import annotations

from typing import Annotated

from fastapi import APIRouter, Form
from fastapi.responses import RedirectResponse, Response

from firstlift.core.errors import FirstliftError, Problem
from firstlift.web.deeds import Deed
from firstlift.web.here import Here, HereNow
from firstlift.web.page import show
from firstlift.web.roles import May
from firstlift.web.tokens import Scope, Tokens, id_of

router = APIRouter()
Text = Annotated[str, Form()]


@router.get("/clients")
def clients_page(here: HereNow) -> Response:
    """List the tokens that hold."""
    here.must(May.PEOPLE)
    return _shown(here, "")


def _shown(here: Here, secret: str) -> Response:
    tokens: Tokens = here.request.app.state.tokens
    return show(here, "clients.html", tokens=tokens.every(), scopes=tuple(Scope), secret=secret)


@router.post("/clients")
def make_token(here: HereNow, name: Text = "", scope: Annotated[list[str] | None, Form()] = None) -> Response:
    """Make a token and show it this once."""
    here.must(May.PEOPLE)
    scopes = [Scope(one) for one in scope or () if one in tuple(Scope)]
    if not name.strip() or not scopes:
        raise FirstliftError(Problem("WEB-009", "a name or what it may read is missing", "Clients", "both"))
    tokens: Tokens = here.request.app.state.tokens
    secret = tokens.make(name.strip()[:100], scopes, here.who)
    made = tokens.find(secret)
    if made is not None:
        here.note(Deed.TOKEN_MADE, made.id, scopes=" ".join(scopes))
    return _shown(here, secret)


@router.post("/clients/revoke")
def revoke_token(here: HereNow, mark: Text = "") -> Response:
    """End a token."""
    here.must(May.PEOPLE)
    tokens: Tokens = here.request.app.state.tokens
    tokens.revoke(mark)
    here.note(Deed.TOKEN_ENDED, id_of(mark))
    return RedirectResponse("/clients", 303)
