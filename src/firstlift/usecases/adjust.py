"""Advise on an adjustment from a job sheet, a reading and what was typed; cold test pressure both ways."""

from __future__ import annotations

import re
from dataclasses import dataclass, replace
from pathlib import Path

from firstlift.core.adjust import AdjustInputs, Advice, Place, Turned, advise
from firstlift.core.adjust.cold import ColdPressure, cold_pressure
from firstlift.core.errors import FirstliftError, Problem, UsageError
from firstlift.core.job import Job, Purpose
from firstlift.core.result import PullOutcome, Result
from firstlift.core.units import Kind
from firstlift.core.valve import Valve
from firstlift.formats.jobsheet import read_jobsheet
from firstlift.usecases.analyse import limits_of
from firstlift.usecases.typed import read_result, typed_number, typed_quantity, typed_si, typed_uncertainty

# a reading by hand of which nobody stated how good it is, and of one pull against the next (common practice)
_ASSUMED_SHARE = 0.005
# the least coverage factor of a 95 % interval here, that of a lone rectangle: it leaves the largest uncertainty
_LEAST_FACTOR = 1.645
_TURNED = re.compile(r"^\s*([+-]?[\d.,]+)\s*turns?\s*:\s*(.+?)\s*(?:->|→|to)\s*(.+?)\s*$")


@dataclass(frozen=True, slots=True)
class AdjustAsked:
    """What was typed for an adjustment: texts with units; None where nothing was given."""

    sheet: Path
    result: Path | None = None
    reading: str | None = None
    reading_uncertainty: str | None = None
    target: str | None = None
    line: str | None = None
    mawp: str | None = None
    place: str = "first"
    authorised_by: str = ""
    pull_off: bool = False
    leaking: bool = False
    spring_rate: str | None = None
    screw_pitch: str | None = None
    turned: tuple[str, ...] = ()
    turned_uncertainty: str | None = None
    store: str | None = None


@dataclass(frozen=True, slots=True)
class ReadOff:
    """What the valve opens at now, [Pa gauge], its standard uncertainty, the codes of its test's findings.

    ``assumed``: nobody stated the uncertainty.
    """

    value_pa: float
    u_pa: float
    codes: tuple[str, ...] = ()
    assumed: bool = False


@dataclass(frozen=True, slots=True)
class Advised:
    """The advice with the job it belongs to; ``assumed``: the reading's uncertainty was not stated.

    ``learned_from`` counts the register's adjustments of this valve that taught the effect of a turn; None where
    no register was asked.
    """

    job: Job
    advice: Advice
    assumed: bool
    learned_from: int | None = None


def advise_jobsheet(asked: AdjustAsked) -> Advised:
    """Say how far to turn the screw of a job sheet's valve, or why not to.

    Parameters
    ----------
    asked : AdjustAsked

    Returns
    -------
    Advised

    Raises
    ------
    FirstliftError
        Job sheet, result or register cannot be read. UsageError where what was typed makes no sense.
    """
    sheet = read_jobsheet(asked.sheet)
    kept = None if asked.store is None else _kept(asked.store, sheet)
    return advise_job(asked, sheet, _reading(asked, sheet), kept)


def advise_job(asked: AdjustAsked, sheet: Job, reading: ReadOff, kept: tuple[Turned, ...] | None) -> Advised:
    """Say how far to turn the screw of a job's valve, or why not to.

    Parameters
    ----------
    asked : AdjustAsked
        What was typed; its reading, result and store are not looked at.
    sheet : Job
    reading : ReadOff
    kept : tuple of Turned or None
        What the register learned of earlier turns; None where none was asked.

    Returns
    -------
    Advised

    Raises
    ------
    FirstliftError
        The code does not reach the valve. UsageError where what was typed makes no sense.
    """
    job = replace(sheet, valve=_valve(asked, sheet), visit=replace(sheet.visit, purpose=Purpose.AS_LEFT))
    limits = limits_of(job, where=f"{asked.sheet.name}, [rules]")
    target = typed_si(asked.target, Kind.PRESSURE, "--target")
    inputs = AdjustInputs(
        valve=job.valve,
        seat=job.seat,
        limits=limits,
        reading_pa=reading.value_pa,
        u_reading_pa=reading.u_pa,
        target_pa=limits.set_pressure_pa if target is None else target,
        authorised_by=asked.authorised_by,
        reading_codes=(*reading.codes, *(("leaking-before-lift",) if asked.leaking else ())),
        line_pressure_pa=typed_si(asked.line, Kind.PRESSURE, "--line"),
        pull_off=asked.pull_off,
        mawp_pa=typed_si(asked.mawp, Kind.PRESSURE, "--mawp"),
        place=Place(asked.place),
        turned=(*(kept or ()), *(_turned(text, asked.turned_uncertainty) for text in asked.turned)),
    )
    try:
        return Advised(job, advise(inputs), reading.assumed, None if kept is None else len(kept))
    except FirstliftError as error:
        raise UsageError(error.problems) from error


