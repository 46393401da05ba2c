"""What is worth saying about the data and the valve: each finding with its basis."""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np

from firstlift.core.errors import Finding, Severity
from firstlift.core.job import Job, Measures
from firstlift.core.judgement import Reading
from firstlift.core.lift.closure import cell_load
from firstlift.core.lift.find import PullFind
from firstlift.core.lift.onset import block_means
from firstlift.core.measure import uses_cold_test_pressure
from firstlift.core.result import BudgetLine, PullOutcome, Verdict
from firstlift.core.setpressure import back_pressure_terms
from firstlift.core.signal.condition import Signal, Signals
from firstlift.core.signal.pulls import PullWindow
from firstlift.core.tolerance.limits import Limits

# a line pressure this unsteady (standard deviation over the loading, share of itself) moves the balance by more than
# a good gauge's own uncertainty (common practice, no source)
_UNSTEADY = 0.003
# below this share of set pressure the pull carries most of the load and the spindle may rise without the disc
_SPRING_ONLY = 0.25
_FRICTION_SHARE = 0.075
# two cells that carry their load off the axis: largest over mean share beyond this is a slanted pull
_ECCENTRIC = 1.6


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
    findings.extend(_geometry(signals, job))
    findings.extend(_temperature(job))
    return findings


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
    matters = job.valve.cold_differential_test_pressure is not None
    if matters and job.visit.body_temperature_k is None and not job.of(Measures.TEMPERATURE):
        return [Finding("temperature-missing", Severity.INFO)]
    return []


def could_see_lift(signals: Signals) -> bool:
    """Say whether enough channels work to have seen a lift: lift or sound beside the force.

    Parameters
    ----------
    signals : Signals

    Returns
    -------
    bool
    """
    return signals.lift is not None or signals.sound is not None


def saturated_by(signals: Signals, window: PullWindow, until_s: float) -> bool:
    """Say whether a cell ran into its stop within a pull, up to an instant.

    Parameters
    ----------
    signals : Signals
    window : PullWindow
    until_s : float, [s]

    Returns
    -------
    bool
    """
    if signals.saturated_at_n is None:
        return False
    for cell, stop in zip(signals.cells, signals.cell_stops_n, strict=True):
        part = cell.value[cell.between(window.start_s, until_s)]
        if stop is not None and part.size and float(part.max()) >= stop - 1e-9 * abs(stop):
            return True
    return False


def why_no_pull(signals: Signals) -> str:
    """Give the reason why no pull could be looked at.

    Parameters
    ----------
    signals : Signals

    Returns
    -------
    str
        A finding's code.
    """
    if signals.force is None:
        return "no-usable-force"
    if not could_see_lift(signals):
        return "lift-signal-lost"
    return "no-pull-found"


def why_unusable(signals: Signals) -> str:
    """Give the reason why pulls were found but none is usable.

    Parameters
    ----------
    signals : Signals

    Returns
    -------
    str
        A finding's code.
    """
    if signals.saturated_at_n is not None:
        return "force-saturated"
    return "no-line-pressure" if signals.pressure is None else "channels-disagree"


def of_pull(signals: Signals, find: PullFind) -> list[Finding]:
    """Give findings about one pull: slack, zero, line, leak, load sharing, friction, gaps.

    Parameters
    ----------
    signals : Signals
    find : PullFind

    Returns
    -------
    list of Finding
    """
    window = find.window
    number = window.number
    findings: list[Finding] = []
    if not window.slack_proven:
        findings.append(Finding("slack-not-proven", Severity.WARNING, number))
    findings.extend(_zero_shift(signals, window))
    findings.extend(_unsteady(signals, window))
    if find.joint is None:
        return findings
    at = find.joint.mean_s
    findings.extend(_leak(signals, find))
    findings.extend(_eccentric(signals, window, at))
    findings.extend(_friction(find))
    findings.extend(_gap_near(signals.force, at, find.joint.spread_s, number))
    return findings


