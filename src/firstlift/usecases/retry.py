"""When what could not be delivered is tried again: web-hooks and messages wait alike."""

from __future__ import annotations

import datetime as dt

# after each failed try one waits so long; after the last of these it is given up
WAITS_S = (5, 300, 1800, 7200, 18000, 36000, 50400, 72000, 86400)
# where nothing was reached at all: a laptop is offline for a week and comes back
_LONGEST_OFFLINE_S = 1800


def next_try(tries: int, at: dt.datetime, *, reached: bool = True) -> dt.datetime | None:
    """Give when to try again.

    Parameters
    ----------
    tries : int
        How many failed before this one.
    at : datetime
        Now.
    reached : bool
        Whether somebody answered; where nobody did, it is never given up.

    Returns
    -------
    datetime or None
        None: no more.
    """
    if not reached:
        return at + dt.timedelta(seconds=min(WAITS_S[min(tries, len(WAITS_S) - 1)], _LONGEST_OFFLINE_S))
    return at + dt.timedelta(seconds=WAITS_S[tries]) if tries < len(WAITS_S) else None
