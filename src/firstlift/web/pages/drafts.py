"""Drafts of forms, for the script that keeps them as one types (`static/habits.js`)."""

from __future__ import annotations

import functools
from collections.abc import AsyncIterator
from typing import Annotated

from fastapi import APIRouter, Form, Request
from fastapi.concurrency import run_in_threadpool
from fastapi.responses import JSONResponse, Response

from firstlift.web.drafts import Drafts, read_fields
from firstlift.web.here import HereNow

router = APIRouter()
Text = Annotated[str, Form()]
_file = functools.cache(Drafts)  # brought up once, not at every letter that is typed


async def forget_when_sent(request: Request, here: HereNow) -> AsyncIterator[None]:
    """Forget the draft of a form that was sent, once its page was made without a refusal.

    Parameters
    ----------
    request : Request
    here : Here
    """
    plain = request.method == "POST" and "x-csrf" not in request.headers
    sent = str((await request.form()).get("draft") or "") if plain else ""
    yield
    if sent:
        await run_in_threadpool(_file(here.settings.accounts).drop, here.person.id, sent)


@router.get("/drafts")
def drafts_of_page(here: HereNow, path: str) -> Response:
    """Give one's own drafts of a page's forms."""
    kept = _file(here.settings.accounts).kept(here.person.id, path)
    return JSONResponse({draft.form: {"at": draft.at, "fields": draft.fields} for draft in kept})


@router.post("/drafts")
def keep_draft(here: HereNow, form: Text, fields: Text) -> Response:
    """Keep what stands in a form."""
    _file(here.settings.accounts).keep(here.person.id, form, read_fields(fields))
    return Response(status_code=204)


@router.post("/drafts/drop")
def drop_draft(here: HereNow, form: Text) -> Response:
    """Forget what stood in a form."""
    _file(here.settings.accounts).drop(here.person.id, form)
    return Response(status_code=204)
