"""One's own sign-in: the open sessions, ended one by one or all but this; another password; sign-out."""

from __future__ import annotations

from typing import Annotated

from fastapi import APIRouter, Form
from fastapi.responses import RedirectResponse, Response

from firstlift.core.errors import FirstliftError, Problem
from firstlift.web.deeds import Deed
from firstlift.web.here import ACCOUNT, COOKIE, HereNow, keep_cookie
from firstlift.web.page import show
from firstlift.web.passwords import LONGEST, SHORTEST

router = APIRouter()
Text = Annotated[str, Form()]
_LONGEST_TYPED = 1000


@router.get(ACCOUNT)
def account_page(here: HereNow) -> Response:
    """Show one's sign-in."""
    return _shown(here, None)


def _shown(here: HereNow, problem: Problem | None, status: int = 200) -> Response:
    must_change = here.settings.sign_in and here.accounts.standing(here.person.id)[1]
    values = {"problem": problem, "must_change": must_change, "shortest": SHORTEST, "longest": LONGEST}
    return show(here, "account.html", status=status, sessions=here.sessions.every(here.person.id), **values)


@router.post("/account/password")
def change_password(here: HereNow, old: Text = "", new: Text = "", again: Text = "") -> Response:
    """Take another password, with the old one as proof; every other session ends."""
    if not here.settings.sign_in:
        raise FirstliftError(Problem("WEB-009", "nobody signs in here", "password", "an app where people sign in"))
    try:
        if new != again:
            raise FirstliftError(
                Problem("WEB-009", "the two new passwords differ", "password", "the same twice", "Type them again")
            )
        here.accounts.change_password(here.person.id, here.name, old[:_LONGEST_TYPED], new[:_LONGEST_TYPED])
    except FirstliftError as error:
        # asked again on the same page, as the sign-in does
        return _shown(here, error.problems[0], 422)
    here.sessions.end_all(here.person.id, but=here.session.mark)
    here.note(Deed.PASSWORD_CHANGED, here.person.id)
    return RedirectResponse("/account?done=password", 303)


@router.post("/settings/revoke")
def end_session(here: HereNow, mark: Text = "") -> Response:
    """End one of one's own sessions."""
    here.sessions.end(here.person.id, mark)
    here.note(Deed.SESSION_ENDED, here.person.id, session=mark[:12])
    return RedirectResponse(ACCOUNT, 303)


@router.post("/account/end-others")
def end_others(here: HereNow) -> Response:
    """End all of one's own sessions but this one."""
    here.sessions.end_all(here.person.id, but=here.session.mark)
    here.note(Deed.SESSIONS_ENDED, here.person.id)
    return RedirectResponse(ACCOUNT, 303)


@router.post("/sign-out")
def sign_out(here: HereNow) -> Response:
    """End this session."""
    here.sessions.end(here.person.id, here.session.mark)
    here.note(Deed.SIGNED_OUT, here.person.id)
    response = RedirectResponse("/sign-in" if here.settings.sign_in else "/who", 303)
    keep_cookie(response, here.settings, COOKIE, "", 0)
    # what the browser still holds of this person's pages goes with them
    response.headers["Clear-Site-Data"] = '"cache"'
    return response
