"""Bring an analysed test into the register, with the files it was computed from, and give it back from there."""

from __future__ import annotations

import datetime as dt
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from uuid import UUID, uuid4
from zoneinfo import ZoneInfo

from firstlift.certificate.manifest import recording_name
from firstlift.core.errors import FirstliftError, Problem
from firstlift.core.register.work import HowTested, UsedInstrument, ValveTest
from firstlift.core.result import Result
from firstlift.core.units import UNITS
from firstlift.figures import Past
from firstlift.store.files import keep_file, write_kept
from firstlift.store.history import past_tests
from firstlift.store.read import Reader
from firstlift.store.work import Work
from firstlift.usecases.analyse import Analysed, analyse_jobsheet
from firstlift.usecases.compare import differences
from firstlift.usecases.papers.find import place_of_valve, valve_by


def record_test(work: Work, analysed: Analysed, people: tuple[UUID, ...]) -> ValveTest:
    """Add a test to the register, or give the one that is there of the same job sheet and recording.

    Parameters
    ----------
    work : Work
    analysed : Analysed
    people : tuple of UUID
        Who tested.

    Returns
    -------
    ValveTest

    Raises
    ------
    FirstliftError
        CRT-006 the valve is not in the register; STO-010, STO-012 a file cannot be kept.
    """
    sheet = keep_file(work.folder, analysed.sheet)
    recording = keep_file(work.folder, analysed.recording)
    known = work.list(ValveTest, recording_sha256=recording)
    same = [test for test in known if test.sheet_sha256 == sheet]
    if same:
        return same[0]
    test = _test_of(work, analysed, people, sheet, recording)
    work.add(test)
    return test


def _test_of(work: Work, analysed: Analysed, people: tuple[UUID, ...], sheet: str, recording: str) -> ValveTest:
    job, result = analysed.job, analysed.analysis.result
    valve = valve_by(work, job.valve.serial, job.valve.maker)
    position, zone = place_of_valve(work, valve)
    noon = dt.datetime.combine(job.visit.date, dt.time(12), tzinfo=ZoneInfo(zone))
    value, u, bound = judged_value(result)
    return ValveTest(
        id=uuid4(),
        valve_id=valve.id,
        kind=HowTested.PULL,
        purpose=job.visit.purpose,
        at=(job.recording.started_at or noon).astimezone(dt.UTC),
        zone=zone,
        day=job.visit.date,
        position_id=None if position is None else position.id,
        people=people,
        verdict="" if result.verdict is None else str(result.verdict.outcome),
        disposition=str(result.disposition.outcome),
        set_pressure_pa=value,
        expanded_uncertainty_pa=u,
        lower_bound_pa=bound,
        instruments=tuple(UsedInstrument(spec.serial, str(spec.measures)) for spec in job.channels if spec.serial),
        result=result,
        sheet_sha256=sheet,
        recording_sha256=recording,
    )


def judged_value(result: Result) -> tuple[float | None, float | None, float | None]:
    """Give the value that stands for a test: as found its first loading, as left its last opening.

    Parameters
    ----------
    result : Result

    Returns
    -------
    set_pressure_pa, expanded_uncertainty_pa, lower_bound_pa : float or None, [Pa gauge]
    """
    if result.as_found is not None:
        found = result.as_found
        return found.set_pressure_pa, found.expanded_uncertainty_pa, found.lower_bound_pa
    if result.as_left is not None and result.as_left.pulls:
        last = result.as_left.pulls[-1]
        return last.set_pressure_pa, last.expanded_uncertainty_pa, None
    return None, None, max((p.lower_bound_pa for p in result.pulls if p.lower_bound_pa is not None), default=None)


@contextmanager
def kept_test(reader: Reader, test: ValveTest) -> Iterator[Analysed]:
    """Analyse a test again from its kept files, for as long as a block lasts.

    Parameters
    ----------
    reader : Reader
    test : ValveTest

    Returns
    -------
    context of Analysed

    Raises
    ------
    FirstliftError
        CRT-011 this release computes another result than the one in the register; STO-010, STO-011.
    """
    from firstlift.formats.jobsheet import read_jobsheet

    with tempfile.TemporaryDirectory(prefix="firstlift-test-") as folder:
        sheet = Path(folder) / "jobsheet.toml"
        write_kept(reader.folder, test.sheet_sha256, sheet)
        recording = Path(folder) / recording_name(read_jobsheet(sheet).recording.file)
        write_kept(reader.folder, test.recording_sha256, recording)
        analysed = analyse_jobsheet(sheet, recording)
        again = analysed.analysis.result
        if test.result is not None and (found := differences(analysed.job, test.result, again)):
            raise FirstliftError(
                Problem(
                    "CRT-011",
                    f"this release computes another result than the register holds: {found[0].where} was "
                    f"{found[0].kept}, is {found[0].again}",
                    f"test {test.id}",
                    f"method {test.result.method.id} as it was",
                    "Issue it with the release that analysed it, or draft it anew from the job sheet",
                )
            )
        yield analysed


def history_of(reader: Reader, test: ValveTest, unit: str) -> tuple[Past, ...]:
    """Give the earlier tests of a test's valve, in a unit.

    Parameters
    ----------
    reader : Reader
    test : ValveTest
    unit : str
        Of the nameplate.

    Returns
    -------
    tuple of Past
        Without those that were corrected, and without later ones.
    """
    factor = UNITS[unit].factor

    def shown(pa: float | None) -> float | None:
        return None if pa is None else pa / factor

    return tuple(
        Past(
            past.day,
            shown(past.set_pressure_pa),
            shown(past.expanded_uncertainty_pa),
            shown(past.lower_bound_pa),
            as_left=past.purpose == "as-left",
        )
        for past in past_tests(reader, valve_id=test.valve_id)
        if past.id != test.id and past.superseded_by is None and past.day <= test.day
        if past.set_pressure_pa is not None or past.lower_bound_pa is not None
    )
