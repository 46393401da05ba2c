"""The job sheet of a test to come: of a valve in the register, with the instruments that will be used."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from pathlib import Path
from tempfile import TemporaryDirectory
from uuid import UUID

from firstlift.core.errors import FirstliftError, Problem
from firstlift.core.job import Measures
from firstlift.core.register.equipment import Installation, RegisteredValve
from firstlift.core.register.places import Position, Site
from firstlift.core.register.work import HowTested, ValveTest
from firstlift.formats.sheet_write import write_sheet
from firstlift.store.read import Reader
from firstlift.usecases.register.coming import job_to_come
from firstlift.usecases.register.fill import find_by_tag
from firstlift.web.lists import InstrumentState

_NEEDED = (Measures.PULL_FORCE, Measures.LINE_PRESSURE, Measures.SPINDLE_LIFT, Measures.ACOUSTIC)


def usual_instruments(reader: Reader, valve_id: UUID, states: Sequence[InstrumentState]) -> list[str]:
    """Give the serials to begin with: those of the valve's last pull test, else one of each kind that is in date.

    Parameters
    ----------
    reader : Reader
    valve_id : UUID
    states : sequence of InstrumentState

    Returns
    -------
    list of str
    """
    pulls = [test for test in reader.list(ValveTest, valve_id=valve_id, order=("-at",)) if test.kind is HowTested.PULL]
    used = {one.serial for test in pulls[:1] for one in test.instruments}
    chosen = [state.instrument.serial for state in states if state.instrument.serial in used and state.in_date]
    if chosen:
        return chosen
    by_kind = {state.instrument.measures: state.instrument.serial for state in reversed(states) if state.in_date}
    return [by_kind[measures] for measures in _NEEDED if measures in by_kind]


@contextmanager
def planned_sheet(
    reader: Reader, valve: RegisteredValve, states: Sequence[InstrumentState], serials: Sequence[str], on: dt.date
) -> Iterator[Path]:
    """Write the sheet of a test to come, for as long as a block lasts.

    Parameters
    ----------
    reader : Reader
    valve : RegisteredValve
    states : sequence of InstrumentState
    serials : sequence of str
        Instruments that will be used.
    on : date

    Returns
    -------
    context of Path

    Raises
    ------
    FirstliftError
        WEB-009 the valve hangs nowhere; SEA-018 no seat record serves; else as for a job sheet.
    """
    hung = reader.list(Installation, valve_id=valve.id, until=None)
    if not hung:
        raise FirstliftError(Problem("WEB-009", "the valve hangs nowhere", valve.serial, "a valve at a position"))
    position = reader.get(Position, hung[0].position_id)
    where = f"plan of {position.tag}"
    chosen = [state.instrument for state in states if state.instrument.serial in serials]
    found = find_by_tag(reader, position.tag, on, site=reader.get(Site, position.site_id).name, where=where)
    filled, job = job_to_come(reader, found, chosen, on, where=where)
    filled["seat"] = {
        "area": f"{job.seat.area_m2 * 1e6!r} mm2",
        "standard_uncertainty": f"{job.seat.standard_uncertainty_m2 * 1e6!r} mm2",
    }
    with TemporaryDirectory(prefix="firstlift-plan-") as folder:
        sheet = Path(folder) / f"{position.tag.replace('/', '-')[:60]}.toml"
        sheet.write_text(write_sheet(filled), encoding="utf-8")
        yield sheet
