"""Analyse a recording against the register, keep the test with all it was computed from, and compute it again."""

from __future__ import annotations

import dataclasses
import datetime as dt
import tempfile
from dataclasses import dataclass
from pathlib import Path
from typing import Any
from uuid import UUID, uuid4
from zoneinfo import ZoneInfo

from firstlift.core.analysis import analyse
from firstlift.core.errors import FirstliftError, Problem
from firstlift.core.job import Job, Purpose
from firstlift.core.register.work import AdjustmentMade, HowTested, IdentityCheck, SiteVisit, UsedInstrument, ValveTest
from firstlift.core.result import Result
from firstlift.core.seat.choose import Choice, shared_tags
from firstlift.core.seat.record import SeatRecord, seat_of
from firstlift.core.valve import Seat
from firstlift.formats.jobsheet import parse_jobsheet
from firstlift.formats.load import read_recording
from firstlift.formats.sheet_write import write_sheet
from firstlift.store.files import keep_bytes, keep_file, read_kept, write_kept
from firstlift.store.open import Store
from firstlift.store.read import Reader
from firstlift.usecases.analyse import Analysed, limits_of, worded
from firstlift.usecases.register.fill import (
    Found,
    calibration_of,
    fill_document,
    find_by_tag,
    instrument_by_serial,
    read_document,
)
from firstlift.usecases.register.place import now
from firstlift.usecases.register.seats import held_of, seat_table, with_seat_in_force

# stands in while the sheet is read, until the seat in force is chosen by the instruments that the sheet names
_NO_SEAT = {"area": "1 mm2", "standard_uncertainty": "0 mm2"}


@dataclass(frozen=True, slots=True, eq=False)
class FilledAnalysis:
    """An analysis whose job was filled from the register.

    ``sheet`` is the whole job sheet, ready to be kept; ``seat_choice`` which seat record was taken and why, None
    where the sheet states a seat itself.
    """

    analysed: Analysed
    found: Found
    sheet: bytes
    seat_record_id: UUID | None
    instruments: tuple[UsedInstrument, ...]
    seat_choice: Choice | None = None


def analyse_in_register(store: Store, sheet: Path, folder: Path) -> FilledAnalysis:
    """Fill a job sheet from the register and analyse its recording.

    Parameters
    ----------
    store : Store
    sheet : Path
        Needs no more than date and purpose, the tag, the recording and its columns with serials.
    folder : Path
        Where the filled sheet is written.

    Returns
    -------
    FilledAnalysis

    Raises
    ------
    FirstliftError
        REG-020 the tag, REG-021 a contradiction, REG-022 a calibration that cannot be used,
        SEA-018 no seat record serves, REG-024 an identity check that did not fit; else as for a job sheet and its
        recording.
    """
    try:
        data = sheet.read_bytes()
    except OSError as error:
        raise FirstliftError(
            Problem("JOB-001", f"the job sheet cannot be read: {error.strerror}", str(sheet), "a readable TOML file")
        ) from error
    document = read_document(data, sheet.name)
    with store.read() as reader:
        on, name, site = _asked(document, sheet.name)
        found = find_by_tag(reader, name, on, site=site, where=sheet.name)
        _check_identity(reader, found, on)
        filled = fill_document(reader, document, found, on, where=sheet.name)
        job, choice = _job_with_seat(reader, filled, found, sheet.name)
        instruments = used_instruments(reader, job)
    recording = sheet.parent / job.recording.file
    filled["recording"] = {**filled["recording"], "file": recording.name}
    whole = write_sheet(filled).encode()
    written = folder / sheet.name
    written.write_bytes(whole)
    record_id = choice.record.id if choice is not None and choice.record is not None else None
    return FilledAnalysis(_analysed(job, written, recording), found, whole, record_id, instruments, choice)


