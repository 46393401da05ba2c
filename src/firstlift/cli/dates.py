"""Dates as options write them."""

from __future__ import annotations

import datetime as dt

from firstlift.core.errors import Problem, UsageError


def read_date(text: str | None, option: str) -> dt.date | None:
    """Read a date of an option.

    Parameters
    ----------
    text : str or None
    option : str
        Said in the message.

    Returns
    -------
    date or None

    Raises
    ------
    UsageError
        REG-027 it is no date.
    """
    if text is None:
        return None
    try:
        return dt.date.fromisoformat(text)
    except ValueError:
        raise UsageError(Problem("REG-027", f"'{text}' is no date", option, "a date such as 2026-05-12")) from None
