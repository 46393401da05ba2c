"""Analyse a recording by its job sheet: read, ask the core, hand back. The shell decides nothing about valves."""

from __future__ import annotations

from dataclasses import dataclass, replace
from pathlib import Path

from firstlift import words
from firstlift.core.analysis import Analysis, analyse
from firstlift.core.errors import Finding
from firstlift.core.job import Job
from firstlift.core.result import Worded
from firstlift.core.tolerance.limits import Limits, find_limits
from firstlift.core.valve import Seat
from firstlift.formats.jobsheet import read_jobsheet, recording_path
from firstlift.formats.load import read_recording
from firstlift.formats.rulesets import read_rule_set
from firstlift.words.catalogue import check_language


@dataclass(frozen=True, slots=True, eq=False)
class Analysed:
    """A job sheet, its analysis, the limits it was judged by, and where its recording lies."""

    sheet: Path
    job: Job
    limits: Limits
    analysis: Analysis
    recording: Path


def worded(job: Job, *, language: str = "en", pressure_unit: str = "") -> Worded:
    """Give the words of findings for a job: pressures in the nameplate's unit, or in one that is asked for.

    Parameters
    ----------
    job : Job
    language : str
        One of `firstlift.words.paper.languages`.
    pressure_unit : str
        Empty for the nameplate's.

    Returns
    -------
    Worded
    """
    unit = pressure_unit or job.valve.set_pressure.unit
    return Worded(
        message=lambda finding: words.message(finding, language=language, pressure_unit=unit),
        advice=lambda finding: words.advice(finding, language=language),
    )


def limits_of(job: Job, *, where: str = "[rules] code") -> Limits:
    """Find the limits that judge a job.

    A cold valve is judged against its cold differential test pressure, a hot one against its set pressure.

    Parameters
    ----------
    job : Job
    where : str
        Said in the message.

    Returns
    -------
    Limits

    Raises
    ------
    FirstliftError
        The code is not known, or does not reach this valve.
    """
    from firstlift.core.measure import uses_cold_test_pressure

    valve = job.valve
    pressure = valve.set_pressure
    if uses_cold_test_pressure(job) and valve.cold_differential_test_pressure is not None:
        pressure = valve.cold_differential_test_pressure
    return find_limits(
        read_rule_set(job.rules.code, where=where),
        pressure,
        purpose=job.visit.purpose,
        fire_case=valve.fire_case,
        owner_limits=job.rules.owner_limits,
        medium=valve.medium,
        opening_definition=valve.opening_definition,
    )


def analyse_jobsheet(sheet: Path, recording: Path | None = None, seat: Seat | None = None) -> Analysed:
    """Read a job sheet and its recording, and analyse the test.

    Parameters
    ----------
    sheet : Path
    recording : Path or None
        Where it lies; None for where the job sheet says.
    seat : Seat or None
        Computed with in place of the job sheet's; None for that.

    Returns
    -------
    Analysed

    Raises
    ------
    FirstliftError
        No recording could be formed: every reason with file, line and key.
    """
    job = read_jobsheet(sheet)
    if seat is not None:
        job = replace(job, seat=seat)
    limits = limits_of(job, where=f"{sheet.name}, [rules]")
    place = recording_path(sheet, job) if recording is None else recording
    read = read_recording(place, job)
    return Analysed(sheet, job, limits, analyse(read, job, limits, worded(job)), place)


def say_in(analysed: Analysed, *, language: str = "en", pressure_unit: str = "") -> Analysed:
    """Say the findings of an analysed test anew, in another language or pressure unit; no value changes.

    Parameters
    ----------
    analysed : Analysed
    language : str
        One of `firstlift.words.paper.languages`.
    pressure_unit : str
        Empty for the nameplate's.

    Returns
    -------
    Analysed

    Raises
    ------
    FirstliftError
        WRD-002 the language is not there.
    """
    check_language(language)
    said = worded(analysed.job, language=language, pressure_unit=pressure_unit)
    result = analysed.analysis.result
    findings = ((kept, Finding(kept.code, kept.severity, kept.pull, kept.parameters)) for kept in result.findings)
    anew = tuple(replace(kept, message=said.message(f), advice=said.advice(f)) for kept, f in findings)
    return replace(analysed, analysis=replace(analysed.analysis, result=replace(result, findings=anew)))
