"""Make, open and bring up a register: a folder or a PostgreSQL URL, from an option or the environment."""

from __future__ import annotations

import datetime as dt
import os
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from uuid import uuid4

from firstlift.store.open import Store, create_store, open_store, upgrade_store

DEFAULT_PLACE = "firstlift-register"


def now() -> dt.datetime:
    """Give this instant, in UTC.

    Returns
    -------
    datetime
    """
    return dt.datetime.now(dt.UTC)


def place_of(option: str | None) -> tuple[str, Path | None]:
    """Give where the register is: the option, else FIRSTLIFT_STORE, else ./firstlift-register.

    Parameters
    ----------
    option : str or None
        A folder or a PostgreSQL URL.

    Returns
    -------
    where : str
    folder : Path or None
        Where recordings lie beside a database with a URL: FIRSTLIFT_RECORDINGS, else ./firstlift-recordings.
    """
    where = option or os.environ.get("FIRSTLIFT_STORE") or DEFAULT_PLACE
    kept = os.environ.get("FIRSTLIFT_RECORDINGS")
    return where, Path(kept) if kept and "://" in where else None


def create_register(option: str | None = None) -> Store:
    """Make a new, empty register.

    Parameters
    ----------
    option : str or None
        See `place_of`.

    Returns
    -------
    Store

    Raises
    ------
    FirstliftError
        STO-003 there is one already, STO-004 the folder cannot be made, STO-005 the database cannot be reached.
    """
    where, folder = place_of(option)
    return create_store(where, store_id=uuid4(), at=now(), folder=folder)


@contextmanager
def opened(option: str | None = None) -> Iterator[Store]:
    """Open a register for as long as a block lasts.

    Parameters
    ----------
    option : str or None
        See `place_of`.

    Returns
    -------
    context of Store

    Raises
    ------
    FirstliftError
        STO-008 there is none, STO-009 it is of another release.
    """
    where, folder = place_of(option)
    store = open_store(where, folder=folder)
    try:
        yield store
    finally:
        store.close()


def upgrade_register(option: str | None = None) -> tuple[str, str]:
    """Bring a register of an older release up to this one.

    Parameters
    ----------
    option : str or None

    Returns
    -------
    before, after : str
        The steps of its schema.

    Raises
    ------
    FirstliftError
        STO-008 there is none, STO-009 it is of a newer release.
    """
    where, folder = place_of(option)
    return upgrade_store(where, folder=folder)
