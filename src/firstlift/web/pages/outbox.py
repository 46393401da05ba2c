"""The outbox: what waits, what went, what failed and why; stop it, try it again, take it as a file."""

from __future__ import annotations

from typing import Any
from uuid import UUID

from fastapi import APIRouter
from fastapi.responses import RedirectResponse, Response

from firstlift.core.errors import FirstliftError, Problem
from firstlift.core.register.contacts import Contact
from firstlift.store.outbox import Message, State, Way
from firstlift.store.read import Reader
from firstlift.usecases.sending.contacts import contact_said
from firstlift.usecases.sending.deeds import told_of
from firstlift.usecases.sending.queue import act, message_file
from firstlift.web.here import Here, HereNow
from firstlift.web.lists import PAGE, PageNumber, identifier, teller
from firstlift.web.page import show
from firstlift.web.pages.sending import outbox_of
from firstlift.web.roles import May

router = APIRouter()
_ACTS = {"stop": State.STOPPED, "again": State.WAITING, "sent": State.BY_HAND}
_UNDER_WAY = (State.MADE, State.UNDER_WAY, State.GIVEN)
_STOPPABLE = (State.WAITING, State.READY, State.FAILED, State.UNSURE)


@router.get("/outbox")
def outbox_page(here: HereNow, page: PageNumber = 1) -> Response:
    """List messages, the latest first."""
    here.must(May.SEND)
    page = max(page, 1)
    outbox = outbox_of(here)
    counts = outbox.counts()
    total = sum(counts.values())
    messages = outbox.every(limit=PAGE, offset=(page - 1) * PAGE)
    pages = max(1, -(-total // PAGE))
    values = {"counts": counts, "total": total, "page": page, "pages": pages, "query": "", "State": State}
    return show(here, "outbox.html", rows=_rows(here, messages), mail=here.settings.mail, **values)


def _rows(here: Here, messages: list[Message]) -> list[dict[str, Any]]:
    with here.store.read() as reader:
        contacts = {one.id: one for one in reader.list(Contact, id=frozenset(m.contact_id for m in messages))}
        return [
            {
                "message": one,
                "to": contacts.get(one.contact_id),
                "to_said": contact_said(contacts.get(one.contact_id)),
                "by": teller(reader, one.made_by),
                "under_way": one.state in _UNDER_WAY,
                "stoppable": one.state in _STOPPABLE,
                "again": one.way is Way.SERVER and one.state in (State.WAITING, State.FAILED, State.UNSURE),
            }
            for one in messages
        ]


def sendings_of(reader: Reader, about: UUID) -> list[dict[str, Any]]:
    """Give what the chain says of a paper's sendings, the latest first, with names where they are still kept.

    Parameters
    ----------
    reader : Reader
    about : UUID

    Returns
    -------
    list of dict
    """
    told = told_of(reader, about)
    contacts = {str(one.id): one for one in reader.list(Contact, id=frozenset(UUID(t.contact_id) for t in told))}
    return [
        {
            "deed": one.deed,
            "why": one.why,
            "at": one.at,
            "number": one.number,
            "by": teller(reader, one.who),
            "to": contact_said(contacts[one.contact_id]) if contacts[one.contact_id].details else "",
        }
        for one in reversed(told)
    ]


@router.post("/outbox/{message_id}/{what}")
def with_message(here: HereNow, message_id: str, what: str) -> Response:
    """Stop a message, try it again, or keep that it was sent by one's own program."""
    here.must(May.SEND)
    if what not in _ACTS:
        raise FirstliftError(Problem("WEB-009", "that cannot be done with a message", "outbox", ", ".join(_ACTS)))
    act(here.store, outbox_of(here), identifier(message_id), _ACTS[what], who=here.who)
    here.request.app.state.postman_soon()
    return RedirectResponse("/outbox", 303)


@router.get("/outbox/{message_id}/message.eml")
def message_as_file(here: HereNow, message_id: str) -> Response:
    """Give a message as the file that mail programs open."""
    here.must(May.SEND)
    message = outbox_of(here).find(identifier(message_id))
    if message is None:
        raise FirstliftError(Problem("WEB-005", "there is no such message", message_id[:80], "one that is listed"))
    details = here.person.details
    data = message_file(here.store, message, details.email if details else "")
    name = message.papers[0].file.removesuffix(".pdf") if message.papers else "message"
    headers = {"Content-Disposition": f'attachment; filename="{name}-{str(message.id)[:8]}.eml"'}
    return Response(data, media_type="message/rfc822", headers=headers)
