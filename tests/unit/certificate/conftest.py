"""Jobs and results built by hand, in every kind a certificate must print."""

from __future__ import annotations

import dataclasses
import datetime as dt
import math
from types import SimpleNamespace

import numpy as np
import pytest

from firstlift import words
from firstlift.certificate import CertificateDetails
from firstlift.core.errors import Finding, Severity
from firstlift.core.job import ChannelSpec, Job, Measures, Purpose, RecordingSpec, Rules, Visit
from firstlift.core.result import (
    AsFound,
    AsLeft,
    AsLeftPull,
    BudgetLine,
    Disposition,
    DispositionOutcome,
    Evidence,
    FindingText,
    FittedLine,
    Mean,
    MethodRef,
    Outcome,
    Pull,
    PullOutcome,
    RecordingRef,
    Result,
    Verdict,
    VerdictOutcome,
)
from firstlift.core.units import Kind, parse_quantity
from firstlift.core.valve import Medium, Seat, Valve
from firstlift.figures import trace_of_si

SHA = "3f1c9b7e5ad2408866c1e0d9a47b52ff0e6d8c31b2a94750de81f6a3c05b9e27"
DETAILS = CertificateDetails("ML-2026-0042", "Field proving team, invented", dt.date(2026, 5, 14), "0.1.0")


def make_job(**changes) -> Job:
    channels = (
        ChannelSpec(
            "cell 1",
            Measures.PULL_FORCE,
            "N",
            1.0,
            0.0,
            0.002,
            0.6,
            serial="C-118",
            calibration_due=dt.date(2027, 1, 31),
            calibrated_with="stand A",
        ),
        ChannelSpec(
            "cell 2",
            Measures.PULL_FORCE,
            "N",
            1.0,
            0.0,
            0.002,
            0.6,
            serial="C-119",
            calibration_due=dt.date(2026, 4, 30),
            calibrated_with="stand A",
        ),
        ChannelSpec(
            "line",
            Measures.LINE_PRESSURE,
            "bar",
            1e5,
            0.0,
            0.002,
            serial="G-07",
            calibration_due=dt.date(2026, 11, 30),
            delay_s=0.012,
            head_correction_pa=-9790.0,
        ),
        ChannelSpec("lift", Measures.SPINDLE_LIFT, "mm", 1e-3),
        ChannelSpec("sound", Measures.ACOUSTIC, "mV", 1e-3),
    )
    job = Job(
        Visit(
            dt.date(2026, 5, 12),
            Purpose.AS_FOUND,
            "Marrow Bay Energy",
            "Tern Street works",
            "field team 2",
            ambient_temperature_k=291.15,
            body_temperature_k=401.15,
        ),
        Valve(
            "PSV-2881",
            "S2881",
            parse_quantity("10 bar", Kind.PRESSURE),
            Medium.STEAM,
            inlet_size="DN 50",
            outlet_size="DN 80",
            spring_rate_n_m=84000.0,
        ),
        Seat(math.pi / 4 * 0.03**2, 4.7e-6, 0.0, "measured at last overhaul", "mean diameter 30 mm"),
        Rules("iso-4126-1"),
        RecordingSpec("recording.csv", time_column="time_s"),
        channels,
    )
    return dataclasses.replace(job, **changes)


def make_traces(starts=(5.0, 25.0, 45.0), lift_share=0.55, lifts=True, seed=1):
    """Ramps with a bend in lift and a rise in sound at a known share of each ramp."""
    rng = np.random.default_rng(seed)
    end = starts[-1] + 18.0
    time_s = np.arange(0.0, end, 0.002)
    force, lift, sound = np.zeros_like(time_s), np.zeros_like(time_s), np.full_like(time_s, 0.002)
    for start in starts:
        up = np.clip((time_s - start) / 10.0, 0.0, 1.0) * np.clip((start + 12.0 - time_s) / 2.0, 0.0, 1.0)
        force += 257.0 * up
        lift += 2e-6 * up + (3e-4 * np.maximum(up - lift_share, 0.0) if lifts else 0.0)
        sound += (0.08 * np.maximum(up - lift_share, 0.0)) if lifts else 0.0
    noise = rng.normal(size=(4, time_s.size))
    force, lift = force + 0.4 * noise[0], lift + 4e-7 * noise[1]
    sound, line = sound * np.abs(1.0 + 0.3 * noise[2]), 8.0e5 + 600.0 * noise[3] + 2e3 * np.sin(time_s / 7.0)
    made = {"pull_force": force, "spindle_lift": lift, "acoustic": sound, "line_pressure": line}
    return tuple(trace_of_si(name, name, time_s, values) for name, values in made.items())


