"""The interface for other systems, under /api/v1: valves, due dates, results, certificates. It reads only."""

from __future__ import annotations

import datetime as dt
import hashlib
from collections.abc import Awaitable, Callable
from dataclasses import dataclass
from typing import Annotated, Any, Literal
from uuid import UUID

from fastapi import Depends, FastAPI, Query, Request, Response
from fastapi.exceptions import RequestValidationError
from fastapi.responses import JSONResponse
from fastapi.security import HTTPAuthorizationCredentials, HTTPBearer
from starlette.exceptions import HTTPException

from firstlift import __version__
from firstlift.core.errors import FirstliftError, Problem
from firstlift.core.register.work import Certificate, CertificateState, ValveTest
from firstlift.core.result import to_json
from firstlift.store.history import past_tests
from firstlift.store.open import Store
from firstlift.store.search import Wanted, count, due_list, search
from firstlift.usecases.papers.find import certificate_by
from firstlift.usecases.papers.life import issued_file
from firstlift.web.tokens import Scope, Tokens

MOST = 200
_STATUS = {"WEB-001": 401, "WEB-003": 403, "WEB-005": 404, "REG-010": 404, "CRT-008": 404, "CRT-009": 409}
Limit = Annotated[int, Query(ge=1, le=MOST)]
Offset = Annotated[int, Query(ge=0, le=10_000_000)]
Short = Annotated[str, Query(max_length=100)]
_bearer = HTTPBearer(auto_error=False)
Next = Callable[[Request], Awaitable[Response]]


@dataclass(frozen=True, slots=True)
class Failure:
    """Why it could not be done."""

    code: str
    what: str
    where: str
    needed: str
    next: str


@dataclass(frozen=True, slots=True)
class Failed:
    """The one shape of every refusal."""

    errors: list[Failure]


@dataclass(frozen=True, slots=True)
class ValveOut:
    """A valve where it stands; set pressure as its nameplate writes it."""

    valve_id: UUID
    serial: str
    set_pressure: str
    owner: str
    in_use: bool
    tag: str | None
    site: str | None
    unit: str | None
    medium: str | None
    due: dt.date | None
    last_test_id: UUID | None
    last_day: dt.date | None
    last_verdict: str | None
    last_disposition: str | None
    not_tested: str | None


@dataclass(frozen=True, slots=True)
class ValvePage:
    """Valves from ``offset`` on; ``total`` is of all that fit, null where it was not counted."""

    items: list[ValveOut]
    offset: int
    total: int | None


@dataclass(frozen=True, slots=True)
class TestOut:
    """A test in a valve's history; pressures in Pa, gauge."""

    test_id: UUID
    day: dt.date
    kind: str
    purpose: str
    tag: str | None
    verdict: str
    disposition: str
    set_pressure_pa: float | None
    expanded_uncertainty_pa: float | None
    lower_bound_pa: float | None
    not_tested: str | None
    superseded_by: UUID | None


@dataclass(frozen=True, slots=True)
class CertificateOut:
    """A certificate; ``sha256`` is of the signed file, "" before it is issued."""

    number: str
    state: str
    test_id: UUID
    issued_at: dt.datetime | None
    sha256: str
    reason: str


_REFUSALS: dict[int | str, dict[str, Any]] = {
    status: {"model": Failed, "description": said}
    for status, said in ((401, "no token that holds"), (403, "out of the token's scope"), (404, "not there"),
                         (409, "not in a state for it"), (422, "not understood"))
}  # fmt: skip


def create_api(store: Store, tokens: Tokens) -> FastAPI:
    """Put the interface together.

    Parameters
    ----------
    store : Store
    tokens : Tokens

    Returns
    -------
    FastAPI
        To be mounted at /api/v1; its description is at openapi.json.
    """
    api = FastAPI(title="Firstlift", version=__version__, docs_url=None, redoc_url=None, responses=_REFUSALS)
    api.middleware("http")(_tagged)
    for kind in (FirstliftError, HTTPException, RequestValidationError):
        api.add_exception_handler(kind, _refused)

    def needs(scope: Scope) -> Any:
        def check(given: Annotated[HTTPAuthorizationCredentials | None, Depends(_bearer)]) -> None:
            token = tokens.find(given.credentials) if given else None
            if token is None:
                raise FirstliftError(
                    Problem("WEB-001", "no token that holds was sent", "Authorization", "Bearer TOKEN")
                )
            if scope not in token.scopes:
                raise FirstliftError(Problem("WEB-003", f"the token may not read {scope}", needed=f"scope {scope}"))

        return Depends(check)

    _valves(api, store, needs)
    _results(api, store, needs)
    _certificates(api, store, needs)
    return api


