"""Contacts: who at an owner's, at one site or at all of them, is sent papers; what identifies them can be removed."""

from __future__ import annotations

import dataclasses
import secrets
from collections.abc import Sequence
from dataclasses import dataclass
from uuid import UUID, uuid4

from firstlift.core.errors import FirstliftError, Problem
from firstlift.core.register.choose import search_key
from firstlift.core.register.codec import with_details
from firstlift.core.register.contacts import Contact, contact_name, mail_address
from firstlift.core.register.people import Person, PersonalDetails
from firstlift.core.register.places import Owner, Site
from firstlift.store.open import Store
from firstlift.store.outbox import Outbox
from firstlift.store.read import Reader
from firstlift.store.side_file import text_of
from firstlift.usecases.register.place import now
from firstlift.words.catalogue import check_language

_LONGEST_ROLE = 100


@dataclass(frozen=True, slots=True)
class ContactAsked:
    """A contact as somebody enters it. ``site_id`` None: for all sites of the owner."""

    owner_id: UUID
    site_id: UUID | None
    name: str
    address: str
    language: str = "en"
    role: str = ""


def add_contact(store: Store, asked: ContactAsked, *, who: str) -> Contact:
    """Keep a contact.

    Parameters
    ----------
    store : Store
    asked : ContactAsked
    who : str

    Returns
    -------
    Contact

    Raises
    ------
    FirstliftError
        SND-001 no address or name; SND-002 that address is there already for this owner and site, or the site is
        another owner's; WRD-002 the language is not there.
    """
    details = _details(asked, secrets.token_hex(16))
    with store.work(at=now(), who=who) as work:
        _check_place(work, asked)
        key = search_key(details.email)
        for one in contacts_of(work, asked.owner_id, asked.site_id):
            if one.details and search_key(one.details.email) == key and one.site_id == asked.site_id:
                raise _no_contact("that address is there already", "another address, or the one that is there")
        bare = Contact(uuid4(), asked.owner_id, asked.site_id, _role(asked.role), asked.language)
        made = with_details(bare, details)
        work.add(made)
    return made


def change_contact(store: Store, contact_id: UUID, asked: ContactAsked, *, who: str) -> Contact:
    """Change a contact; what waits for them goes to the new address.

    Parameters
    ----------
    store : Store
    contact_id : UUID
    asked : ContactAsked
    who : str

    Returns
    -------
    Contact

    Raises
    ------
    FirstliftError
        SND-001, SND-002, WRD-002 as `add_contact`; SND-002 what identifies them was removed.
    """
    with store.work(at=now(), who=who) as work:
        _check_place(work, asked)
        before = work.get(Contact, contact_id)
        if before.details is None:
            raise removed()
        bare = dataclasses.replace(
            before,
            owner_id=asked.owner_id,
            site_id=asked.site_id,
            role=_role(asked.role),
            language=asked.language,
        )
        made = with_details(bare, _details(asked, before.details.salt))
        if made != before:
            work.change(made)
    return made


def erase_contact(store: Store, outbox: Outbox, contact_id: UUID, *, who: str) -> int:
    """Remove what identifies a contact, also from messages; those that wait or failed are stopped.

    Parameters
    ----------
    store : Store
    outbox : Outbox
    contact_id : UUID
    who : str

    Returns
    -------
    int
        How many messages were stopped.
    """
    with store.work(at=now(), who=who) as work:
        work.erase_contact(contact_id)
    at = text_of(now())
    stopped = sum(outbox.stop(one.id, at) for one in outbox.of_contact(contact_id))
    outbox.forget(contact_id)
    return stopped


def contacts_of(reader: Reader, owner_id: UUID, site_id: UUID | None = None) -> list[Contact]:
    """Give who may be sent papers of a site: its own contacts and those for all of the owner's sites.

    Parameters
    ----------
    reader : Reader
    owner_id : UUID
    site_id : UUID or None
        None: of any site.

    Returns
    -------
    list of Contact
        By name; without those whose personal data were removed or who are no longer active.
    """
    found = [
        one
        for one in reader.list(Contact, owner_id=owner_id, active=True)
        if one.details is not None and (site_id is None or one.site_id in (None, site_id))
    ]
    return sorted(found, key=contact_said)


def contact_by(contacts: Sequence[Contact], said: str) -> Contact:
    """Find a contact among those of a paper by identifier, address or name.

    Parameters
    ----------
    contacts : sequence of Contact
    said : str

    Returns
    -------
    Contact

    Raises
    ------
    FirstliftError
        SND-002.
    """
    key = search_key(said)
    found = [
        one
        for one in contacts
        if said == str(one.id) or (one.details and key in (search_key(one.details.email), search_key(one.details.name)))
    ]
    if len(found) != 1:
        raise _no_contact(
            f"{len(found) or 'no'} contacts are called '{said[:60]}'", "one of the owner's or site's contacts"
        )
    return found[0]


def named_contact(reader: Reader, said: str) -> Contact | None:
    """Find a contact by identifier, or by a name or address that no person of the register has.

    Parameters
    ----------
    reader : Reader
    said : str

    Returns
    -------
    Contact or None
        None where no one contact is meant.
    """
    key = search_key(said)
    if any(one.details and search_key(one.details.name) == key for one in reader.stream(Person)):
        return None
    found = [
        one
        for one in reader.stream(Contact)
        if said == str(one.id) or (one.details and key in (search_key(one.details.email), search_key(one.details.name)))
    ]
    return found[0] if len(found) == 1 else None


def contact_said(contact: Contact | None) -> str:
    """Give a contact's name; the identifier where the name was removed.

    Parameters
    ----------
    contact : Contact or None

    Returns
    -------
    str
    """
    if contact is None:
        return ""
    return str(contact.id) if contact.details is None else contact.details.name


def removed() -> FirstliftError:
    """Say that somebody cannot be written to any more.

    Returns
    -------
    FirstliftError
    """
    return _no_contact("what identified this contact was removed", "a new contact")


def _details(asked: ContactAsked, salt: str) -> PersonalDetails:
    check_language(asked.language)
    return PersonalDetails(salt, contact_name(asked.name), mail_address(asked.address))


def _role(text: str) -> str:
    return "".join(c if c.isprintable() else " " for c in text).strip()[:_LONGEST_ROLE]


def _check_place(reader: Reader, asked: ContactAsked) -> None:
    reader.get(Owner, asked.owner_id)
    if asked.site_id is not None and reader.get(Site, asked.site_id).owner_id != asked.owner_id:
        raise _no_contact("the site is another owner's", "a site of the owner")


def _no_contact(what: str, needed: str) -> FirstliftError:
    return FirstliftError(Problem("SND-002", what, "contact", needed, "Look at the contacts"))