def make_pull(number, start, set_pressure_pa, **changes) -> Pull:
    at = start + 5.5
    fit = (
        FittedLine("spindle_lift", "before", (start + 1.0, at), (2e-7, 1.1e-6)),
        FittedLine("spindle_lift", "after", (at, at + 2.5), (1.1e-6, 7.7e-5)),
        FittedLine("acoustic", "before", (start + 1.0, at), (0.002, 0.002)),
    )
    pull = Pull(
        number,
        PullOutcome.MEASURED,
        start,
        start + 12.0,
        at,
        0.034,
        start + 11.3,
        8.0e5,
        141.37,
        set_pressure_pa,
        5_600.0,
        None,
        (Evidence("spindle_lift", at, 0.04, 0.7), Evidence("acoustic", at + 0.02, 0.06, 0.3)),
        fit=fit,
    )
    return dataclasses.replace(pull, **changes)


def worded(code, severity=Severity.WARNING, pull=None, **parameters) -> FindingText:
    finding = Finding(code, severity, pull, parameters)
    return FindingText(code, severity, pull, parameters, words.message(finding), words.advice(finding))


def budget() -> tuple[BudgetLine, ...]:
    return (
        BudgetLine("line pressure, gauge", 8.0e5, "Pa", 2000.0, "normal", None, 1.0, 2000.0, 0.514, "gauge:line"),
        BudgetLine("pull force, calibration", 141.37, "N", 1.0, "normal", 12.0, 1414.7, 1414.7, 0.257, "cell:stand A"),
        BudgetLine("seat area", 7.0686e-4, "m2", 4.7e-6, "normal", 8.0, -2.829e8, -1333.0, 0.228, "seat"),
        BudgetLine("moment of first lift", 10.5, "s", 0.034, "normal", 20.0, 300.0, 10.2, 0.0003, "pull"),
        BudgetLine("back pressure at the test", 0.0, "Pa", 0.0, "rectangular", None, -1.0, 0.0, 0.0, "setup"),
    )


def verdict(outcome=VerdictOutcome.WITHIN, judged=(1,), probability=0.9999) -> Verdict:
    return Verdict(
        judged,
        "iso-4126-1",
        "2013+A1:2016",
        "set pressure tolerance (Amd 1:2016)",
        "looked-up",
        "first-lift",
        9.7e5,
        10.3e5,
        "guarded",
        0.95,
        probability,
        outcome,
    )


def result(**changes) -> Result:
    base = Result(
        Outcome.MEASURED,
        None,
        "PSV-2881",
        "as-found",
        MethodRef("first-lift-1", {"window_s": 1.5, "probability": 0.95, "fuse": True, "order": 2}),
        RecordingRef(SHA, 31500, 63.0),
        (
            make_pull(1, 5.0, 10.02e5),
            make_pull(2, 25.0, 10.05e5, flags=("line-unsteady",)),
            make_pull(3, 45.0, 9.99e5, flags=("zero-shift", "line-unsteady"), accepted=False),
        ),
        AsFound(1, PullOutcome.MEASURED, 10.02e5, None, 5600.0, 2.02, 0.95),
        None,
        Mean((1, 2), 10.035e5, 2121.0, 6100.0),
        verdict(),
        Disposition(DispositionOutcome.FIT, ()),
        (
            worded("hum-removed", Severity.INFO, channel="cell 1", frequency_hz=50.0),
            worded("zero-shift", pull=3, shift_n=2.4),
            worded("calibration-overdue", channel="cell 2", serial="C-119", due="2026-04-30"),
        ),
        budget(),
    )
    return dataclasses.replace(base, **changes)


