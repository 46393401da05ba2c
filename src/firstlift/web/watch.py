"""What whoever runs the app should see: who was refused what, a line each on the standard error stream."""

from __future__ import annotations

import sys

from fastapi import Request

from firstlift.store.side_file import text_of
from firstlift.usecases.register.place import now

_WATCHED = ("WEB-001", "WEB-002", "WEB-003", "WEB-004")
_LONGEST = 200


def tell_refused(request: Request, code: str, who: str = "-") -> None:
    """Tell of a refusal by who asks or what they may; of others nothing.

    Parameters
    ----------
    request : Request
    code : str
        The problem's.
    who : str
        A person's identifier or a client's mark; never what was typed as a name, which may be a password.
    """
    if code not in _WATCHED:
        return
    address = request.client.host if request.client else "-"
    # written as a literal: no address that is asked for can begin a line of its own
    path = repr(request.url.path[:_LONGEST])
    sys.stderr.write(f"{text_of(now())} refused {code} {request.method} {path} from {address} by {who}\n")
