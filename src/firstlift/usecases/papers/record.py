"""Bring an analysed test into the register, with the files it was computed from, and give it back from there."""

from __future__ import annotations

import hashlib
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from uuid import UUID

from firstlift.certificate.manifest import recording_name
from firstlift.core.errors import FirstliftError, Problem
from firstlift.core.register.work import ValveTest
from firstlift.core.units import UNITS
from firstlift.figures import Past
from firstlift.formats.jobsheet import read_jobsheet
from firstlift.store.files import write_kept
from firstlift.store.history import past_tests
from firstlift.store.open import Store
from firstlift.store.read import Reader
from firstlift.usecases.analyse import Analysed, analyse_jobsheet
from firstlift.usecases.compare import differences
from firstlift.usecases.register.analyse import FilledAnalysis, analyse_in_register, keep_test, seat_of_test


def keep_sheet(store: Store, sheet: Path, *, person_id: UUID) -> ValveTest:
    """Analyse a job sheet against the register and keep the test, or give the one that is kept of it already.

    Parameters
    ----------
    store : Store
    sheet : Path
    person_id : UUID
        Who tested.

    Returns
    -------
    ValveTest

    Raises
    ------
    FirstliftError
        REG-020 to REG-025, as for ``firstlift analyse --store --keep``.
    """
    with tempfile.TemporaryDirectory(prefix="firstlift-test-") as folder:
        return keep_or_find(store, analyse_in_register(store, sheet, Path(folder)), person_id=person_id)


def keep_or_find(store: Store, filled: FilledAnalysis, *, person_id: UUID) -> ValveTest:
    """Keep a test, or give the one that is kept of the same recording and job sheet.

    Parameters
    ----------
    store : Store
    filled : FilledAnalysis
    person_id : UUID
        Who tested.

    Returns
    -------
    ValveTest

    Raises
    ------
    FirstliftError
        REG-025 the recording is kept with another job sheet.
    """
    sheet = hashlib.sha256(filled.sheet).hexdigest()
    with store.read() as reader:
        known = reader.list(ValveTest, recording_sha256=filled.analysed.analysis.result.recording.sha256)
    same = [test for test in known if test.sheet_sha256 == sheet]
    if same:
        return same[0]
    return keep_test(store, filled, who=str(person_id), people=(person_id,))


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
    with tempfile.TemporaryDirectory(prefix="firstlift-test-") as folder:
        sheet = Path(folder) / "jobsheet.toml"
        write_kept(reader.folder, test.sheet_sha256, sheet)
        job = read_jobsheet(sheet)
        recording = Path(folder) / recording_name(job.recording.file)
        write_kept(reader.folder, test.recording_sha256, recording)
        analysed = analyse_jobsheet(sheet, recording, seat_of_test(reader, test, job))
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
