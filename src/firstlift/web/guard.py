"""In front of everything: which hosts the app answers to, how much it takes in, and the headers of every answer."""

from __future__ import annotations

import ipaddress
import socket
from collections.abc import Callable, Iterable
from urllib.parse import urlsplit

from fastapi import HTTPException
from fastapi.responses import PlainTextResponse
from starlette.datastructures import Headers, MutableHeaders
from starlette.types import ASGIApp, Message, Receive, Scope, Send

LOOPBACK = ("127.0.0.1", "localhost", "::1")
LARGEST_FORM_BYTES = 1_000_000
# where somebody who is known may send files
_UPLOADS = ("/import/", "/spreadsheet", "/verify")
_PAGE_POLICY = (
    "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self' data:; font-src 'self'; "
    "connect-src 'self'; object-src 'none'; base-uri 'none'; form-action 'self'; frame-ancestors 'none'"
)
_API_POLICY = "default-src 'none'; object-src 'none'; base-uri 'none'; form-action 'none'; frame-ancestors 'none'"
_HEADERS = {
    "X-Content-Type-Options": "nosniff",
    "X-Frame-Options": "DENY",
    "Referrer-Policy": "same-origin",
    "Cross-Origin-Opener-Policy": "same-origin",
    "Cross-Origin-Resource-Policy": "same-origin",
    "Permissions-Policy": "camera=(), microphone=(), geolocation=()",
}
_FORWARDED = ("forwarded", "x-forwarded-for", "x-forwarded-host", "x-real-ip")


class Guard:
    """Looks at a request before anything else does.

    Parameters
    ----------
    app : ASGI app
    sign_in : bool
        Whether everybody signs in; else only loopback names are answered, and nothing that a proxy passed on.
    secure : bool
        Whether the app is reached over TLS.
    names : iterable of str
        What the app is called by others, beside this machine's own name and bare addresses.
    largest_upload_bytes : int
    known : callable of Headers to bool
        Whether a request is somebody's who is known: nobody else may send files.
    """

    def __init__(
        self,
        app: ASGIApp,
        *,
        sign_in: bool,
        secure: bool,
        names: Iterable[str],
        largest_upload_bytes: int,
        known: Callable[[Headers], bool],
    ) -> None:
        self._app = app
        self._sign_in = sign_in
        self._secure = secure
        self._names = {name.casefold() for name in names} | ({_own_name()} if sign_in else set[str]())
        self._largest = largest_upload_bytes
        self._known = known

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Answer itself, or hand on."""
        if scope["type"] not in ("http", "websocket"):
            await self._app(scope, receive, send)
            return
        headers = Headers(scope=scope)
        refusal = self._refusal(headers)
        if scope["type"] == "websocket":
            if refusal:
                await send({"type": "websocket.close", "code": 4401, "reason": "not by this name"})
                return
            await self._app(scope, receive, send)
            return
        guarded = self._with_headers(scope, send)
        if refusal:
            await PlainTextResponse(refusal, 421)(scope, receive, guarded)
            return
        most = self._most(scope, headers)
        length = headers.get("content-length", "0")
        if not (length.isascii() and length.isdecimal()) or len(length) > 15 or int(length) > most:
            await PlainTextResponse(said_too_large(most), 413)(scope, receive, guarded)
            return
        await self._app(scope, counted(receive, most), guarded)

    def _refusal(self, headers: Headers) -> str:
        host = host_of(headers.get("host", ""))
        if not self._sign_in:
            # a foreign name that leads to this machine must not reach an app that asks for no password
            if host not in LOOPBACK or any(name in headers for name in _FORWARDED):
                return "This app answers on this machine's own address only."
        elif not (host in LOOPBACK or host in self._names or _is_address(host)):
            return "This app is not called that: ask whoever runs it for its address."
        return ""

    def _most(self, scope: Scope, headers: Headers) -> int:
        uploads = scope["method"] == "POST" and scope["path"].startswith(_UPLOADS)
        return self._largest if uploads and self._known(headers) else min(self._largest, LARGEST_FORM_BYTES)

    def _with_headers(self, scope: Scope, send: Send) -> Send:
        async def guarded(message: Message) -> None:
            if message["type"] == "http.response.start":
                headers = MutableHeaders(scope=message)
                for name, value in headers_at(scope["path"], secure=self._secure).items():
                    headers.setdefault(name, value)
            await send(message)

        return guarded


def headers_at(path: str, *, secure: bool) -> dict[str, str]:
    """Give the headers that every answer at an address carries.

    Parameters
    ----------
    path : str
    secure : bool
        Whether the app is reached over TLS.

    Returns
    -------
    dict of str
    """
    policy = _API_POLICY if path.startswith("/api/") else _PAGE_POLICY
    headers = {"Content-Security-Policy": policy, **_HEADERS}
    if secure:
        headers["Strict-Transport-Security"] = "max-age=31536000; includeSubDomains"
    if not path.startswith("/static/"):
        headers["Cache-Control"] = "no-store"
    return headers


def counted(receive: Receive, most: int) -> Receive:
    """Count what comes in, whatever length was announced.

    Parameters
    ----------
    receive : ASGI receive
    most : int, [bytes]

    Returns
    -------
    ASGI receive
        Raises HTTPException (413) once more came than ``most``.
    """
    total = 0

    async def counting() -> Message:
        nonlocal total
        message = await receive()
        total += len(message.get("body", b""))
        if total > most:
            raise HTTPException(413, said_too_large(most))
        return message

    return counting


def said_too_large(most: int) -> str:
    """Say how much may be sent.

    Parameters
    ----------
    most : int, [bytes]

    Returns
    -------
    str
    """
    return f"Too large: at most {most / 1e6:g} MB in one go."


def host_of(header: str) -> str:
    """Give the name or address of a Host header without its port; "" where it is none.

    Parameters
    ----------
    header : str

    Returns
    -------
    str
    """
    try:
        return (urlsplit(f"//{header}").hostname or "").casefold()
    except ValueError:
        return ""


def _is_address(host: str) -> bool:
    # who asks by a bare address was not led here by somebody else's name
    try:
        ipaddress.ip_address(host)
    except ValueError:
        return False
    return True


def _own_name() -> str:
    return socket.gethostname().casefold()
