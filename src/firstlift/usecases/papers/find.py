"""Look up what a certificate needs in the register: a person, the certificate itself, who drafted it."""

from __future__ import annotations

from uuid import UUID

import sqlalchemy as sa

from firstlift.core.errors import FirstliftError, Problem
from firstlift.core.register.choose import search_key
from firstlift.core.register.people import Person
from firstlift.core.register.work import Certificate
from firstlift.store.read import Reader
from firstlift.store.tables import audit_table


def person_by(reader: Reader, said: str) -> Person:
    """Find a person by identifier or name.

    Parameters
    ----------
    reader : Reader
    said : str
        Identifier, or the whole name, whatever its case.

    Returns
    -------
    Person

    Raises
    ------
    FirstliftError
        CRT-007 nobody, nobody active, or more than one is meant.
    """
    try:
        found = [reader.find(Person, UUID(said))]
    except ValueError:
        key = search_key(said)
        found = [p for p in reader.stream(Person) if p.details is not None and search_key(p.details.name) == key]
    active = [person for person in found if person is not None and person.active]
    if len(active) != 1:
        many = f"{len(active)} active people are" if active else "nobody active is"
        raise FirstliftError(
            Problem("CRT-007", f"{many} called '{said[:60]}' in the register", needed="one person, or an identifier")
        )
    return active[0]


def name_of(person: Person | None) -> str:
    """Give a person's name as printed; the identifier where the name was removed.

    Parameters
    ----------
    person : Person or None

    Returns
    -------
    str
        Empty for nobody.
    """
    if person is None:
        return ""
    return str(person.id) if person.details is None else person.details.name


def certificate_by(reader: Reader, number: str) -> Certificate:
    """Find a certificate by its printed number.

    Parameters
    ----------
    reader : Reader
    number : str

    Returns
    -------
    Certificate

    Raises
    ------
    FirstliftError
        CRT-008 there is none.
    """
    found = reader.list(Certificate, text=number)
    if len(found) != 1:
        raise FirstliftError(
            Problem("CRT-008", f"the register has no certificate '{number[:60]}'", needed="a number that is in it")
        )
    return found[0]


def drafter_of(reader: Reader, certificate: Certificate) -> str:
    """Give who drafted a certificate, as the chain holds it.

    Parameters
    ----------
    reader : Reader
    certificate : Certificate

    Returns
    -------
    str
        A person's identifier, or "program:...".
    """
    query = sa.select(audit_table.c.who).where(audit_table.c.entry_id == certificate.id).order_by(audit_table.c.number)
    return str(reader.connection.execute(query.limit(1)).scalar_one())
