"""Who is sent papers: somebody at an owner's, for one site or for all; and the addresses that can be written to.

References
----------
.. [1] RFC 5321, 4.1.2 and 4.5.3.1, and RFC 5322, 3.4.1 (memory): the dot-string and its lengths. Quoted local parts,
   comments and address literals are left out: nobody's mail address looks like that.
.. [2] RFC 5890 and 1034 (memory): labels of a host's name.
"""

from __future__ import annotations

import re
from dataclasses import dataclass, field
from uuid import UUID

from firstlift.core.errors import FirstliftError, Problem
from firstlift.core.register.people import PersonalDetails

_LONGEST_LOCAL = 64
_LONGEST_ADDRESS = 254
_LONGEST_NAME = 120
_ATOM = r"[A-Za-z0-9!#$%&'*+/=?^_`{|}~-]+"
_LOCAL = re.compile(rf"{_ATOM}(?:\.{_ATOM})*")
_DOMAIN = re.compile(r"(?:[A-Za-z0-9](?:[A-Za-z0-9-]{0,61}[A-Za-z0-9])?\.)+[A-Za-z](?:[A-Za-z0-9-]{0,61}[A-Za-z0-9])")


@dataclass(frozen=True, slots=True)
class Contact:
    """Somebody who is sent papers, in ``language``. ``site_id`` None: for all sites of the owner.

    What identifies them stands apart as a person's does: ``details_sha256`` is the hash of ``details`` and stays in the
    chain when these are removed. Make one by `firstlift.core.register.codec.with_details`, which fills it.
    """

    id: UUID
    owner_id: UUID
    site_id: UUID | None = None
    role: str = ""
    language: str = "en"
    details: PersonalDetails | None = field(default=None, metadata={"chain": "omit"})
    details_sha256: str = ""
    active: bool = True


def mail_address(text: str, where: str = "address") -> str:
    """Read a mail address as people write it; a name of the net in other letters becomes its form in ASCII.

    Parameters
    ----------
    text : str
    where : str
        Said in the message.

    Returns
    -------
    str
        ASCII, no longer than 254 characters; nothing in it ends a line or begins a second address.

    Raises
    ------
    FirstliftError
        SND-001.
    """
    local, at, domain = text.strip().rpartition("@")
    try:
        plain = domain if domain.isascii() else domain.encode("idna").decode("ascii")
    except UnicodeError:
        plain = ""
    whole = f"{local}@{plain}"
    fits = len(local) <= _LONGEST_LOCAL and len(whole) <= _LONGEST_ADDRESS
    if not (at and fits and _LOCAL.fullmatch(local) and _DOMAIN.fullmatch(plain)):
        raise FirstliftError(
            Problem(
                "SND-001",
                f"'{_shown(text)}' is no mail address that can be written to",
                where,
                "one such as name@example.org",
                "Look for a blank, a comma or a letter too many",
            )
        )
    return whole


def contact_name(text: str, where: str = "name") -> str:
    """Read the name of somebody who is written to: one line, nothing in it that cannot be seen.

    Parameters
    ----------
    text : str
    where : str

    Returns
    -------
    str

    Raises
    ------
    FirstliftError
        SND-001.
    """
    name = text.strip(" ")
    if not name or len(name) > _LONGEST_NAME or not name.isprintable():
        raise FirstliftError(
            Problem(
                "SND-001",
                f"'{_shown(text)}' is no name that a message can carry",
                where,
                f"a name of at most {_LONGEST_NAME} characters, on one line",
            )
        )
    return name


def _shown(text: str) -> str:
    return "".join(c if c.isprintable() else " " for c in text[:80])