def _zero_shift(signals: Signals, window: PullWindow) -> list[Finding]:
    """The slack reading moved: more than six of its own scatter and more than a hundredth of the pull."""
    shift, force = window.zero_shift_n, signals.force
    if shift is None or force is None:
        return []
    part = force.value[force.between(window.start_s, window.end_s)]
    largest = float(np.percentile(part, 99.0)) - window.tare_n if part.size else 0.0
    if abs(shift) > 6.0 * math.sqrt(2.0) * window.u_tare_n and abs(shift) > 0.01 * largest:
        return [Finding("zero-shift", Severity.WARNING, window.number, {"shift_n": shift})]
    return []


def _unsteady(signals: Signals, window: PullWindow) -> list[Finding]:
    """Standard deviation of tenth-second means over the loading, beyond three thousandths of the pressure."""
    pressure = signals.pressure
    if pressure is None:
        return []
    start, stop = window.slack_from_s, max(window.peak_s, window.start_s)
    edges = np.linspace(start, stop, int(np.clip((stop - start) / 0.1, 5, 2000)))
    mean, _ = block_means(pressure, edges)
    mean = mean[np.isfinite(mean)]
    if mean.size < 5:
        return []
    spread = float(np.std(mean))
    level = abs(float(np.mean(mean)))
    if level > 0 and spread > _UNSTEADY * level:
        return [Finding("line-unsteady", Severity.WARNING, window.number, {"spread_pa": spread})]
    return []


def _leak(signals: Signals, find: PullFind) -> list[Finding]:
    """Sound well before first lift at a sizeable share of what flows after it: the seat leaked.

    Every seat hisses in the last tenth of the pull, as the contact load fades; a seat that is heard at two
    thirds of the opening pull already, at more than a fiftieth of its loudest, leaks.
    """
    sound, joint, window = signals.sound, find.joint, find.window
    if sound is None or joint is None:
        return []
    lead = 0.3 * (joint.mean_s - window.start_s)
    early = sound.value[sound.between(joint.mean_s - 2.0 * lead, joint.mean_s - lead)]
    slack = sound.value[sound.between(window.slack_from_s, window.start_s)]
    flowing = sound.value[sound.between(joint.mean_s, window.end_s)]
    if min(early.size, slack.size, flowing.size) < 8:
        return []
    ground = float(np.median(slack))
    risen = float(np.median(early)) - ground
    spread = max(float(np.std(slack)), sound.noise) * math.sqrt(1.0 / early.size + 1.0 / slack.size) * 1.25
    loudest = float(np.percentile(flowing, 95.0)) - ground
    if risen > 8.0 * spread and risen > 0.02 * loudest:
        return [Finding("leaking-before-lift", Severity.WARNING, window.number, {"lead_s": lead})]
    return []


def _eccentric(signals: Signals, window: PullWindow, at: float) -> list[Finding]:
    if len(signals.cells) < 2:
        return []
    loads = [cell_load(cell, window, at) for cell in signals.cells]
    total = sum(loads)
    if total <= 0:
        return []
    share = max(loads) / total * len(loads)
    if share > _ECCENTRIC:
        return [Finding("eccentric-pull", Severity.WARNING, window.number, {"share_share": max(loads) / total})]
    return []


def _friction(find: PullFind) -> list[Finding]:
    """Opening and closing force apart by 15 % of the opening pull or more, as when guide or packing drags.

    What opens a valve must overcome friction, what lets it close is held back by it: half the distance is the
    friction. A disc let down fast meets its seat while the force is already falling, which looks like up to
    7 % of friction in simulation without any; so only more than that is said.
    """
    opening, closing = find.signature.opening_force_n, find.signature.closing_force_n
    friction = find.signature.friction_n
    if opening is None or closing is None or friction is None or opening <= 0:
        return []
    if friction > _FRICTION_SHARE * opening and friction > 4.0 * find.window.u_tare_n:
        return [Finding("friction", Severity.INFO, find.window.number, {"friction_n": friction})]
    return []


