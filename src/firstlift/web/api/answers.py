"""How the interface answers: one shape of every refusal, tags, what needs which scope."""

from __future__ import annotations

import hashlib
import sys
import traceback
from collections.abc import Callable
from typing import Annotated, Any

from fastapi import Depends, FastAPI, Query, Request, Response
from fastapi.exceptions import RequestValidationError
from fastapi.responses import JSONResponse
from fastapi.security import HTTPAuthorizationCredentials, HTTPBearer
from starlette.datastructures import Headers
from starlette.exceptions import HTTPException
from starlette.routing import Match
from starlette.types import ASGIApp, Message, Receive, Send
from starlette.types import Scope as AsgiScope

from firstlift.core.errors import FirstliftError, Problem
from firstlift.web.api.shapes import Failed, Failure
from firstlift.web.tokens import Scope, Token, Tokens
from firstlift.web.watch import tell_refused

MOST = 200
Limit = Annotated[int, Query(ge=1, le=MOST)]
Offset = Annotated[int, Query(ge=0, le=10_000_000)]
Short = Annotated[str, Query(max_length=100)]
Needs = Callable[[Scope], Any]
_STATUS = {
    "WEB-001": 401,
    "WEB-003": 403,
    "WEB-005": 404,
    "WEB-010": 413,
    "WEB-011": 400,
    "WEB-012": 422,
    "WEB-013": 409,
    "WEB-014": 403,
    "REG-010": 404,
    "CRT-008": 404,
    "CRT-009": 409,
    "USE-001": 500,
}
_bearer = HTTPBearer(auto_error=False)

REFUSALS: dict[int | str, dict[str, Any]] = {
    status: {"model": Failed, "description": said}
    for status, said in (
        (400, "the body or a header cannot be read"),
        (401, "no token that holds"),
        (403, "out of the token's scope"),
        (404, "not there"),
        (405, "not done at this address"),
        (409, "not in a state for it"),
        (413, "too much in one go"),
        (422, "not understood"),
    )
}
UNCHANGED: dict[int | str, dict[str, Any]] = {304: {"description": "not changed since the tag in If-None-Match"}}


def scopes_of(tokens: Tokens) -> Needs:
    """Give what makes a dependency on a scope; the dependency gives the token.

    Parameters
    ----------
    tokens : Tokens

    Returns
    -------
    callable (scope) -> dependency
    """

    def needs(scope: Scope) -> Any:
        def check(request: Request, given: Annotated[HTTPAuthorizationCredentials | None, Depends(_bearer)]) -> Token:
            token = tokens.find(given.credentials) if given else None
            if token is None:
                raise FirstliftError(
                    Problem("WEB-001", "no token that holds was sent", "Authorization", "Bearer TOKEN")
                )
            request.state.client = token.who
            if scope not in token.scopes:
                raise FirstliftError(Problem("WEB-003", f"the token may not do this: {scope}", needed=f"scope {scope}"))
            return token

        return Depends(check)

    return needs


def answer_so(api: FastAPI) -> None:
    """Let an interface refuse in its one shape and mark what it gives.

    Parameters
    ----------
    api : FastAPI
    """
    api.add_middleware(Tagged)
    for kind in (FirstliftError, HTTPException, RequestValidationError, Exception):
        api.add_exception_handler(kind, refuse)


class Tagged:
    """Marks what is given by its content, and sends none that the client has already.

    Parameters
    ----------
    app : ASGI app
    """

    def __init__(self, app: ASGIApp) -> None:
        self._app = app

    async def __call__(self, scope: AsgiScope, receive: Receive, send: Send) -> None:
        """Hold an answer to GET until it is whole, then mark it."""
        if scope["type"] != "http" or scope["method"] != "GET":
            await self._app(scope, receive, send)
            return
        begun: list[Message] = []
        body = bytearray()

        async def held(message: Message) -> None:
            if message["type"] == "http.response.start" and message["status"] == 200:
                begun.append(message)
            elif begun and message["type"] == "http.response.body":
                body.extend(message.get("body", b""))
                if not message.get("more_body", False):
                    await _marked(begun[0], bytes(body), Headers(scope=scope))(scope, receive, send)
            else:
                await send(message)

        await self._app(scope, receive, held)


def _marked(begun: Message, body: bytes, asked: Headers) -> Response:
    tag = f'"{hashlib.sha256(body).hexdigest()[:32]}"'
    headers = {**Headers(raw=begun["headers"]), "etag": tag, "cache-control": "private, no-cache"}
    held = [one.strip().removeprefix("W/") for one in asked.get("if-none-match", "").split(",")]
    if tag in held or "*" in held:
        kept = {name: value for name, value in headers.items() if name not in ("content-type", "content-length")}
        return Response(status_code=304, headers=kept)
    return Response(body, headers=headers)


async def refuse(request: Request, error: Exception) -> Response:
    """Say in the one shape why something was not done.

    Parameters
    ----------
    request : Request
    error : Exception

    Returns
    -------
    Response
    """
    headers: dict[str, str] = {}
    if isinstance(error, FirstliftError):
        problems, status = error.problems, _STATUS.get(error.problems[0].code, 422)
        tell_refused(request, problems[0].code, getattr(request.state, "client", "-"))
    elif isinstance(error, HTTPException):
        status = error.status_code
        if status == 405:
            headers["Allow"] = ", ".join(sorted(_methods_at(request)))
        problems = (_of_http(error, request.url.path[:200]),)
    elif isinstance(error, RequestValidationError):
        problems = _unread(error)
        status = _STATUS.get(problems[0].code, 422)
    else:
        traceback.print_exception(error, file=sys.stderr)
        status = 500
        problems = (Problem("USE-001", f"an error nobody foresaw: {type(error).__name__}", next="Try again later"),)
    if status == 401:
        headers["WWW-Authenticate"] = "Bearer"
    shown = [{key: getattr(problem, key) for key in Failure.__dataclass_fields__} for problem in problems]
    return JSONResponse({"errors": shown}, status, headers=headers)


def _of_http(error: HTTPException, path: str) -> Problem:
    if error.status_code == 413:
        return Problem("WEB-010", "too much was sent in one go", path, str(error.detail))
    if error.status_code == 400:
        return Problem("WEB-009", "the body cannot be read", path, "JSON in UTF-8, see openapi.json")
    return Problem("WEB-005", "there is nothing at this address", path, "see openapi.json")


def _methods_at(request: Request) -> set[str]:
    """Give every method that is done at the address of a request."""
    fitting = [route for route in request.app.routes if route.matches(request.scope)[0] is not Match.NONE]
    return {method for route in fitting for method in getattr(route, "methods", None) or ()}


def _unread(error: RequestValidationError) -> tuple[Problem, ...]:
    """Name every value that cannot be read, by its place; not the value, which may be anything."""
    missing = [one for one in error.errors() if one["loc"][0] == "header" and one["type"] == "missing"]
    if missing:
        return (
            Problem("WEB-011", "a key is missing", _place(missing[0]["loc"]), "text of your own for each new thing"),
        )
    return tuple(
        Problem("WEB-009", f"a value cannot be read: {one['msg']}"[:200], _place(one["loc"]), "see openapi.json")
        for one in error.errors()[:20]
    ) or (Problem("WEB-009", "a value cannot be read", needed="see openapi.json"),)


def _place(parts: Any) -> str:
    return ".".join(str(part) for part in parts)[:200]
