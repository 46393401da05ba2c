"""The pull plan as one frozen record: what a person reads, what is printed, and what a rig loads."""

from __future__ import annotations

import dataclasses
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from firstlift.core.errors import Finding, FirstliftError, Problem, Severity
from firstlift.core.plan.applies import Applicability, applies
from firstlift.core.plan.approach import Approach, find_approach
from firstlift.core.plan.cards import Card, cards
from firstlift.core.plan.closing import StaysOpen, stays_open
from firstlift.core.plan.decide import Edges, find_edges
from firstlift.core.plan.force import EnvelopeRow, Forces, envelope, find_forces
from firstlift.core.plan.forecast import forecast_budget
from firstlift.core.plan.help import Lever, find_levers
from firstlift.core.plan.holds import HoldPoint, hold_points
from firstlift.core.plan.inputs import DEFAULT_STOP_SHARE, PlanInputs, cell_limit_n, check_inputs
from firstlift.core.result import BudgetLine, record_from_json, schema_of

FORMAT = "firstlift-plan-1"
_MAP_ROWS = 13


@dataclass(frozen=True, slots=True)
class PlanLimits:
    """The limits the plan looks at, [Pa gauge], and where they come from."""

    code: str
    edition: str
    clause: str
    status: str
    lower_pa: float
    upper_pa: float
    definition: str
    pop_distance_pa: float
    decision: str
    decision_probability: float


@dataclass(frozen=True, slots=True)
class Plan:
    """A planned pull: SI, gauge. ``go`` is "go", "ask" (questions are open) or "no-go".

    ``levers`` are what would help, the plan as it is first; ``decision_map`` where the verdict changes with the
    reading, by line pressure; ``envelope`` the pulls by line pressure. ``lowest_line_pa`` is None where no
    line pressure within reach can decide.
    """

    format: str
    tag: str
    serial: str
    purpose: str
    go: str
    set_pressure_pa: float
    line_pressure_pa: float
    highest_line_pa: float
    seat_area_m2: float
    limits: PlanLimits
    applicability: Applicability
    forces: Forces
    approach: Approach
    stays_open: StaysOpen
    expanded_uncertainty_pa: float
    lowest_line_pa: float | None
    probability_decided: float
    levers: tuple[Lever, ...]
    budget: tuple[BudgetLine, ...]
    decision_map: tuple[Edges, ...]
    envelope: tuple[EnvelopeRow, ...]
    hold_points: tuple[HoldPoint, ...]
    cards: tuple[Card, ...]
    findings: tuple[Finding, ...]


def plan_pull(inputs: PlanInputs, *, with_map: bool = True) -> Plan:
    """Plan a pull: does the method apply, is it safe for gear and valve, can it decide.

    Parameters
    ----------
    inputs : PlanInputs
    with_map : bool
        Without it ``decision_map`` is empty, which takes half the time: for papers that do not show it.

    Returns
    -------
    Plan

    Raises
    ------
    FirstliftError
        PLN-001 to PLN-004: line pressure at or above set, a limit out of range, a stop that goes too far, an
        answer that is not known.
    """
    check_inputs(inputs)
    job, limits = inputs.job, inputs.limits
    open_still = stays_open(limits.code, job.valve.medium, inputs.set_pa, inputs.line_pressure_pa)
    applicability = applies(inputs, open_still)
    forces = find_forces(inputs)
    approach = find_approach(inputs, forces)
    levers = find_levers(inputs)
    planned = levers[0]
    budget = forecast_budget(job, inputs.line_pressure_pa, inputs.set_pa, inputs.moment_pa)
    findings = (*_rig(inputs, forces), *_decision(inputs, planned), *_always(inputs))
    return Plan(
        format=FORMAT,
        tag=job.valve.tag,
        serial=job.valve.serial,
        purpose=str(job.visit.purpose),
        go=_go(applicability, findings),
        set_pressure_pa=inputs.set_pa,
        line_pressure_pa=inputs.line_pressure_pa,
        highest_line_pa=inputs.highest_pa,
        seat_area_m2=job.seat.area_m2,
        limits=_limits(inputs),
        applicability=applicability,
        forces=forces,
        approach=approach,
        stays_open=open_still,
        expanded_uncertainty_pa=budget.expanded_uncertainty_pa,
        lowest_line_pa=planned.lowest_line_pa,
        probability_decided=planned.probability_decided,
        levers=levers,
        budget=budget.lines,
        decision_map=decision_map(inputs, _MAP_ROWS) if with_map else (),
        envelope=envelope(inputs),
        hold_points=hold_points(inputs, forces, approach, open_still),
        cards=cards(inputs, forces, approach, open_still),
        findings=findings,
    )


