"""What people may do in the app."""

from __future__ import annotations

from enum import StrEnum


class Role(StrEnum):
    """Technicians test, reviewers look over and issue, the office also plans and gives sign-ins, readers read."""

    TECHNICIAN = "technician"
    REVIEWER = "reviewer"
    OFFICE = "office"
    READER = "reader"


class May(StrEnum):
    """What needs permission."""

    TEST = "bring in tests and draft their certificates"
    REVIEW = "review, issue and withdraw certificates"
    PLAN = "plan visits"
    SEND = "send papers and keep contacts"
    PEOPLE = "give people their sign-in"


_MAY = {
    Role.TECHNICIAN: {May.TEST, May.PLAN, May.SEND},
    Role.REVIEWER: {May.TEST, May.PLAN, May.SEND, May.REVIEW},
    Role.OFFICE: {May.TEST, May.PLAN, May.SEND, May.REVIEW, May.PEOPLE},
    Role.READER: set[May](),
}
# on a single laptop nobody signs in: the register's own word for a person says what they do there
_SAID = {
    "reviewer": Role.REVIEWER,
    "engineer": Role.REVIEWER,
    "office": Role.OFFICE,
    "planner": Role.OFFICE,
    "inspector": Role.READER,
    "reader": Role.READER,
}


def allows(role: Role, what: May) -> bool:
    """Say whether a role may do something.

    Parameters
    ----------
    role : Role
    what : May

    Returns
    -------
    bool
    """
    return what in _MAY[role]


def role_said(word: str) -> Role:
    """Give the role that fits the register's word for what a person is.

    Parameters
    ----------
    word : str

    Returns
    -------
    Role
        Technician where the word says nothing else.
    """
    return _SAID.get(word.strip().casefold(), Role.TECHNICIAN)
