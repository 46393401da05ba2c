"""The app: routers, guards and headers put together."""

from __future__ import annotations

from collections.abc import Awaitable, Callable
from pathlib import Path
from urllib.parse import urlsplit

from fastapi import Depends, FastAPI, Request
from fastapi.responses import PlainTextResponse, RedirectResponse, Response
from fastapi.staticfiles import StaticFiles

from firstlift import __version__
from firstlift.core.errors import FirstliftError
from firstlift.store.open import Store
from firstlift.web.accounts import Accounts
from firstlift.web.api import create_api
from firstlift.web.here import GoTo, here, in_their_language, listens, with_token
from firstlift.web.pages import ROUTERS
from firstlift.web.pages.fleet import Answers
from firstlift.web.pages.sign_in import router as outside
from firstlift.web.settings import Settings
from firstlift.web.tokens import Tokens
from firstlift.web.traces import trace_router
from firstlift.web.trouble import refused, unforeseen

_LOOPBACK = ("127.0.0.1", "localhost", "::1")
_HEADERS = {
    "Content-Security-Policy": (
        "default-src 'self'; style-src 'self'; img-src 'self' data:; object-src 'none'; base-uri 'none'; "
        "form-action 'self'; frame-ancestors 'none'"
    ),
    "X-Content-Type-Options": "nosniff",
    "X-Frame-Options": "DENY",
    "Referrer-Policy": "same-origin",
    "Cross-Origin-Opener-Policy": "same-origin",
    "Cross-Origin-Resource-Policy": "same-origin",
    "Permissions-Policy": "camera=(), microphone=(), geolocation=()",
}
Next = Callable[[Request], Awaitable[Response]]


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
    app.state.accounts = Accounts(settings.accounts)
    app.state.answers = Answers()
    app.state.tokens = Tokens(settings.accounts)
    app.middleware("http")(_guarded)
    app.add_exception_handler(GoTo, _go_to)
    app.add_exception_handler(FirstliftError, refused)
    app.add_exception_handler(404, refused)
    app.add_exception_handler(405, refused)
    app.add_exception_handler(422, refused)
    app.add_exception_handler(Exception, unforeseen)
    app.include_router(outside)
    for router in ROUTERS:
        app.include_router(router, dependencies=[Depends(with_token), Depends(in_their_language)])
    app.include_router(trace_router(store.read, may_see=here, may_listen=listens))
    app.mount("/api/v1", create_api(store, app.state.tokens))
    app.mount("/static", StaticFiles(directory=Path(__file__).parent / "static"), name="static")
    return app


async def _guarded(request: Request, following: Next) -> Response:
    """Refuse foreign hosts and uploads beyond measure; put the headers on every answer."""
    settings: Settings = request.app.state.settings
    host = urlsplit(f"//{request.headers.get('host', '')}").hostname or ""
    length = request.headers.get("content-length", "0")
    if not settings.sign_in and host not in _LOOPBACK:
        # a foreign name that leads to this machine must not reach an app that asks for no password
        response: Response = PlainTextResponse("This app answers on this machine's own address only.", 421)
    elif not length.isdecimal() or int(length) > settings.largest_upload_bytes:
        most = settings.largest_upload_bytes // 1_000_000
        response = PlainTextResponse(f"Too large: at most {most} MB in one go.", 413)
    else:
        response = await following(request)
    for name, value in _HEADERS.items():
        response.headers.setdefault(name, value)
    if settings.secure:
        response.headers["Strict-Transport-Security"] = "max-age=31536000"
    if not request.url.path.startswith("/static/"):
        response.headers.setdefault("Cache-Control", "no-store")
    return response


async def _go_to(request: Request, error: Exception) -> Response:
    assert isinstance(error, GoTo)
    if request.headers.get("hx-request"):
        return Response(status_code=204, headers={"HX-Redirect": error.where})
    return RedirectResponse(error.where, 303)