def decision_map(inputs: PlanInputs, rows: int) -> tuple[Edges, ...]:
    """Give where the verdict changes with the reading, from no line pressure to the highest.

    Parameters
    ----------
    inputs : PlanInputs
    rows : int
        Line pressures, 2 or more.

    Returns
    -------
    tuple of Edges
    """
    top = max(inputs.highest_pa, inputs.line_pressure_pa)
    return tuple(
        find_edges(inputs.job, inputs.limits, top * index / (rows - 1), inputs.moment_pa) for index in range(rows)
    )


def plan_from_json(data: Mapping[str, Any]) -> Plan:
    """Read a plan back: what `firstlift.core.result.to_json` gave.

    Parameters
    ----------
    data : mapping

    Returns
    -------
    Plan

    Raises
    ------
    FirstliftError
        PLN-007 not a plan of this release; RES-003 a key is missing or has the wrong type.
    """
    if data.get("format") != FORMAT:
        raise FirstliftError(
            Problem("PLN-007", f"plan format {str(data.get('format'))[:60]!r} is not known", "format", FORMAT)
        )
    return record_from_json(Plan, data, "plan")


def plan_schema() -> dict[str, Any]:
    """Give the JSON Schema of a plan, published as docs/schema/firstlift-plan-1.schema.json.

    Returns
    -------
    dict
    """
    return schema_of(Plan, FORMAT)


def _limits(inputs: PlanInputs) -> PlanLimits:
    limits, rules = inputs.limits, inputs.job.rules
    return PlanLimits(
        code=limits.code,
        edition=limits.edition,
        clause=limits.clause,
        status=limits.status,
        lower_pa=limits.lower_pa,
        upper_pa=limits.upper_pa,
        definition=str(limits.definition),
        pop_distance_pa=limits.pop_distance_pa,
        decision=str(rules.decision),
        decision_probability=rules.decision_probability,
    )


def _rig(inputs: PlanInputs, forces: Forces) -> list[Finding]:
    numbers = {"expected_n": forces.expected_n, "high_n": forces.high_n, "abort_force_n": forces.abort_n}
    findings: list[Finding] = []
    if forces.abort_n < forces.expected_n:
        findings.append(Finding("plan-beyond-rig", Severity.SEVERE, None, numbers))
    elif not forces.reaches_limits:
        findings.append(Finding("plan-range-cut", Severity.WARNING, None, numbers))
    if not forces.proves_high:
        bound = {"bound_pa": forces.abort_set_pa, "upper_pa": inputs.limits.upper_pa}
        findings.append(Finding("plan-cannot-prove-high", Severity.INFO, None, bound))
    limits = {
        "frame": inputs.frame_limit_n,
        "cells": cell_limit_n(inputs),
        "spindle": inputs.spindle_n,
    }
    unknown = [part for part, limit in limits.items() if limit is None]
    if unknown:
        findings.append(Finding("plan-limit-unknown", Severity.WARNING, None, {"parts": ", ".join(unknown)}))
    if inputs.stop_share > DEFAULT_STOP_SHARE * (1.0 + 1e-9):
        findings.append(Finding("plan-stop-raised", Severity.WARNING, None, {"stop_share": inputs.stop_share}))
    return findings


def _decision(inputs: PlanInputs, planned: Lever) -> list[Finding]:
    tolerance = 0.5 * (inputs.limits.upper_pa - inputs.limits.lower_pa)
    parameters = {"expanded_uncertainty_pa": planned.expanded_uncertainty_pa, "tolerance_pa": tolerance}
    lowest = planned.lowest_line_pa
    if lowest is None:
        return [Finding("plan-cannot-decide", Severity.WARNING, None, parameters)]
    if inputs.line_pressure_pa < lowest:
        more = {**parameters, "lowest_line_pa": lowest, "line_pressure_pa": inputs.line_pressure_pa}
        return [Finding("plan-line-too-low-to-decide", Severity.WARNING, None, more)]
    return []


def _always(inputs: PlanInputs) -> list[Finding]:
    findings = [Finding("plan-owner-decides", Severity.WARNING)]
    if inputs.u_moment_pa is None:
        findings.append(Finding("plan-moment-assumed", Severity.INFO, None, {"uncertainty_pa": inputs.moment_pa}))
    return findings


def _go(applicability: Applicability, findings: tuple[Finding, ...]) -> str:
    if applicability.outcome == "does-not-apply" or any(f.severity is Severity.SEVERE for f in findings):
        return "no-go"
    return "ask" if applicability.outcome == "open" else "go"


def with_answers(inputs: PlanInputs, answers: Mapping[str, str]) -> PlanInputs:
    """Give the inputs with answers to the questions of applicability.

    Parameters
    ----------
    inputs : PlanInputs
    answers : mapping of str to str

    Returns
    -------
    PlanInputs
    """
    return dataclasses.replace(inputs, answers={**inputs.answers, **answers})
