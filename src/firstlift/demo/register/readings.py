"""Tests by calculation: what the instruments show of a valve's truth, computed and judged as any pull is."""

from __future__ import annotations

import datetime as dt
import math
from collections.abc import Sequence
from dataclasses import dataclass

from firstlift.core.errors import Finding, Severity
from firstlift.core.job import Job, Measures, Purpose, RecordingSpec, Rules, Visit
from firstlift.core.judgement import Reading, dispose, judge_reading, judge_test
from firstlift.core.measure import pull_by_hand
from firstlift.core.register.work import BenchMedium, BenchReading
from firstlift.core.result import (
    AsFound,
    AsLeft,
    AsLeftPull,
    FindingText,
    MethodRef,
    Outcome,
    Pull,
    PullOutcome,
    RecordingRef,
    Result,
)
from firstlift.core.seat.record import seat_of
from firstlift.core.tolerance.limits import Limits
from firstlift.core.uncertainty.budget import Input, make_budget
from firstlift.core.valve import Medium, Valve
from firstlift.demo.register.crew import Tool
from firstlift.demo.register.draw import Draw
from firstlift.demo.register.plant import OWNER, Truth, area_of
from firstlift.usecases.analyse import limits_of, worded

# as far as a pull goes above the stamped pressure before it is stopped
_STOP = 1.25
_SEVERE_BOND = 0.03


@dataclass(frozen=True, slots=True)
class Occasion:
    """Where, when, by which code and with which rig a test is made. ``line_share``: line over set pressure."""

    site: str
    code: str
    day: dt.date
    purpose: Purpose
    rig: Sequence[Tool]
    line_share: float = 0.8
    bond: float = 0.0
    leaking: bool = False
    pulls: int = 1


def pull_result(draw: Draw, truth: Truth, occasion: Occasion) -> Result:
    """Give the result of a pull test, without a recording.

    Parameters
    ----------
    draw : Draw
    truth : Truth
    occasion : Occasion

    Returns
    -------
    Result
    """
    job = _job(truth, occasion)
    readings: list[Reading] = []
    pulls: list[Pull] = []
    for number in range(1, occasion.pulls + 1):
        bond = occasion.bond if number == 1 else 0.0
        reading, pull = _pull(draw, truth, occasion, job, number, bond)
        readings.append(reading)
        pulls.append(pull)
    limits = _limits(job)
    verdict, judged = judge_test(readings, limits, job)
    lifted = any(reading.outcome is PullOutcome.MEASURED for reading in readings)
    findings = (*_findings(occasion, readings, job), *judged)
    reason = None if lifted else "not-lifted"
    words = worded(job)
    first = next(reading for reading in readings if reading.budget is not None)
    return Result(
        outcome=Outcome.MEASURED if lifted else Outcome.NOT_LIFTED,
        reason=reason,
        tag=job.valve.tag,
        purpose=str(occasion.purpose),
        method=MethodRef("by-hand-1", {"coverage_probability": 0.95}),
        recording=RecordingRef("", 0, 0.0),
        pulls=tuple(pulls),
        as_found=_as_found(readings[0]) if occasion.purpose is Purpose.AS_FOUND else None,
        as_left=_as_left(readings) if occasion.purpose is Purpose.AS_LEFT else None,
        mean=None,
        verdict=verdict,
        disposition=dispose(verdict, findings, reason),
        findings=tuple(
            FindingText(f.code, f.severity, f.pull, f.parameters, words.message(f), words.advice(f)) for f in findings
        ),
        budget=first.budget.lines if first.budget else (),
    )


_known_limits: dict[tuple[str, str, str, str], Limits] = {}


def _limits(job: Job) -> Limits:
    """Give the limits of a job; hundreds of tests share a few."""
    valve = job.valve
    key = (job.rules.code, valve.set_pressure.text, str(job.visit.purpose), str(valve.medium))
    if key not in _known_limits:
        _known_limits[key] = limits_of(job)
    return _known_limits[key]


def _job(truth: Truth, occasion: Occasion) -> Job:
    valve, position = truth.valve, truth.position
    medium = position.medium if position else Medium.GAS
    tag = position.tag if position else valve.serial
    return Job(
        Visit(occasion.day, occasion.purpose, OWNER, occasion.site),
        Valve(tag, valve.serial, valve.set_pressure, medium, valve.type),
        seat_of(truth.seat),
        Rules(occasion.code),
        RecordingSpec(""),
        (),
    )


