"""The app: routers, guards and headers put together."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

from fastapi import Depends, FastAPI, Request
from fastapi.exceptions import RequestValidationError
from fastapi.responses import RedirectResponse, Response
from fastapi.staticfiles import StaticFiles
from starlette.datastructures import Headers
from starlette.exceptions import HTTPException
from starlette.requests import cookie_parser

from firstlift import __version__
from firstlift.core.errors import FirstliftError
from firstlift.store.open import Store
from firstlift.store.outbox import Outbox
from firstlift.web.accounts import Accounts
from firstlift.web.api import create_api
from firstlift.web.deeds import APP, Deed, note
from firstlift.web.guard import Guard
from firstlift.web.here import COOKIE, GoTo, in_their_language, listens, with_token
from firstlift.web.pages import ROUTERS
from firstlift.web.pages.drafts import forget_when_sent
from firstlift.web.pages.fleet import Answers
from firstlift.web.pages.sign_in import router as outside
from firstlift.web.proofs import Proofs
from firstlift.web.sessions import Sessions
from firstlift.web.settings import Settings
from firstlift.web.tokens import Tokens
from firstlift.web.traces import trace_router
from firstlift.web.trouble import refused, unforeseen


def create_app(store: Store, settings: Settings) -> FastAPI:
    """Put the app together.

    Parameters
    ----------
    store : Store
        Open; the caller closes it.
    settings : Settings

    Returns
    -------
    FastAPI
    """
    app = FastAPI(title="Firstlift", version=__version__, docs_url=None, redoc_url=None, openapi_url=None)
    app.state.store = store
    app.state.settings = settings
    app.state.accounts = Accounts(
        settings.accounts, lambda person_id: note(store, Deed.TOO_MANY_TRIES, who=APP, about=person_id)
    )
    app.state.sessions = Sessions(settings.accounts)
    app.state.answers = Answers()
    app.state.outbox = Outbox(store.folder)
    # whoever serves the app puts the postman here
    app.state.postman_soon = lambda: None
    app.state.proofs = Proofs(store)
    app.state.tokens = Tokens(settings.accounts)
    app.add_middleware(
        Guard,
        sign_in=settings.sign_in,
        secure=settings.secure,
        names=settings.names,
        largest_upload_bytes=settings.largest_upload_bytes,
        known=_knows(app.state.sessions, settings.cookie(COOKIE)),
    )
    app.add_exception_handler(GoTo, _go_to)
    for kind in (FirstliftError, HTTPException, RequestValidationError):
        app.add_exception_handler(kind, refused)
    app.add_exception_handler(Exception, unforeseen)
    app.include_router(outside)
    for router in ROUTERS:
        app.include_router(
            router, dependencies=[Depends(with_token), Depends(in_their_language), Depends(forget_when_sent)]
        )
    app.include_router(trace_router(store.read, may_see=in_their_language, may_listen=listens))
    app.mount("/api/v1", create_api(store, settings))
    app.mount("/static", StaticFiles(directory=Path(__file__).parent / "static"), name="static")
    return app


def _knows(sessions: Sessions, cookie: str) -> Callable[[Headers], bool]:
    def known(headers: Headers) -> bool:
        return sessions.find(cookie_parser(headers.get("cookie", "")).get(cookie, "")) is not None

    return known


async def _go_to(request: Request, error: Exception) -> Response:
    assert isinstance(error, GoTo)
    if request.headers.get("hx-request"):
        return Response(status_code=204, headers={"HX-Redirect": error.where})
    return RedirectResponse(error.where, 303)