def keep_test(
    store: Store,
    filled: FilledAnalysis,
    *,
    who: str,
    visit_id: UUID | None = None,
    people: tuple[UUID, ...] = (),
    supersedes: UUID | None = None,
) -> ValveTest:
    """Keep an analysed test: its recording and job sheet as files, then the test, in one transaction.

    Parameters
    ----------
    store : Store
    filled : FilledAnalysis
    who : str
    visit_id : UUID or None
    people : tuple of UUID
    supersedes : UUID or None
        The test that this one corrects.

    Returns
    -------
    ValveTest

    Raises
    ------
    FirstliftError
        REG-025 this recording is kept already as a test of this valve that it does not supersede.
    """
    recording_sha256 = keep_file(store.folder, filled.analysed.recording)
    sheet_sha256 = keep_bytes(store.folder, filled.sheet)
    at = now()
    test = dataclasses.replace(
        _test_of(filled),
        visit_id=visit_id,
        people=people,
        supersedes=supersedes,
        recording_sha256=recording_sha256,
        sheet_sha256=sheet_sha256,
    )
    with store.work(at=at, who=who) as work:
        if visit_id is not None:
            work.get(SiteVisit, visit_id)
        if filled.analysed.job.recording.started_at is None and test.purpose is Purpose.AS_LEFT:
            test = dataclasses.replace(test, at=_after_the_turn(work, test))
        before = work.list(ValveTest, recording_sha256=recording_sha256, valve_id=test.valve_id, purpose=test.purpose)
        current = {each.id for each in before} - {each.supersedes for each in before} - {supersedes}
        if current:
            raise FirstliftError(
                Problem(
                    "REG-025",
                    "this recording is kept already",
                    f"test {min(current)}",
                    "a new recording, or the test that this one supersedes",
                    "Open that test and correct it there: reject a pull, or move first lift",
                )
            )
        work.add(test)
    return test


def recompute(reader: Reader, test: ValveTest, document: dict[str, Any] | None = None) -> Result:
    """Compute a kept test again from its own recording and job sheet.

    Parameters
    ----------
    reader : Reader
    test : ValveTest
    document : dict or None
        Tables to take in place of the kept job sheet's.

    Returns
    -------
    Result

    Raises
    ------
    FirstliftError
        REG-026 it keeps no recording; STO-010, STO-011 a file is not whole.
    """
    if document is None:
        document = kept_document(reader, test)
    job = parse_jobsheet(write_sheet(document).encode(), where=f"job sheet of test {test.id}")
    job = dataclasses.replace(job, seat=seat_of_test(reader, test, job))
    with tempfile.TemporaryDirectory(prefix="firstlift-") as name:
        recording = Path(name) / Path(job.recording.file).name
        write_kept(reader.folder, test.recording_sha256, recording)
        return _analysed(job, Path(name), recording).analysis.result


def seat_of_test(reader: Reader, test: ValveTest, job: Job) -> Seat:
    """Give the seat a kept test was computed with: its seat record's, tied to the test's instruments.

    Parameters
    ----------
    reader : Reader
    test : ValveTest
    job : Job
        Of its kept job sheet.

    Returns
    -------
    Seat
        The job sheet's own where no record was taken.
    """
    if test.seat_record_id is None:
        return job.seat
    record = reader.get(SeatRecord, test.seat_record_id)
    return seat_of(record, shared_tags(record, held_of(reader, job)))


def kept_document(reader: Reader, test: ValveTest) -> dict[str, Any]:
    """Give the tables of the job sheet that a test was computed by.

    Parameters
    ----------
    reader : Reader
    test : ValveTest

    Returns
    -------
    dict

    Raises
    ------
    FirstliftError
        REG-026 the test keeps no job sheet or no recording.
    """
    if not test.sheet_sha256 or not test.recording_sha256:
        raise FirstliftError(
            Problem("REG-026", "the test keeps no recording to compute from", f"test {test.id}", "a kept recording")
        )
    return read_document(read_kept(reader.folder, test.sheet_sha256), f"job sheet of test {test.id}")


def used_instruments(reader: Reader, job: Job) -> tuple[UsedInstrument, ...]:
    """Name a job's instruments and the calibrations that were in force.

    Parameters
    ----------
    reader : Reader
    job : Job

    Returns
    -------
    tuple of UsedInstrument
    """
    used: list[UsedInstrument] = []
    for spec in job.channels:
        if spec.serial:
            instrument = instrument_by_serial(reader, spec.serial)
            calibration = calibration_of(reader, instrument, job.visit.date) if instrument else None
            used.append(UsedInstrument(spec.serial, str(spec.measures), calibration.id if calibration else None))
    return tuple(dict.fromkeys(used))


def _asked(document: dict[str, Any], where: str) -> tuple[dt.date, str, str]:
    parts = (document.get(name) for name in ("visit", "valve"))
    visit, valve = (part if isinstance(part, dict) else {} for part in parts)
    on, name = visit.get("date"), valve.get("tag")
    if not isinstance(on, dt.date) or not isinstance(name, str) or not name.strip():
        raise FirstliftError(
            Problem("JOB-006", "the date or the tag is missing", where, "date in [visit] and tag in [valve]")
        )
    site = visit.get("site", "")
    return on, name, site if isinstance(site, str) else ""