def _pull(draw: Draw, truth: Truth, occasion: Occasion, job: Job, number: int, bond: float) -> tuple[Reading, Pull]:
    stamped = truth.valve.set_pressure.si
    opens = stamped * (1.0 + truth.shift + draw.normal(0.002)) * (1.0 + bond)
    line = stamped * occasion.line_share * (1.0 + draw.normal(0.004))
    lifts = opens <= _STOP * stamped
    cell, gauge = (_gain(occasion.rig, measures) for measures in (Measures.PULL_FORCE, Measures.LINE_PRESSURE))
    area = area_of(truth.seat) * (1.0 + truth.area_error)
    pull = (min(opens, _STOP * stamped) - line) * area * (1.0 + cell) + draw.normal(1.0)
    shown = line * (1.0 + gauge)
    pressure, budget = pull_by_hand(shown, 0.002 * shown, max(pull, 0.0), math.hypot(0.002 * pull, 1.5), job.seat)
    outcome = PullOutcome.MEASURED if lifts else PullOutcome.NOT_LIFTED
    reading = Reading(number, outcome, pressure if lifts else None, budget, None if lifts else pressure)
    return reading, Pull(
        number, outcome, None, None, line_pressure_pa=shown, pull_force_n=max(pull, 0.0),
        set_pressure_pa=reading.set_pressure_pa, expanded_uncertainty_pa=budget.expanded_uncertainty_pa,
        lower_bound_pa=reading.lower_bound_pa,
    )  # fmt: skip


def _gain(rig: Sequence[Tool], measures: Measures) -> float:
    return next(tool.gain_error for tool in rig if tool.instrument.measures is measures)


def _findings(occasion: Occasion, readings: Sequence[Reading], job: Job) -> list[Finding]:
    found: list[Finding] = []
    first, later = readings[0].set_pressure_pa, readings[-1].set_pressure_pa
    if occasion.bond and len(readings) > 1 and later is not None:
        severity = Severity.SEVERE if occasion.bond > _SEVERE_BOND else Severity.WARNING
        values = {"first_set_pressure_pa": first, "later_set_pressure_pa": later}
        values = {key: value for key, value in values.items() if value is not None}
        found.append(Finding("stuck-first-pull", severity, 1, values))
    if all(reading.outcome is PullOutcome.NOT_LIFTED for reading in readings):
        bound = max(reading.lower_bound_pa or 0.0 for reading in readings)
        found.append(Finding("not-lifted", Severity.SEVERE, 1, {"lower_bound_pa": bound}))
    if occasion.leaking:
        found.append(Finding("leaking-before-lift", Severity.WARNING, 1))
    for tool in occasion.rig:
        last = [one for one in tool.calibrations if one.date <= job.visit.date][-1]
        if last.due < job.visit.date:
            said = {"serial": tool.instrument.serial, "due": last.due.isoformat()}
            found.append(Finding("calibration-overdue", Severity.WARNING, None, said))
    return found


def _as_found(reading: Reading) -> AsFound:
    budget = reading.budget
    return AsFound(
        reading.number, reading.outcome, reading.set_pressure_pa, reading.lower_bound_pa,
        budget.expanded_uncertainty_pa if budget else None,
        budget.coverage_factor if budget else None,
        budget.coverage_probability if budget else None,
    )  # fmt: skip


def _as_left(readings: Sequence[Reading]) -> AsLeft:
    pulls = tuple(
        AsLeftPull(one.number, one.set_pressure_pa, one.budget.expanded_uncertainty_pa)
        for one in readings
        if one.set_pressure_pa is not None and one.budget is not None
    )
    return AsLeft(pulls, trend=False)


def bench_reading(draw: Draw, truth: Truth, *, tight: bool = True) -> BenchReading:
    """Give what a bench shows of a valve: pop, reseat and leakage.

    Parameters
    ----------
    draw : Draw
    truth : Truth
    tight : bool

    Returns
    -------
    BenchReading
    """
    pop = truth.valve.set_pressure.si * (1.0 + truth.shift) * (1.0 + draw.normal(0.003))
    bubbles = float(draw.whole(0, 18) if tight else draw.whole(45, 300))
    return BenchReading(
        BenchMedium.AIR, pop, 0.003 * pop, pop * draw.between(0.90, 0.96), bubbles, 40.0, "owner's limit (invented)"
    )


def bench_verdict(reading: BenchReading, truth: Truth, occasion: Occasion) -> str:
    """Judge a bench test's pop pressure.

    Parameters
    ----------
    reading : BenchReading
    truth : Truth
    occasion : Occasion

    Returns
    -------
    str
        "within", "outside" or "undecided".
    """
    job = _job(truth, occasion)
    pop, u_pop = reading.pop_pa or 0.0, reading.u_pop_pa or 0.0
    budget = make_budget([Input("pop pressure", pop, "Pa", u_pop, "normal", math.inf, 1.0, "gauge:bench")])
    limits = _limits(job)
    one = Reading(1, PullOutcome.MEASURED, pop, budget, None)
    verdict = judge_reading(one, limits, job.rules.decision, job.rules.decision_probability)
    return str(verdict.outcome) if verdict else ""
