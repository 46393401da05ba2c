"""The seat as a test computed with it, exactly: a seat from the register shares errors with the test's instruments."""

from __future__ import annotations

import json
import math

from firstlift.core.errors import FirstliftError, Problem
from firstlift.core.valve import Seat, SeatShare

SEAT = "seat.json"
FORMAT = "firstlift-seat-1"


def seat_to_bytes(seat: Seat) -> bytes:
    """Give a seat as JSON.

    Parameters
    ----------
    seat : Seat

    Returns
    -------
    bytes
        The same for the same seat; numbers come back as they were.
    """
    shares = [{"instrument": s.instrument, "part": s.part, "u_area_m2": s.u_area_m2} for s in seat.shares]
    data = {
        "format": FORMAT,
        "area_m2": seat.area_m2,
        "u_area_m2": seat.u_area_m2,
        "half_width_m2": seat.half_width_m2,
        "source": seat.source,
        "stated": seat.stated,
        "shares": shares,
        "degrees_of_freedom": None if math.isinf(seat.degrees_of_freedom) else seat.degrees_of_freedom,
    }
    return (json.dumps(data, indent=1, ensure_ascii=False, allow_nan=False) + "\n").encode()


def seat_from_bytes(data: bytes) -> Seat:
    """Read a seat back.

    Parameters
    ----------
    data : bytes

    Returns
    -------
    Seat

    Raises
    ------
    FirstliftError
        VER-002 it is no seat of this format.
    """
    try:
        found = json.loads(data)
        if found["format"] != FORMAT:
            raise _unreadable(f"format {found['format']!r}")
        shares = tuple(SeatShare(str(s["instrument"]), str(s["part"]), float(s["u_area_m2"])) for s in found["shares"])
        freedom = found["degrees_of_freedom"]
        area, u_area, half = (float(found[key]) for key in ("area_m2", "u_area_m2", "half_width_m2"))
        # anybody may have attached anything, "nan" too
        if not all(math.isfinite(size) and size >= 0.0 for size in (area, u_area, half)):
            raise _unreadable("an area that is none")
        if not all(math.isfinite(share.u_area_m2) for share in shares):
            raise _unreadable("a share that is none")
        many = math.inf if freedom is None else float(freedom)
        return Seat(area, u_area, half, str(found["source"]), str(found["stated"]), shares, many)
    except (ValueError, KeyError, TypeError, RecursionError) as error:
        raise _unreadable(type(error).__name__) from error


def _unreadable(why: str) -> FirstliftError:
    return FirstliftError(Problem("VER-002", f"the certificate's seat cannot be read: {why}"[:200], SEAT, FORMAT))
