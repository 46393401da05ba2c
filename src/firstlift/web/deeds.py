"""What was done with sign-ins, sessions, tokens and web-hooks, written into the register's chain.

Accounts are kept beside the register, so that a password's hash is in no export; that somebody was given one, or lost
it, belongs into the chain. Such an entry of the chain has no row of its own: it says who, when, what, about whom.
"""

from __future__ import annotations

from enum import StrEnum
from uuid import UUID

from firstlift.store.open import Store
from firstlift.usecases.register.place import now

# who acts where nobody is known yet
APP = "program:app"


class Deed(StrEnum):
    """What was done."""

    SIGNED_IN = "signed-in"
    TOO_MANY_TRIES = "too-many-tries"
    SIGNED_OUT = "signed-out"
    SESSION_ENDED = "session-ended"
    SESSIONS_ENDED = "sessions-ended"
    SIGN_IN_GIVEN = "sign-in-given"
    SIGN_IN_TAKEN = "sign-in-taken"
    PASSWORD_CHANGED = "password-changed"
    LOOK_CHOSEN = "look-chosen"
    TOKEN_MADE = "token-made"
    TOKEN_ENDED = "token-ended"
    HOOK_MADE = "hook-made"
    HOOK_ENDED = "hook-ended"
    HOOK_GAVE_UP = "hook-gave-up"
    CHAIN_PROVED = "chain-proved"


def note(store: Store, deed: Deed, *, who: str, about: UUID, **said: str) -> None:
    """Write a deed into the chain.

    Parameters
    ----------
    store : Store
    deed : Deed
    who : str
        A person's identifier, or "program:<name>".
    about : UUID
        The person, token, hook or store it was done to.
    **said : str
        More of it; never a name, a password or a secret.
    """
    with store.work(at=now(), who=who) as work:
        work.note_deed(str(deed), about, said)
