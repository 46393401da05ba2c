"""Clients: the tokens of other systems, and the web-hooks that they asked for."""

from __future__ import annotations

from typing import Annotated

from fastapi import APIRouter, Form
from fastapi.responses import RedirectResponse, Response

from firstlift.core.errors import FirstliftError, Problem
from firstlift.web.deeds import Deed
from firstlift.web.here import Here, HereNow
from firstlift.web.hooks.kept import Hooks
from firstlift.web.hooks.words import outcome
from firstlift.web.lists import identifier
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
    every = _tokens(here).every()
    values = {"hooks": _hooks(here).every(), "owners": {token.mark: token.name for token in every}}
    return show(here, "clients.html", tokens=every, scopes=tuple(Scope), secret=secret, outcome=outcome, **values)


def _tokens(here: Here) -> Tokens:
    return here.request.app.state.tokens


def _hooks(here: Here) -> Hooks:
    return Hooks(here.settings.accounts)


@router.post("/clients")
def make_token(here: HereNow, name: Text = "", scope: Annotated[list[str] | None, Form()] = None) -> Response:
    """Make a token and show it this once."""
    here.must(May.PEOPLE)
    scopes = [Scope(one) for one in scope or () if one in tuple(Scope)]
    if not name.strip() or not scopes:
        raise FirstliftError(Problem("WEB-009", "a name or what it may read is missing", "Clients", "both"))
    secret = _tokens(here).make(name.strip()[:100], scopes, here.who)
    made = _tokens(here).find(secret)
    if made is not None:
        here.note(Deed.TOKEN_MADE, made.id, scopes=" ".join(scopes))
    return _shown(here, secret)


@router.post("/clients/revoke")
def revoke_token(here: HereNow, mark: Text = "") -> Response:
    """End a token."""
    here.must(May.PEOPLE)
    _tokens(here).revoke(mark)
    here.note(Deed.TOKEN_ENDED, id_of(mark))
    return RedirectResponse("/clients", 303)


@router.post("/clients/hooks/end")
def end_hook(here: HereNow, hook: Text = "") -> Response:
    """End a web-hook."""
    here.must(May.PEOPLE)
    hook_id = identifier(hook)
    _hooks(here).end(hook_id)
    here.note(Deed.HOOK_ENDED, hook_id)
    return RedirectResponse("/clients", 303)
