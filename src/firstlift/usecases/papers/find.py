"""Look up what a certificate needs in the register: a person, a valve, the certificate itself."""

from __future__ import annotations

from typing import Any
from uuid import UUID

from firstlift.core.errors import FirstliftError, Problem
from firstlift.core.register.choose import search_key
from firstlift.core.register.equipment import Installation, RegisteredValve
from firstlift.core.register.people import Person
from firstlift.core.register.places import Position, Site
from firstlift.core.register.work import Certificate
from firstlift.store.read import Reader


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


def valve_by(reader: Reader, serial: str, maker: str) -> RegisteredValve:
    """Find a valve by serial, and by maker where several share one.

    Parameters
    ----------
    reader : Reader
    serial, maker : str
        As the job sheet states them.

    Returns
    -------
    RegisteredValve

    Raises
    ------
    FirstliftError
        CRT-006 none, or more than one.
    """
    found = reader.by_key(RegisteredValve, serial)
    if len(found) > 1 and maker:
        found = [valve for valve in found if search_key(valve.maker) == search_key(maker)] or found
    if len(found) != 1:
        count = f"{len(found)} valves" if found else "no valve"
        raise FirstliftError(
            Problem(
                "CRT-006",
                f"the register has {count} with serial '{serial[:60]}'",
                "[valve] serial",
                "one valve, with the serial of the job sheet",
                "Bring the valve into the register first, or name its maker on the job sheet",
            )
        )
    return found[0]


def place_of_valve(reader: Reader, valve: RegisteredValve) -> tuple[Position | None, str]:
    """Give where a valve hangs, and the site's time zone.

    Parameters
    ----------
    reader : Reader
    valve : RegisteredValve

    Returns
    -------
    position : Position or None
    zone : str
        UTC where it hangs nowhere.
    """
    hung: list[Any] = reader.list(Installation, valve_id=valve.id, until=None)
    if not hung:
        return None, "UTC"
    position = reader.get(Position, hung[0].position_id)
    return position, reader.get(Site, position.site_id).zone
