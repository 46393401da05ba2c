"""Contacts: who at an owner's is sent papers, in which language; and taking out what identifies somebody."""

from __future__ import annotations

from typing import Annotated
from uuid import UUID

from fastapi import APIRouter, Form
from fastapi.responses import RedirectResponse, Response

from firstlift.core.errors import FirstliftError, Problem
from firstlift.core.register.contacts import Contact
from firstlift.core.register.places import Owner, Site
from firstlift.store.read import Reader
from firstlift.usecases.sending.contacts import ContactAsked, add_contact, change_contact, contact_said, erase_contact
from firstlift.web.here import HereNow, local_target
from firstlift.web.lists import PAGE, PageNumber, identifier
from firstlift.web.page import show
from firstlift.web.roles import May
from firstlift.web.say import NAMES
from firstlift.words.catalogue import languages

router = APIRouter()
Text = Annotated[str, Form()]
# papers are also printed in a language that the app does not speak
PAPER_LANGUAGES = {code: NAMES.get(code, "中文") for code in languages()}


@router.get("/contacts")
def contacts_page(here: HereNow, page: PageNumber = 1) -> Response:
    """List contacts by owner, with what each is sent."""
    here.must(May.SEND)
    page = max(page, 1)
    with here.store.read() as reader:
        total = reader.count(Contact, active=True)
        order = ("owner_id", "site_id", "id")
        found = reader.list(Contact, active=True, order=order, limit=PAGE, offset=(page - 1) * PAGE)
        owners = {one.id: one for one in reader.list(Owner, order=("name_key",))}
        sites = {one.id: one for one in reader.list(Site, order=("name_key",))}
        places = places_offered(reader)
    pages = max(1, -(-total // PAGE))
    rows = sorted(found, key=lambda one: (owners[one.owner_id].name, contact_said(one)))
    values = {
        "owners": owners,
        "sites": sites,
        "places": places,
        "PAPER_LANGUAGES": PAPER_LANGUAGES,
        "place_of": _place_of,
    }
    return show(here, "contacts.html", contacts=rows, total=total, page=page, pages=pages, query="", **values)


@router.post("/contacts")
def new_contact(
    here: HereNow,
    place: Text = "",
    name: Text = "",
    address: Text = "",
    language: Text = "en",
    role: Text = "",
    back: Text = "/contacts",
) -> Response:
    """Keep a contact."""
    here.must(May.SEND)
    with here.store.read() as reader:
        owner_id, site_id = _place(reader, place)
    add_contact(here.store, ContactAsked(owner_id, site_id, name, address, language, role), who=here.who)
    return RedirectResponse(local_target(back), 303)


@router.post("/contacts/{contact_id}")
def changed_contact(
    here: HereNow,
    contact_id: str,
    place: Text = "",
    name: Text = "",
    address: Text = "",
    language: Text = "en",
    role: Text = "",
) -> Response:
    """Change a contact."""
    here.must(May.SEND)
    with here.store.read() as reader:
        owner_id, site_id = _place(reader, place)
    asked = ContactAsked(owner_id, site_id, name, address, language, role)
    change_contact(here.store, identifier(contact_id), asked, who=here.who)
    return RedirectResponse("/contacts", 303)


@router.post("/contacts/{contact_id}/erase")
def erased_contact(here: HereNow, contact_id: str) -> Response:
    """Take out what identifies a contact; the history holds."""
    here.must(May.SEND)
    erase_contact(here.store, here.request.app.state.outbox, identifier(contact_id), who=here.who)
    return RedirectResponse("/contacts", 303)


def places_offered(reader: Reader, owner_id: UUID | None = None) -> list[tuple[str, str]]:
    """Give what a contact may be for: an owner with all sites, or one site.

    Parameters
    ----------
    reader : Reader
    owner_id : UUID or None
        Of this owner only.

    Returns
    -------
    list of (str, str)
        A place as forms send it, and its words; of all sites the words are the owner's alone.
    """
    owners = [one for one in reader.list(Owner, order=("name_key",)) if owner_id in (None, one.id)]
    found: list[tuple[str, str]] = []
    for owner in owners:
        found.append((f"owner:{owner.id}", owner.name))
        sites = reader.list(Site, owner_id=owner.id, order=("name_key",))
        found += [(f"site:{site.id}", f"{owner.name} › {site.name}") for site in sites]
    return found


def _place_of(contact: Contact) -> str:
    return f"site:{contact.site_id}" if contact.site_id else f"owner:{contact.owner_id}"


def _place(reader: Reader, text: str) -> tuple[UUID, UUID | None]:
    kind, _, said = text.partition(":")
    if kind == "site":
        site = reader.get(Site, identifier(said))
        return site.owner_id, site.id
    if kind == "owner":
        return reader.get(Owner, identifier(said)).id, None
    raise FirstliftError(Problem("WEB-009", "no owner or site is chosen", "For", "one that is listed"))