def _gap_near(force: Signal | None, at: float, spread: float, number: int) -> list[Finding]:
    if force is None:
        return []
    for low, high in force.gaps:
        if low - 3.0 * spread <= at <= high + 3.0 * spread:
            return [Finding("gap-at-first-lift", Severity.WARNING, number, {"from_s": low, "to_s": high})]
    return []


def after(signals: Signals, job: Job, finds: Sequence[PullFind], readings: Sequence[Reading]) -> list[Finding]:
    """Give findings that need all pulls: a first pull that stuck, a line too low to prove more than the spring.

    Parameters
    ----------
    signals : Signals
    job : Job
    finds : sequence of PullFind
    readings : sequence of Reading

    Returns
    -------
    list of Finding
    """
    del signals
    findings = _stuck(job, readings)
    measured = [r for r in readings if r.outcome is PullOutcome.MEASURED]
    if measured and job.valve.set_pressure.si > 0:
        line = _line_share(job, readings)
        if line is not None and line < _SPRING_ONLY:
            findings.append(
                Finding(
                    "spring-setting-only",
                    Severity.WARNING,
                    parameters={"line_pressure_pa": line * job.valve.set_pressure.si},
                )
            )
    del finds
    return findings


def _line_share(job: Job, readings: Sequence[Reading]) -> float | None:
    for reading in readings:
        if reading.budget is not None:
            for line in reading.budget.lines:
                if line.quantity.startswith("line pressure"):
                    return line.value / job.valve.set_pressure.si
    return None


def _stuck(job: Job, readings: Sequence[Reading]) -> list[Finding]:
    """The first loading against the later openings: higher by more than both scatter and a hundredth of set."""
    if len(readings) < 2:
        return []
    first = readings[0]
    later = [r for r in readings[1:] if r.set_pressure_pa is not None and r.budget is not None]
    if not later:
        return []
    values = [r.set_pressure_pa for r in later if r.set_pressure_pa is not None]
    own = max(r.budget.per_pull_pa for r in later if r.budget is not None)
    typical = float(np.median(values))
    start = first.set_pressure_pa if first.set_pressure_pa is not None else first.lower_bound_pa
    if start is None or first.outcome is PullOutcome.ALREADY_OPEN:
        return []
    above = start - typical
    scatter = 4.0 * math.hypot(own, first.budget.per_pull_pa if first.budget else own)
    if above > max(scatter, 0.015 * job.valve.set_pressure.si):
        severe = above > job.rules.agreement_spread * job.valve.set_pressure.si or first.set_pressure_pa is None
        return [
            Finding(
                "stuck-first-pull",
                Severity.SEVERE if severe else Severity.WARNING,
                first.number,
                {"first_set_pressure_pa": start, "later_set_pressure_pa": typical},
            )
        ]
    return []


def pop_distance(limits: Limits, verdict: Verdict | None) -> list[Finding]:
    """Say that the rule means pop while the pull shows first lift, where a verdict was made on it.

    Parameters
    ----------
    limits : Limits
    verdict : Verdict or None

    Returns
    -------
    list of Finding
    """
    if verdict is None or limits.pop_distance_pa <= 0:
        return []
    return [Finding("pop-distance-unknown", Severity.INFO, parameters={"distance_pa": limits.pop_distance_pa})]


def pop_line(limits: Limits) -> tuple[BudgetLine, ...]:
    """Give the one-sided budget line of the unknown distance from first lift up to pop.

    Parameters
    ----------
    limits : Limits

    Returns
    -------
    tuple of BudgetLine
    """
    if limits.pop_distance_pa <= 0:
        return ()
    u = limits.pop_distance_pa / math.sqrt(12.0)
    return (
        BudgetLine(
            "distance from first lift to pop", limits.pop_distance_pa, "Pa", u, "one-sided", None, 1.0, u, 0.0, "setup"
        ),
    )