def _valves(api: FastAPI, store: Store, needs: Callable[[Scope], Any]) -> None:
    @api.get("/valves", dependencies=[needs(Scope.VALVES)])
    def valves(tag: Short = "", serial: Short = "", limit: Limit = 50, offset: Offset = 0) -> ValvePage:
        """Find valves by the beginning of a tag or serial."""
        with store.read() as reader:
            wanted = Wanted(tag=tag, serial=serial)
            found = search(reader, wanted, limit=limit, offset=offset)
            return ValvePage([_valve(one) for one in found], offset, count(reader, wanted))

    @api.get("/due", dependencies=[needs(Scope.VALVES)])
    def due(by: dt.date | None = None, limit: Limit = 50, offset: Offset = 0) -> ValvePage:
        """Give the valves in use by due date, the most urgent first."""
        with store.read() as reader:
            found = due_list(reader, Wanted(due_by=by), limit=limit, offset=offset)
            return ValvePage([_valve(one) for one in found], offset, None)

    @api.get("/valves/{valve_id}/tests", dependencies=[needs(Scope.RESULTS)])
    def tests(valve_id: UUID, limit: Limit = 50) -> list[TestOut]:
        """Give a valve's tests, the latest first."""
        with store.read() as reader:
            found = past_tests(reader, valve_id=valve_id, limit=limit)
        names = [name for name in TestOut.__dataclass_fields__ if name != "test_id"]
        return [TestOut(test_id=one.id, **{name: getattr(one, name) for name in names}) for one in found]


def _results(api: FastAPI, store: Store, needs: Callable[[Scope], Any]) -> None:
    @api.get("/tests/{test_id}/result", dependencies=[needs(Scope.RESULTS)])
    def result(test_id: UUID) -> dict[str, Any]:
        """Give a test's whole result (format firstlift-result-1, SI)."""
        with store.read() as reader:
            test = reader.get(ValveTest, test_id)
        if test.result is None:
            raise FirstliftError(Problem("WEB-005", "the test holds no whole result", str(test_id), "a test by pulls"))
        return to_json(test.result)


def _certificates(api: FastAPI, store: Store, needs: Callable[[Scope], Any]) -> None:
    @api.get("/certificates", dependencies=[needs(Scope.CERTIFICATES)])
    def certificates(
        state: Literal["", "draft", "reviewed", "issued", "superseded", "withdrawn"] = "",
        limit: Limit = 50,
        offset: Offset = 0,
    ) -> list[CertificateOut]:
        """Give certificates, the latest first."""
        equal = {"state": CertificateState(state)} if state else {}
        with store.read() as reader:
            found = reader.list(Certificate, order=("-reserved_at", "-id"), limit=limit, offset=offset, **equal)
        return [_certificate(one) for one in found]

    @api.get("/certificates/{number}", dependencies=[needs(Scope.CERTIFICATES)])
    def certificate(number: str) -> CertificateOut:
        """Give one certificate by its number."""
        with store.read() as reader:
            return _certificate(certificate_by(reader, number))

    @api.get(
        "/certificates/{number}/file",
        dependencies=[needs(Scope.CERTIFICATES)],
        response_class=Response,
        responses={200: {"content": {"application/pdf": {}}}},
    )
    def file(number: str) -> Response:
        """Give the signed file of a certificate that was issued."""
        issued = issued_file(store, number)
        return Response(issued.pdf, media_type="application/pdf")


def _valve(one: Any) -> ValveOut:
    names = [name for name in ValveOut.__dataclass_fields__ if name != "in_use"]
    return ValveOut(in_use=one.active, **{name: getattr(one, name) for name in names})


def _certificate(one: Certificate) -> CertificateOut:
    return CertificateOut(one.text, str(one.state), one.test_id, one.issued_at, one.signed_sha256, one.reason)


async def _tagged(request: Request, following: Next) -> Response:
    """Mark every answer by its content, and send none that the client has already."""
    response = await following(request)
    if request.method != "GET" or response.status_code != 200:
        return response
    body = b"".join([chunk async for chunk in response.body_iterator])  # type: ignore[attr-defined]
    tag = f'"{hashlib.sha256(body).hexdigest()[:32]}"'
    headers = {**response.headers, "ETag": tag, "Cache-Control": "private, no-cache"}
    headers.pop("content-length", None)
    if tag in request.headers.get("if-none-match", ""):
        headers.pop("content-type", None)
        return Response(status_code=304, headers=headers)
    return Response(body, headers=headers)


async def _refused(request: Request, error: Exception) -> Response:
    if isinstance(error, FirstliftError):
        problems, status = error.problems, _STATUS.get(error.problems[0].code, 422)
    elif isinstance(error, HTTPException):
        status = error.status_code
        problems = (Problem("WEB-005", "there is nothing at this address", request.url.path[:200], "see openapi.json"),)
    else:
        status = 422
        where = ""
        if isinstance(error, RequestValidationError) and error.errors():
            where = ".".join(str(part) for part in error.errors()[0]["loc"])
        problems = (Problem("WEB-009", "a value cannot be read", where[:200], "see openapi.json"),)
    headers = {"WWW-Authenticate": "Bearer"} if status == 401 else {}
    shown = [{key: getattr(problem, key) for key in Failure.__dataclass_fields__} for problem in problems]
    return JSONResponse({"errors": shown}, status, headers=headers)
