"""The job of a test to come: a valve of the register, with the instruments that will be used."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable
from typing import Any

from firstlift.core.job import Job
from firstlift.core.register.equipment import Instrument
from firstlift.formats.jobsheet import parse_jobsheet
from firstlift.formats.sheet_write import write_sheet
from firstlift.store.read import Reader
from firstlift.usecases.register.fill import Found, fill_document
from firstlift.usecases.register.seats import with_seat_in_force

# any area serves to read the sheet by: the record in force depends on the instruments that the sheet names
_ANY_SEAT = {"area": "1 mm2", "standard_uncertainty": "0 mm2"}


def job_to_come(
    reader: Reader, found: Found, instruments: Iterable[Instrument], on: dt.date, *, where: str
) -> tuple[dict[str, Any], Job]:
    """Fill a job sheet whose recording is yet to be made, and give it the seat in force.

    Parameters
    ----------
    reader : Reader
    found : Found
        Valve, position, site and owner.
    instruments : iterable of Instrument
        Those that will be used.
    on : date
    where : str
        Said in messages.

    Returns
    -------
    filled : dict
        The sheet's tables, without a seat.
    job : Job
        With the seat in force.

    Raises
    ------
    FirstliftError
        SEA-018 no seat record serves; else as for a job sheet.
    """
    document = {
        "format": "firstlift-jobsheet-1",
        "visit": {"date": on, "purpose": "as-found"},
        "valve": {"tag": found.position.tag},
        "recording": {"file": "to-come.csv", "time": "time"},
        "channel": [
            {"column": one.serial, "measures": str(one.measures), "serial": one.serial}
            for one in instruments
            if one.serial
        ],
    }
    filled = fill_document(reader, document, found, on, where=where)
    read = parse_jobsheet(write_sheet({**filled, "seat": _ANY_SEAT}).encode(), where=where)
    job, _ = with_seat_in_force(reader, found.valve.id, read)
    return filled, job
