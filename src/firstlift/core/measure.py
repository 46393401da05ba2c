"""From the moment of first lift to a set pressure with its budget, and from a pull without lift to a bound."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from firstlift.core.job import Job, Measures
from firstlift.core.lift.closure import cell_load
from firstlift.core.lift.find import PullFind
from firstlift.core.lift.level import level_at
from firstlift.core.line import line_pressure
from firstlift.core.setpressure import BackPressureTerms, Balance, back_pressure_terms
from firstlift.core.signal.condition import Signals
from firstlift.core.signal.pulls import PullWindow
from firstlift.core.uncertainty.budget import Budget, Input, make_budget
from firstlift.core.uncertainty.coverage import Spread
from firstlift.core.uncertainty.instruments import cell_lines, gauge_lines, seat_share_lines, shared_correlations
from firstlift.core.valve import Seat, Valve

# a seat that leaks before lift is pressurised nearly to its outer edge; without known edges the pressurised area may
# be larger by up to this share (outer over mean area of common lands, common practice): larger only, so that the set
# pressure may lie lower, by dA/A of what the pull added, and not higher
LEAKING_EXCESS = 0.04
COVERAGE = 0.95


@dataclass(frozen=True, slots=True, eq=False)
class PullMeasured:
    """One pull in pressures: SI, gauge. ``is_bound``: the pressure is a lower bound, not a set pressure."""

    line_pressure_pa: float
    pull_force_n: float
    pressure_pa: float
    budget: Budget
    is_bound: bool
    back_pressure_at_test_pa: float
    terms: BackPressureTerms


def uses_cold_test_pressure(job: Job) -> bool:
    """Say whether the valve is cold and is to be compared with its cold differential test pressure.

    The temperature factor belongs only to a valve whose body is at ambient; a hot valve in service is
    compared with its set pressure, never both. At ambient means within 20 K (common practice, no source).

    Parameters
    ----------
    job : Job

    Returns
    -------
    bool
    """
    visit, valve = job.visit, job.valve
    if valve.cold_differential_test_pressure is None or visit.body_temperature_k is None:
        return False
    ambient = visit.ambient_temperature_k if visit.ambient_temperature_k is not None else 293.15
    return abs(visit.body_temperature_k - ambient) < 20.0


def measure_pull(signals: Signals, job: Job, find: PullFind, *, beside: Sequence[Input] = ()) -> PullMeasured | None:
    """Compute the set pressure of a pull that lifted.

    Parameters
    ----------
    signals : Signals
    job : Job
    find : PullFind
    beside : sequence of Input
        Budget lines beside the usual ones, sensitivities in Pa per unit.

    Returns
    -------
    PullMeasured or None
        None where the line pressure at the moment is not known.
    """
    joint = find.joint
    if joint is None:
        return None
    line, u_line = line_pressure(signals, job, joint.time_s)
    if not np.isfinite(line).all():
        return None
    force = joint.force_n - find.window.zero_n(joint.mean_s)[0] - job.weight_on_spindle_n
    area = job.seat.area_m2
    probability = joint.probability
    opening = line + force / area
    mean = float(probability @ opening)
    # total variance: what each candidate leaves open, and how the opening load differs between candidates
    within = np.square(u_line) + np.square(joint.u_force_n / area)
    u_moment = math.sqrt(float(probability @ (within + np.square(opening - mean))))
    return _balance(
        signals,
        job,
        find.window,
        line_pa=float(probability @ line),
        force_n=float(probability @ force),
        at_s=joint.mean_s,
        u_moment_pa=u_moment,
        leaking=any(f.code == "leaking-before-lift" for f in find.findings),
        is_bound=False,
        beside=beside,
    )


def bound_pull(signals: Signals, job: Job, window: PullWindow) -> PullMeasured | None:
    """Compute what a pull without lift proves: the valve opens above this pressure.

    The largest of short means of the opening load counts, not the largest sample: noise proves nothing.

    Parameters
    ----------
    signals : Signals
    job : Job
    window : PullWindow

    Returns
    -------
    PullMeasured or None
        None where force or line pressure are not known.
    """
    force = signals.force
    if force is None:
        return None
    part = force.between(window.start_s, window.end_s)
    t, f = force.time_s[part], force.value[part]
    size = max(1, min(int(0.05 / force.step_s), t.size // 10))
    if t.size < 10:
        return None
    count = t.size // size
    means = f[: count * size].reshape(count, size).mean(axis=1)
    middle = t[: count * size].reshape(count, size).mean(axis=1)
    index = int(np.argmax(means))
    line, u_line = line_pressure(signals, job, middle[index : index + 1])
    if not np.isfinite(line).all():
        return None
    noise_n = force.noise / math.sqrt(size)
    # the largest of many noisy means lies above the true one; what m means near the top exceed it by on average
    near = int((means > means[index] - 3.0 * noise_n).sum())
    bias = noise_n * math.sqrt(2.0 * math.log(near)) if near > 1 else 0.0
    return _balance(
        signals,
        job,
        window,
        line_pa=float(line[0]),
        force_n=float(means[index]) - bias - window.zero_n(float(middle[index]))[0] - job.weight_on_spindle_n,
        at_s=float(middle[index]),
        u_moment_pa=float(np.hypot(u_line[0], noise_n / job.seat.area_m2)),
        leaking=False,
        is_bound=True,
    )


def _balance(
    signals: Signals,
    job: Job,
    window: PullWindow,
    *,
    line_pa: float,
    force_n: float,
    at_s: float,
    u_moment_pa: float,
    leaking: bool,
    is_bound: bool,
    beside: Sequence[Input] = (),
) -> PullMeasured:
    terms = back_pressure_terms(job.valve, job.seat.area_m2)
    at_test, u_back = back_pressure_at_test(signals, job, at_s)
    in_service = 0.0 if uses_cold_test_pressure(job) else job.valve.superimposed_back_pressure_pa
    balance = Balance(line_pa, force_n, job.seat.area_m2, at_test, in_service, terms)
    inputs = [*_inputs(signals, job, window, balance, at_s, u_moment_pa, u_back, leaking), *beside]
    budget = make_budget(inputs, shared_correlations(inputs), COVERAGE)
    return PullMeasured(line_pa, force_n, balance.set_pressure_pa, budget, is_bound, at_test, terms)


def back_pressure_at_test(signals: Signals, job: Job, at_s: float) -> tuple[float, float]:
    """Give back pressure at the moment and its standard uncertainty, [Pa gauge].

    A channel is believed before the job sheet (`stated_back_pressure`).

    Parameters
    ----------
    signals : Signals
    job : Job
    at_s : float, [s]

    Returns
    -------
    value, standard_uncertainty : float, [Pa]
    """
    if signals.back_pressure is not None:
        value, u = level_at(signals.back_pressure, np.array([at_s]), shortest_s=0.05, longest_s=0.5)
        spec = job.of(Measures.BACK_PRESSURE)[0]
        calibration = math.hypot(spec.relative_standard_uncertainty * float(value[0]), spec.standard_uncertainty)
        return float(value[0]), math.hypot(float(u[0]), calibration)
    return stated_back_pressure(job.valve)


def stated_back_pressure(valve: Valve) -> tuple[float, float]:
    """Give the back pressure at the test as the job sheet states it, and its standard uncertainty, [Pa gauge].

    A stated value that nobody measured is not silently exact: without a stated uncertainty it may be off by a
    tenth of the larger of itself and the service back pressure, either way (rectangular; common practice, no
    source).

    Parameters
    ----------
    valve : Valve

    Returns
    -------
    value, standard_uncertainty : float, [Pa]
    """
    stated = valve.back_pressure_at_test_pa
    if valve.u_back_pressure_pa is not None:
        return stated, valve.u_back_pressure_pa
    return stated, 0.1 * max(abs(stated), abs(valve.superimposed_back_pressure_pa)) / math.sqrt(3.0)


def _inputs(
    signals: Signals,
    job: Job,
    window: PullWindow,
    balance: Balance,
    at_s: float,
    u_moment_pa: float,
    u_back_pa: float,
    leaking: bool,
) -> list[Input]:
    per_force = 1.0 / balance.area_m2
    inputs = gauge_lines(job, balance.line_pressure_pa)
    for spec, cell in zip(signals.cell_specs, signals.cells, strict=True):
        inputs.extend(cell_lines(spec, cell_load(cell, window, at_s), per_force, job.seat))
    inputs.extend(seat_lines(job.seat, balance, leaking))
    moment = "moment of first lift and noise"
    inputs.append(Input(moment, balance.set_pressure_pa, "Pa", u_moment_pa, "normal", math.inf, 1.0, "pull"))
    inputs.append(Input("tare", window.tare_n, "N", window.u_tare_n, "normal", math.inf, -per_force, "pull"))
    if window.zero_shift_n is not None:
        moved = window.zero_n(at_s)[1]
        inputs.append(Input("zero shift", window.zero_shift_n, "N", moved, "rectangular", math.inf, per_force, "pull"))
    inputs.extend(back_pressure_lines(balance, u_back_pa))
    return [line for line in inputs if line.standard_uncertainty > 0.0 or line.quantity == moment]


def shared_spread(budget: Budget) -> Spread:
    """Give the distribution of what all pulls of a test share: calibrations, seat, set-up.

    Parameters
    ----------
    budget : Budget

    Returns
    -------
    Spread, [Pa]
    """
    lines = [
        Input(
            line.quantity,
            line.value,
            line.unit,
            line.standard_uncertainty,
            line.distribution,
            math.inf if line.degrees_of_freedom is None else line.degrees_of_freedom,
            line.sensitivity,
            line.common_to,
        )
        for line in budget.lines
        if line.common_to != "pull"
    ]
    return make_budget(lines, shared_correlations(lines)).spread if lines else Spread(0.0)


def pull_by_hand(line_pa: float, u_line_pa: float, pull_n: float, u_pull_n: float, seat: Seat) -> tuple[float, Budget]:
    """Compute the set pressure of a pull read off by hand, with its budget.

    Parameters
    ----------
    line_pa, u_line_pa : float, [Pa gauge]
    pull_n, u_pull_n : float, [N]
    seat : Seat

    Returns
    -------
    set_pressure_pa : float, [Pa gauge]
    budget : Budget
    """
    balance = Balance(line_pa, pull_n, seat.area_m2)
    per_force = 1.0 / seat.area_m2
    lines = [
        Input("line pressure", line_pa, "Pa", u_line_pa, "normal", math.inf, 1.0, "gauge:by hand"),
        Input("pull force", pull_n, "N", u_pull_n, "normal", math.inf, per_force, "cell:by hand"),
        *seat_lines(seat, balance, leaking=False),
    ]
    return balance.set_pressure_pa, make_budget([line for line in lines if line.standard_uncertainty > 0.0])


def seat_lines(seat: Seat, balance: Balance, leaking: bool) -> list[Input]:
    """Give the budget lines of the seat area under a pull, [Pa]; also of a pull that is only planned.

    Parameters
    ----------
    seat : Seat
    balance : Balance
    leaking : bool
        The seat leaked before lift.

    Returns
    -------
    list of Input
    """
    slope = balance.area_sensitivity_pa_per_m2
    lines: list[Input] = []
    if seat.u_area_m2 > 0:
        dof = seat.degrees_of_freedom
        lines.append(Input("seat area", seat.area_m2, "m2", seat.u_area_m2, "normal", dof, slope, "seat"))
    if seat.half_width_m2 > 0:
        u = seat.half_width_m2 / math.sqrt(3.0)
        lines.append(
            Input("seat area between its edges", seat.area_m2, "m2", u, "rectangular", math.inf, slope, "seat")
        )
    elif leaking:
        u = LEAKING_EXCESS * seat.area_m2 / math.sqrt(12.0)
        lines.append(Input("seat area while leaking", seat.area_m2, "m2", u, "one-sided", math.inf, slope, "seat"))
    return [*lines, *seat_share_lines(seat, slope)]


def back_pressure_lines(balance: Balance, u_back_pa: float) -> list[Input]:
    """Give the budget lines of back pressure and of dimensions nobody stated, [Pa].

    Parameters
    ----------
    balance : Balance
    u_back_pa : float, [Pa]
        Standard uncertainty of the back pressure at the test.

    Returns
    -------
    list of Input
    """
    terms = balance.terms
    lines: list[Input] = []
    if u_back_pa > 0:
        lines.append(
            Input(
                "back pressure at the test",
                balance.back_pressure_at_test_pa,
                "Pa",
                u_back_pa,
                "normal",
                math.inf,
                terms.at_test if terms.at_test else terms.half_width,
                "setup",
            )
        )
    moved = (
        abs(balance.back_pressure_at_test_pa)
        if terms.missing == "spindle_diameter"
        else abs(balance.back_pressure_at_test_pa - balance.back_pressure_in_service_pa)
    )
    if terms.half_width > 0 and moved > 0:
        u = terms.half_width / math.sqrt(3.0)
        lines.append(Input(f"unknown {terms.missing}", 0.0, "1", u, "rectangular", math.inf, moved, "setup"))
    return lines
