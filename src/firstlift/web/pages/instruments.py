"""Instruments: which may be used today, and every calibration of one."""

from __future__ import annotations

from fastapi import APIRouter
from fastapi.responses import Response

from firstlift.core.register.choose import search_key
from firstlift.core.register.equipment import Calibration, Instrument, UseCheck
from firstlift.store.history import used_in
from firstlift.usecases.register.told import tell
from firstlift.web.here import HereNow
from firstlift.web.lists import identifier, instrument_state, instrument_states, teller, today
from firstlift.web.page import show

router = APIRouter()


@router.get("/instruments")
def instruments_page(here: HereNow) -> Response:
    """List the instruments in use, those that are overdue first."""
    on = today()
    with here.store.read() as reader:
        states = instrument_states(reader, on)
    states.sort(key=lambda one: (one.in_date, one.days if one.days is not None else -(10**6)))
    return show(here, "instruments.html", states=states, today=on)


@router.get("/instruments/{instrument_id}")
def instrument_page(here: HereNow, instrument_id: str) -> Response:
    """Show an instrument with its calibrations and checks."""
    on = today()
    with here.store.read() as reader:
        instrument = reader.get(Instrument, identifier(instrument_id))
        values = {
            "instrument": instrument,
            "state": instrument_state(reader, instrument, on) if instrument.active else None,
            "calibrations": reader.list(Calibration, instrument_id=instrument.id, order=("-date", "-id")),
            "checks": reader.list(UseCheck, instrument_id=instrument.id, order=("-at", "-id"), limit=20),
            "used": len(used_in(reader, search_key(instrument.serial))),
            "changes": [
                {**change, "who": teller(reader, str(change["who"]))} for change in tell(reader, instrument).changes
            ],
        }
    return show(here, "instrument.html", today=on, **values)