def not_lifted() -> Result:
    pull = make_pull(
        1,
        5.0,
        None,
        outcome=PullOutcome.NOT_LIFTED,
        first_lift_s=None,
        expanded_uncertainty_pa=None,
        first_lift_standard_uncertainty_s=None,
        closure_s=None,
        pull_force_n=257.0,
        fit=(),
        lower_bound_pa=11.63e5,
        flags=("not-lifted",),
    )
    return result(
        outcome=Outcome.NOT_LIFTED,
        reason="not-lifted",
        pulls=(pull,),
        mean=None,
        as_found=AsFound(1, PullOutcome.NOT_LIFTED, None, 11.63e5, 6000.0, 2.0, 0.95),
        verdict=verdict(VerdictOutcome.OUTSIDE, probability=None),
        disposition=Disposition(DispositionOutcome.UNFIT, ("not-lifted", "lower-bound-high")),
        findings=(
            worded("not-lifted", Severity.SEVERE, 1, pull_force_n=257.0, lower_bound_pa=11.63e5),
            worded("lower-bound-high", Severity.SEVERE, 1, lower_bound_pa=11.63e5, upper_pa=10.3e5),
        ),
        budget=(),
    )


def unusable() -> Result:
    pull = make_pull(
        1,
        5.0,
        None,
        outcome=PullOutcome.UNUSABLE,
        first_lift_s=None,
        expanded_uncertainty_pa=None,
        first_lift_standard_uncertainty_s=None,
        closure_s=None,
        pull_force_n=None,
        line_pressure_pa=None,
        fit=(),
        flags=("force-saturated",),
    )
    return result(
        outcome=Outcome.UNUSABLE,
        reason="force-saturated",
        pulls=(pull,),
        mean=None,
        as_found=AsFound(1, PullOutcome.UNUSABLE, None, None, None, None, None),
        verdict=None,
        disposition=Disposition(DispositionOutcome.UNFIT, ("force-saturated",)),
        findings=(worded("force-saturated", Severity.SEVERE, 1, channel="cell 1", limit_n=200.0),),
        budget=(),
    )


def stayed_open() -> Result:
    pulls = (
        make_pull(1, 5.0, 10.02e5, closure_s=None, flags=("stayed-open",)),
        make_pull(
            2,
            25.0,
            None,
            outcome=PullOutcome.ALREADY_OPEN,
            first_lift_s=None,
            closure_s=None,
            fit=(),
            first_lift_standard_uncertainty_s=None,
            expanded_uncertainty_pa=None,
            flags=("already-open",),
        ),
    )
    return result(
        pulls=pulls,
        mean=None,
        disposition=Disposition(DispositionOutcome.INOPERABLE, ("stayed-open",)),
        findings=(
            worded("stayed-open", Severity.SEVERE, 1, lift_m=4.2e-4, at_s=16.3),
            worded("already-open", Severity.SEVERE, 2, lift_m=4.2e-4),
        ),
    )


def outside() -> Result:
    pulls = (
        make_pull(1, 5.0, 10.82e5, flags=("stuck-first-pull",)),
        make_pull(2, 25.0, 10.05e5),
        make_pull(3, 45.0, 10.04e5),
    )
    return result(
        pulls=pulls,
        as_found=AsFound(1, PullOutcome.MEASURED, 10.82e5, None, 5600.0, 2.02, 0.95),
        verdict=verdict(VerdictOutcome.OUTSIDE, probability=1e-9),
        disposition=Disposition(DispositionOutcome.UNFIT, ("stuck-first-pull",)),
        findings=(
            worded(
                "stuck-first-pull", Severity.SEVERE, 1, first_set_pressure_pa=10.82e5, later_set_pressure_pa=10.05e5
            ),
        ),
    )


def as_left() -> Result:
    base = result()
    pulls = tuple(AsLeftPull(p.number, p.set_pressure_pa, 5600.0) for p in base.pulls)
    return result(purpose="as-left", as_found=None, as_left=AsLeft(pulls, False), verdict=verdict(judged=(1, 2, 3)))


def many() -> Result:
    pulls = tuple(make_pull(n, 20.0 * n, 10.0e5 + 400.0 * n) for n in range(1, 41))
    return result(pulls=pulls, mean=Mean(tuple(range(1, 41)), 10.08e5, 4600.0, 5000.0))


@pytest.fixture
def made():
    return SimpleNamespace(
        job=make_job,
        traces=make_traces,
        pull=make_pull,
        worded=worded,
        details=DETAILS,
        sha=SHA,
        result=result,
        not_lifted=not_lifted,
        unusable=unusable,
        stayed_open=stayed_open,
        outside=outside,
        as_left=as_left,
        many=many,
        verdict=verdict,
    )
