"""Sending papers: choose who gets them, look at each message in its language, then hand it to the server or take it."""

from __future__ import annotations

from typing import Annotated, Any

from fastapi import APIRouter, Form
from fastapi.responses import RedirectResponse, Response

from firstlift.core.register.work import CertificateState, SiteVisit
from firstlift.store.outbox import Outbox, Way
from firstlift.store.read import Reader
from firstlift.usecases.papers.find import certificate_by
from firstlift.usecases.sending.message import LONGEST_NOTE
from firstlift.usecases.sending.papers import cannot_go, certificates_of_visit, facts_of
from firstlift.usecases.sending.queue import SendAsked, Sending, look, places_of, put_in, recipients
from firstlift.web.here import Here, HereNow
from firstlift.web.lists import identifier
from firstlift.web.page import show
from firstlift.web.pages.contacts import PAPER_LANGUAGES, places_offered
from firstlift.web.roles import May

router = APIRouter()
Text = Annotated[str, Form()]
Texts = Annotated[list[str] | None, Form()]
_OVER = (CertificateState.SUPERSEDED, CertificateState.WITHDRAWN)


@router.get("/papers/{number}/send")
def send_paper_page(here: HereNow, number: str) -> Response:
    """Offer to send a certificate."""
    here.must(May.SEND)
    return _page(here, SendAsked((number,), (), Way.FILE), (number,), fresh=True)


@router.post("/papers/{number}/send")
def send_paper(
    here: HereNow, number: str, to: Texts = None, note: Text = "", said: Text = "", act: Text = ""
) -> Response:
    """Show what would be sent, or send it."""
    here.must(May.SEND)
    return _done(here, SendAsked((number,), _chosen(to), _way(act), note, bool(said)), (number,), act)


@router.get("/visits/{visit_id}/send")
def send_visit_page(here: HereNow, visit_id: str) -> Response:
    """Offer to send a visit's papers."""
    here.must(May.SEND)
    with here.store.read() as reader:
        visit = reader.get(SiteVisit, identifier(visit_id))
        numbers = tuple(one.text for one in certificates_of_visit(reader, visit.id))
    return _page(here, SendAsked(numbers, (), Way.FILE, visit_id=visit.id), numbers, fresh=True)


@router.post("/visits/{visit_id}/send")
def send_visit(
    here: HereNow,
    visit_id: str,
    paper: Texts = None,
    to: Texts = None,
    note: Text = "",
    summary: Text = "",
    act: Text = "",
) -> Response:
    """Show what would be sent of a visit, or send it."""
    here.must(May.SEND)
    with here.store.read() as reader:
        visit = reader.get(SiteVisit, identifier(visit_id))
        numbers = tuple(one.text for one in certificates_of_visit(reader, visit.id))
    chosen = tuple(one for one in numbers if one in (paper or ()))
    asked = SendAsked(chosen, _chosen(to), _way(act), note, visit_id=visit.id, summary=bool(summary))
    return _done(here, asked, numbers, act)


def _chosen(to: list[str] | None) -> tuple[Any, ...]:
    return tuple(identifier(one) for one in to or ())


def _way(act: str) -> Way:
    return Way.SERVER if act == "server" else Way.FILE


def _done(here: Here, asked: SendAsked, numbers: tuple[str, ...], act: str) -> Response:
    if act not in ("server", "file"):
        return _page(here, asked, numbers)
    put_in(here.store, outbox_of(here), asked, sending_of(here))
    here.request.app.state.postman_soon()
    return RedirectResponse("/outbox", 303)


def sending_of(here: Here) -> Sending:
    """Say who sends.

    Parameters
    ----------
    here : Here

    Returns
    -------
    Sending
    """
    return Sending(here.person, here.settings.paper, here.settings.mail, here.settings.invented)


def outbox_of(here: Here) -> Outbox:
    """Give the register's outbox.

    Parameters
    ----------
    here : Here

    Returns
    -------
    Outbox
    """
    return here.request.app.state.outbox


def _page(here: Here, asked: SendAsked, numbers: tuple[str, ...], *, fresh: bool = False) -> Response:
    """Show the form, and below it the messages as they would go, once somebody is chosen."""
    with here.store.read() as reader:
        visit = reader.get(SiteVisit, asked.visit_id) if asked.visit_id else None
        papers = [certificate_by(reader, one) for one in numbers]
        if visit is None and not papers[0].signed_sha256:
            raise cannot_go(papers[0], "it was never issued", "one that is reviewed and issued")
        facts = facts_of(reader, papers)
        values = {
            "visit": visit,
            "facts": facts,
            "PAPER_LANGUAGES": PAPER_LANGUAGES,
            "recipients": recipients(reader, facts, visit),
            **_places(reader, facts, visit),
            "over": [one for one in papers if one.state in _OVER],
        }
    messages = [] if fresh else look(here.store, asked, sending_of(here))
    back = f"/visits/{asked.visit_id}" if asked.visit_id else f"/papers/{numbers[0]}"
    return show(
        here, "send.html", asked=asked, messages=messages, back=back, fresh=fresh, longest=LONGEST_NOTE, **values
    )


def _places(reader: Reader, facts: list[Any], visit: SiteVisit | None) -> dict[str, Any]:
    """Give what a new contact may be for, and the papers' own site as the first choice."""
    places = places_of(reader, facts, visit)
    site = next((f"site:{site}" for _, site in places if site), "")
    return {"places": [one for owner in {o for o, _ in places} for one in places_offered(reader, owner)], "near": site}