def _kept(where: str, sheet: Job) -> tuple[Turned, ...]:
    # the register is slow to load, and most advice needs none
    from firstlift.usecases.register.place import opened
    from firstlift.usecases.register.turned import turned_before

    with opened(where) as store:
        return turned_before(store, sheet.valve.tag, sheet.visit.date, site=sheet.visit.site)


def _valve(asked: AdjustAsked, sheet: Job) -> Valve:
    """Give the valve of the sheet, with what was typed on top."""
    valve = sheet.valve
    rate = typed_si(asked.spring_rate, Kind.STIFFNESS, "--spring-rate")
    pitch = typed_si(asked.screw_pitch, Kind.LENGTH, "--screw-pitch")
    return replace(
        valve,
        spring_rate_n_m=valve.spring_rate_n_m if rate is None else rate,
        screw_pitch_m=valve.screw_pitch_m if pitch is None else pitch,
    )


def _reading(asked: AdjustAsked, sheet: Job) -> ReadOff:
    if (asked.reading is None) == (asked.result is None):
        raise UsageError(
            Problem("ADJ-006", "the reading is not given once", "--reading, --result", "exactly one of the two")
        )
    if asked.result is not None:
        return reading_of(read_result(asked.result), sheet.valve.tag, str(asked.result))
    value = typed_quantity(asked.reading or "", Kind.PRESSURE, "--reading").si
    u = typed_uncertainty(asked.reading_uncertainty, Kind.PRESSURE, "--reading-uncertainty", value)
    return ReadOff(value, _ASSUMED_SHARE * abs(value) if u is None else u, assumed=u is None)


def reading_of(result: Result, tag: str, where: str) -> ReadOff:
    """Give what a test's last opening says the valve is set to.

    Parameters
    ----------
    result : Result
    tag : str
        Of the valve that is to be turned.
    where : str
        Said in the message.

    Returns
    -------
    ReadOff

    Raises
    ------
    UsageError
        ADJ-006 the result is of another valve, or holds no set pressure.
    """
    if result.tag not in ("", tag):
        raise UsageError(
            Problem(
                "ADJ-006",
                f"the result is of valve '{result.tag[:60]}', the job sheet of '{tag}'",
                where,
                "result and job sheet of one valve",
            )
        )
    # the last opening says what the spring is set to now; a bond of the first one is not the spring's
    opened = [p for p in result.pulls if p.outcome is PullOutcome.MEASURED and p.accepted and p.set_pressure_pa]
    if not opened or opened[-1].set_pressure_pa is None:
        raise UsageError(
            Problem(
                "ADJ-006",
                "the result holds no set pressure",
                where,
                "a pull that lifted",
                "A valve that has not opened is not adjusted",
            )
        )
    expanded = opened[-1].expanded_uncertainty_pa or 0.0
    codes = tuple(finding.code for finding in result.findings)
    return ReadOff(opened[-1].set_pressure_pa, expanded / _LEAST_FACTOR, codes)


def _turned(text: str, uncertainty: str | None) -> Turned:
    match = _TURNED.match(text)
    if match is None:
        raise UsageError(
            Problem(
                "ADJ-007",
                f"'{text[:80]}' is not an adjustment",
                "--turned",
                "turns and both readings, such as '-0.5 turns: 10.4 bar -> 10.0 bar' (right is positive)",
            )
        )
    turns = typed_number(match.group(1), "--turned") or 0.0
    before, after = (typed_quantity(match.group(n), Kind.PRESSURE, "--turned").si for n in (2, 3))
    u = typed_uncertainty(uncertainty, Kind.PRESSURE, "--turned-uncertainty", before)
    each = _ASSUMED_SHARE * before if u is None else u
    return Turned(turns, before, after, each, each)


def cold_of_jobsheet(
    sheet: Path, *, temperature: str | None, multiplier: str | None, cold: str | None
) -> tuple[Job, ColdPressure]:
    """Give the cold differential test pressure of a job sheet's valve, or the set pressure of a cold one.

    Parameters
    ----------
    sheet : Path
    temperature : str or None
        In service, with unit.
    multiplier : str or None
        The maker's.
    cold : str or None
        A cold pressure with unit, to be turned into the set pressure.

    Returns
    -------
    job : Job
    pressures : ColdPressure

    Raises
    ------
    FirstliftError
        The job sheet cannot be read. UsageError: ADJ-003, ADJ-004.
    """
    job = read_jobsheet(sheet)
    given = typed_si(cold, Kind.PRESSURE, "--from-cold")
    try:
        found = cold_pressure(
            job.valve,
            job.seat.area_m2,
            temperature_k=typed_si(temperature, Kind.TEMPERATURE, "--temperature"),
            multiplier=typed_number(multiplier, "--multiplier"),
            set_pressure_pa=job.valve.set_pressure.si if given is None else None,
            cold_pressure_pa=given,
        )
    except FirstliftError as error:
        raise UsageError(error.problems) from error
    return job, found
