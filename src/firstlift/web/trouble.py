"""What went wrong, as a page that says what to do; never a library's traceback."""

from __future__ import annotations

import sys
import traceback
from urllib.parse import urlsplit

from fastapi import Request
from fastapi.concurrency import run_in_threadpool
from fastapi.responses import Response
from starlette.exceptions import HTTPException

from firstlift.core.errors import FirstliftError, Problem
from firstlift.web.api.answers import refuse
from firstlift.web.guard import headers_at
from firstlift.web.here import COOKIE, GoTo, cookie_of, here
from firstlift.web.page import show, show_outside
from firstlift.web.watch import tell_refused

_STATUS = {
    "WEB-001": 401,
    "WEB-002": 429,
    "WEB-003": 403,
    "WEB-004": 403,
    "WEB-005": 404,
    "REG-010": 404,
    "CRT-008": 404,
    "CRT-009": 409,
    "CRT-010": 403,
    "REG-025": 409,
    "REV-004": 409,
    "SEA-026": 409,
    "SEA-028": 409,
}
_ELSE = 422


async def refused(request: Request, error: Exception) -> Response:
    """Show the problems of what could not be done.

    Parameters
    ----------
    request : Request
    error : Exception
        A FirstliftError, or what the framework refused by itself.

    Returns
    -------
    Response
    """
    if request.url.path.startswith("/api/"):
        return await refuse(request, error)
    if isinstance(error, FirstliftError):
        problems, status = error.problems, _STATUS.get(error.problems[0].code, _ELSE)
        await run_in_threadpool(_watched, request, problems[0].code)
    elif isinstance(error, HTTPException) and error.status_code in (404, 405):
        status = error.status_code
        problems = (no_page(request.url.path),)
    elif isinstance(error, HTTPException) and error.status_code == 413:
        status = 413
        problems = (Problem("WEB-010", "too much was sent in one go", needed=str(error.detail)),)
    else:
        status = _ELSE
        problems = (
            Problem("WEB-009", "something in the address or the form could not be read", needed="the form as shown"),
        )
    return await run_in_threadpool(_page, request, problems, status)


async def unforeseen(request: Request, error: Exception) -> Response:
    """Say plainly that something failed that nobody foresaw.

    Parameters
    ----------
    request : Request
    error : Exception

    Returns
    -------
    Response
    """
    traceback.print_exception(error, file=sys.stderr)
    problem = Problem(
        "USE-001",
        f"an error nobody foresaw: {type(error).__name__}",
        needed="nothing was left half-written",
        next="Try again; if it comes back, report what you did and the lines in the server's window",
    )
    response = await run_in_threadpool(_page, request, (problem,), 500)
    # made outside everything else, the guard too
    response.headers.update(headers_at(request.url.path, secure=request.app.state.settings.secure))
    return response


def no_page(path: str) -> Problem:
    """Say that there is no such page.

    Parameters
    ----------
    path : str

    Returns
    -------
    Problem
    """
    return Problem(
        "WEB-005", "there is no such page", path[:200], "a page of this app", "Go to Today, or search the register"
    )


def _watched(request: Request, code: str) -> None:
    session = request.app.state.sessions.find(cookie_of(request, COOKIE))
    tell_refused(request, code, str(session.person_id) if session else "-")


def _page(request: Request, problems: tuple[Problem, ...], status: int) -> Response:
    back = _form_of(request)
    try:
        return show(here(request), "trouble.html", status=status, problems=problems, back=back)
    except (GoTo, FirstliftError):
        return show_outside(request, "trouble.html", status=status, problems=problems, back=back)


def _form_of(request: Request) -> str:
    """Give the page of this app whose form was sent and refused: what was typed is still kept there. Else nothing."""
    came = urlsplit(request.headers.get("referer", ""))
    if request.method != "POST" or came.netloc != request.headers.get("host") or not came.path.startswith("/"):
        return ""
    return f"/{came.path.lstrip('/')}{came.query and '?'}{came.query}"
