"""Who does it: a person of the register by name or identifier, else the program."""

from __future__ import annotations

import os

from firstlift.store.open import Store
from firstlift.usecases.register.entries import find_entry


def who_of(store: Store, option: str | None) -> str:
    """Give what stands in the chain for who does something.

    Parameters
    ----------
    store : Store
    option : str or None
        A person of the register; FIRSTLIFT_BY where None.

    Returns
    -------
    str
        The person's identifier, or "program:cli": never a name.

    Raises
    ------
    FirstliftError
        REG-028 no such person.
    """
    name = option or os.environ.get("FIRSTLIFT_BY")
    if not name:
        return "program:cli"
    with store.read() as reader:
        return str(find_entry(reader, "person", name).id)
