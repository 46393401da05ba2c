"""Findings that stand before any pull is looked at: instruments, geometry, temperature."""

from __future__ import annotations

import numpy as np

from firstlift.core.errors import Finding, Severity
from firstlift.core.job import Job, Measures
from firstlift.core.measure import uses_cold_test_pressure
from firstlift.core.setpressure import back_pressure_terms
from firstlift.core.signal.condition import Signal, Signals
from firstlift.core.signal.noise import resolution

# a converter's step is coarse beyond this share of the line pressure
_COARSE = 0.002


def before(signals: Signals, job: Job) -> list[Finding]:
    """Give findings that stand before any pull is looked at: instruments, geometry, temperature.

    Parameters
    ----------
    signals : Signals
    job : Job

    Returns
    -------
    list of Finding
    """
    findings: list[Finding] = []
    for spec in job.channels:
        if spec.calibration_due is not None and spec.calibration_due < job.visit.date:
            findings.append(
                Finding(
                    "calibration-overdue",
                    Severity.WARNING,
                    parameters={"channel": spec.column, "due": spec.calibration_due.isoformat()},
                )
            )
        needs = spec.measures in (Measures.PULL_FORCE, Measures.LINE_PRESSURE)
        if needs and not spec.uncertainty_stated:
            findings.append(Finding("uncertainty-not-stated", Severity.WARNING, parameters={"channel": spec.column}))
    if signals.lift is None and job.of(Measures.SPINDLE_LIFT):
        findings.append(_lost("lift-signal-lost", job, Measures.SPINDLE_LIFT))
    if signals.sound is None and job.of(Measures.ACOUSTIC):
        findings.append(_lost("acoustic-signal-lost", job, Measures.ACOUSTIC))
    pressure = signals.pressure
    if pressure is not None and float(np.ptp(pressure.value)) == 0.0:
        findings.append(Finding("gauge-held", Severity.WARNING, parameters={"channel": pressure.name}))
    elif pressure is not None:
        findings.extend(_slow_gauge(pressure) or _coarse_gauge(pressure))
    findings.extend(_geometry(signals, job))
    findings.extend(_temperature(job))
    return findings


def _slow_gauge(pressure: Signal) -> list[Finding]:
    """Say where the gauge is read afresh far more rarely than it is recorded: each value stands for a while.

    Basis: the mean time between changes of the reading, twenty samples and a tenth of a second or more. A
    coarse converter on a steady line repeats values too, so only readings whose steps exceed two converter
    steps count as read afresh.
    """
    step = np.abs(np.diff(pressure.value))
    moved = step[step > 0]
    if moved.size < 3:
        return []
    hold_s = float(pressure.time_s[-1] - pressure.time_s[0]) / moved.size
    if hold_s < max(20.0 * pressure.step_s, 0.1) or float(np.percentile(moved, 75.0)) <= 2.0 * float(moved.min()):
        return []
    return [Finding("gauge-lag", Severity.WARNING, parameters={"channel": pressure.name, "delay_s": hold_s})]


def _coarse_gauge(pressure: Signal) -> list[Finding]:
    """Say where the reading moves by whole steps of more than two thousandths of the line pressure.

    Basis: the converter's step, where so few readings differ from the one before that neither noise nor line move the
    reading through a step. Half a step is then a thousandth of the line pressure, as much as a good gauge may be off.
    """
    step = resolution(pressure.value)
    if step <= _COARSE * abs(float(pressure.value.mean())):
        return []
    if np.count_nonzero(np.diff(pressure.value)) > 0.05 * pressure.value.size:
        return []
    return [Finding("gauge-coarse", Severity.WARNING, parameters={"channel": pressure.name, "step_pa": step})]


def _lost(code: str, job: Job, measures: Measures) -> Finding:
    return Finding(code, Severity.WARNING, parameters={"channel": job.of(measures)[0].column})


def _geometry(signals: Signals, job: Job) -> list[Finding]:
    valve = job.valve
    findings: list[Finding] = []
    loaded = valve.back_pressure_at_test_pa or valve.superimposed_back_pressure_pa or signals.back_pressure is not None
    terms = back_pressure_terms(valve, job.seat.area_m2)
    if loaded and terms.missing:
        findings.append(Finding("geometry-missing", Severity.WARNING, parameters={"key": terms.missing}))
    if loaded and valve.u_back_pressure_pa is None and signals.back_pressure is None:
        findings.append(
            Finding(
                "back-pressure-uncertain",
                Severity.WARNING,
                parameters={"back_pressure_pa": valve.back_pressure_at_test_pa},
            )
        )
    if valve.cap_on:
        findings.append(Finding("cap-on", Severity.INFO))
    if job.seat.half_width_m2 > 0:
        findings.append(Finding("seat-edges-only", Severity.INFO))
    return findings


def _temperature(job: Job) -> list[Finding]:
    if uses_cold_test_pressure(job):
        pressure = job.valve.cold_differential_test_pressure
        return [
            Finding(
                "cold-test-pressure-used",
                Severity.INFO,
                parameters={"test_pressure_pa": pressure.si if pressure else None},
            )
        ]
    hot = job.visit.body_temperature_k is not None and job.valve.cold_differential_test_pressure is not None
    if hot:
        return [
            Finding("temperature-both", Severity.INFO, parameters={"body_temperature_k": job.visit.body_temperature_k})
        ]
    matters = job.valve.cold_differential_test_pressure is not None
    if matters and job.visit.body_temperature_k is None and not job.of(Measures.TEMPERATURE):
        return [Finding("temperature-missing", Severity.INFO)]
    return []