def _check_identity(reader: Reader, found: Found, on: dt.date) -> None:
    """Stop where the last look at the nameplate did not fit the register."""
    checks = reader.list(IdentityCheck, valve_id=found.valve.id, order=("-at", "-id"))
    resolved = {check.resolves for check in checks}
    for check in checks:
        if check.at.date() <= on and check.mismatches and check.id not in resolved:
            raise FirstliftError(
                Problem(
                    "REG-024",
                    f"the valve at '{found.position.tag}' did not fit the register: {', '.join(check.mismatches)}",
                    f"identity check {check.id}",
                    "a check that fits",
                    "Look at the nameplate again, or correct the register, and add a check that resolves this one",
                )
            )


def _job_with_seat(reader: Reader, filled: dict[str, Any], found: Found, where: str) -> tuple[Job, Choice | None]:
    """Read the filled sheet; a sheet without a seat is given the one in force."""
    if "seat" in filled:
        return parse_jobsheet(write_sheet(filled).encode(), where=where), None
    job = parse_jobsheet(write_sheet({**filled, "seat": _NO_SEAT}).encode(), where=where)
    job, choice = with_seat_in_force(reader, found.valve.id, job)
    record = choice.record
    if record is None:  # refused above already; the type does not say so
        return job, choice
    filled["seat"] = seat_table(job.seat, record)
    return job, choice


def _analysed(job: Job, sheet: Path, recording: Path) -> Analysed:
    limits = limits_of(job, where=f"{sheet.name}, [rules]")
    read = read_recording(recording, job)
    return Analysed(sheet, job, limits, analyse(read, job, limits, worded(job)), recording)


def _test_of(filled: FilledAnalysis) -> ValveTest:
    job, result = filled.analysed.job, filled.analysed.analysis.result
    zone = filled.found.site.zone
    # stands in for a time that nobody recorded: as found comes before what was turned that day, as left after it
    hour = dt.time(6 if job.visit.purpose is Purpose.AS_FOUND else 14)
    about = dt.datetime.combine(job.visit.date, hour, ZoneInfo(zone))
    return ValveTest(
        uuid4(),
        filled.found.valve.id,
        HowTested.PULL,
        job.visit.purpose,
        job.recording.started_at or about,
        zone,
        job.visit.date,
        filled.found.position.id,
        seat_record_id=filled.seat_record_id,
        instruments=filled.instruments,
        **outcome_fields(result),
    )


def _after_the_turn(reader: Reader, test: ValveTest) -> dt.datetime:
    """Give when a test as left stands whose time nobody recorded: just after the last adjustment of its day."""
    zone = ZoneInfo(test.zone)
    made = reader.list(AdjustmentMade, valve_id=test.valve_id, order=("at", "id"))
    that_day = [one.at for one in made if one.at.astimezone(zone).date() == test.day]
    return that_day[-1].astimezone(zone) + dt.timedelta(minutes=1) if that_day else test.at


def outcome_fields(result: Result) -> dict[str, Any]:
    """Give the fields of a test that come out of its result.

    Parameters
    ----------
    result : Result

    Returns
    -------
    dict
    """
    judged = judged_value(result)
    return {
        "verdict": "" if result.verdict is None else str(result.verdict.outcome),
        "disposition": str(result.disposition.outcome),
        "set_pressure_pa": judged[0],
        "expanded_uncertainty_pa": judged[1],
        "lower_bound_pa": judged[2],
        "result": result,
    }


def judged_value(result: Result) -> tuple[float | None, float | None, float | None]:
    """Give a result in one line: set pressure judged, its expanded uncertainty, or a lower bound.

    Parameters
    ----------
    result : Result

    Returns
    -------
    set_pressure_pa, expanded_uncertainty_pa, lower_bound_pa : float or None
        As found: of the first loading. As left: of the last opening.
    """
    if result.as_found is not None:
        found = result.as_found
        return found.set_pressure_pa, found.expanded_uncertainty_pa, found.lower_bound_pa
    if result.as_left is not None and result.as_left.pulls:
        last = result.as_left.pulls[-1]
        return last.set_pressure_pa, last.expanded_uncertainty_pa, None
    return None, None, None
