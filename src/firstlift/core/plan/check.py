"""A plan that comes back from a file is checked against limits before anything moves.

A plan is data: it may be old, of another valve, or edited by hand. What is checked here is what would hurt.
"""

from __future__ import annotations

import math

from firstlift.core.errors import Finding, Severity
from firstlift.core.plan.force import USABLE_SHARE
from firstlift.core.plan.inputs import HIGHEST_LINE_SHARE, NEVER_STOP_SHARE, PlanInputs, cell_limit_n
from firstlift.core.plan.plan import Plan

# a plan rounded on its way through a file is still the same plan
_ROUNDING = 1e-6


def check_plan(plan: Plan, inputs: PlanInputs) -> tuple[Finding, ...]:
    """Check a plan against the valve, the rig and the limits as they are now.

    Parameters
    ----------
    plan : Plan
        As it was loaded.
    inputs : PlanInputs
        Valve, rig and limits now; its line pressure is not looked at.

    Returns
    -------
    tuple of Finding
        All severe; empty where the plan may be used.

    References
    ----------
    .. [1] Stop never at 150 % of set: common practice; that it is the mark of a stuck valve on a bench: API RP
       576, 4th edition 2017, 6.2.9.1 (looked up).
    """
    return (*_of_this_valve(plan, inputs), *_forces(plan, inputs), *_sense(plan))


def _of_this_valve(plan: Plan, inputs: PlanInputs) -> list[Finding]:
    valve = inputs.job.valve
    same = (plan.tag, plan.serial) == (valve.tag, valve.serial) and math.isclose(
        plan.set_pressure_pa, inputs.set_pa, rel_tol=_ROUNDING
    )
    findings: list[Finding] = []
    if not same or not math.isclose(plan.seat_area_m2, inputs.job.seat.area_m2, rel_tol=_ROUNDING):
        parameters = {"tag": plan.tag, "set_pressure_pa": plan.set_pressure_pa, "area_m2": plan.seat_area_m2}
        findings.append(Finding("plan-check-other-valve", Severity.SEVERE, None, parameters))
    if plan.go != "go":
        findings.append(Finding("plan-check-not-go", Severity.SEVERE))
    return findings


def _forces(plan: Plan, inputs: PlanInputs) -> list[Finding]:
    abort = plan.approach.abort_force_n
    limits = {"frame": inputs.frame_limit_n, "cells": cell_limit_n(inputs), "spindle": inputs.spindle_n}
    return [
        Finding(
            "plan-check-force",
            Severity.SEVERE,
            None,
            {"part": part, "abort_force_n": abort, "usable_n": USABLE_SHARE * limit},
        )
        for part, limit in limits.items()
        if limit is not None and not abort <= USABLE_SHARE * limit * (1.0 + _ROUNDING)
    ]


def _sense(plan: Plan) -> list[Finding]:
    """Hold the aborts to what keeps a pull harmless, whatever stands in the file."""
    approach, set_pa, line = plan.approach, plan.set_pressure_pa, plan.line_pressure_pa
    # the abort's equivalent set pressure is worked out anew: what the file says of it proves nothing
    reaches = line + approach.abort_force_n / plan.seat_area_m2
    findings: list[Finding] = []
    if not reaches < NEVER_STOP_SHARE * set_pa:
        never = {"bound_pa": reaches, "never_pa": NEVER_STOP_SHARE * set_pa}
        findings.append(Finding("plan-check-stop", Severity.SEVERE, None, never))
    if not 0.0 <= line <= HIGHEST_LINE_SHARE * set_pa * (1.0 + _ROUNDING) or not (
        approach.abort_line_low_pa <= line <= approach.abort_line_high_pa < set_pa
    ):
        findings.append(Finding("plan-check-line", Severity.SEVERE, None, {"line_pressure_pa": line}))
    positive = (approach.rate_n_per_s, approach.abort_force_n, approach.abort_lift_m, approach.abort_time_s)
    if not all(value > 0.0 for value in positive):
        findings.append(Finding("plan-check-limit-missing", Severity.SEVERE))
    return findings
