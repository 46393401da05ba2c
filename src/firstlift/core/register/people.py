"""People: what identifies them stands apart, so that it can be removed while the history holds."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass, field
from uuid import UUID


@dataclass(frozen=True, slots=True)
class PersonalDetails:
    """What identifies a person. ``salt`` is random text: without it the chain's hash cannot be guessed from."""

    salt: str
    name: str
    email: str = ""
    phone: str = ""


@dataclass(frozen=True, slots=True)
class Person:
    """Someone who works on valves or witnesses it.

    ``details_sha256`` is the hash of ``details``; it stays in the chain when the details are removed.
    Make one by `firstlift.core.register.codec.new_person`, which fills it.
    """

    id: UUID
    role: str
    organisation: str = ""
    details: PersonalDetails | None = field(default=None, metadata={"chain": "omit"})
    details_sha256: str = ""
    active: bool = True


@dataclass(frozen=True, slots=True)
class Qualification:
    """What a person may do, until when: a task is "pull", "adjust", "break-seals", "sign" or one of the owner's."""

    id: UUID
    person_id: UUID
    task: str
    granted: dt.date
    expires: dt.date | None = None
    reference: str = ""
    withdrawn: dt.date | None = None

    def holds(self, on: dt.date) -> bool:
        """Say whether the person may do it on a date."""
        ended = [day for day in (self.expires, self.withdrawn) if day is not None]
        return self.granted <= on and all(on <= day for day in ended)
