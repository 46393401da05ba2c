"""Hold points: what the technician confirms before and after the pulls, kept with the test as data."""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from firstlift.core.errors import FirstliftError, Problem
from firstlift.core.plan.approach import Approach
from firstlift.core.plan.closing import StaysOpen
from firstlift.core.plan.force import Forces
from firstlift.core.plan.inputs import PlanInputs
from firstlift.core.valve import ValveType

Parameters = Mapping[str, float | int | str | bool | None]


@dataclass(frozen=True, slots=True)
class HoldPoint:
    """One thing to confirm; ``when`` is "before-valve" (gear not on the valve yet), "before", "between" or "after".

    The numbers are this valve's own; the words are in `firstlift.words`.
    """

    code: str
    when: str
    parameters: Parameters


@dataclass(frozen=True, slots=True)
class Confirmation:
    """A hold point confirmed: by whom, when (UTC), with what they noted (a screw height, ring positions)."""

    code: str
    person: str
    at: dt.datetime
    note: str = ""


def hold_points(inputs: PlanInputs, forces: Forces, approach: Approach, stays_open: StaysOpen) -> tuple[HoldPoint, ...]:
    """Give the hold points of a planned test with this valve's numbers, in their order.

    Parameters
    ----------
    inputs : PlanInputs
    forces : Forces
    approach : Approach
    stays_open : StaysOpen

    Returns
    -------
    tuple of HoldPoint

    References
    ----------
    .. [1] Cautions: API RP 576, 4th edition 2017, 6.2 and 6.3 (looked up); gear, weights and order common
       practice.
    """
    # on a line already below its closing pressure the valve has no reason to stay open
    low = stays_open.closes_low_pa
    lower_to: Parameters = {"closes_low_pa": low if low < inputs.line_pressure_pa else None}
    abort: Parameters = {"abort_force_n": approach.abort_force_n}
    rows: list[tuple[str, str, Parameters]] = [
        ("hold-permit", "before-valve", {}),
        ("hold-cells-checked", "before-valve", {}),
        ("hold-sensors-checked", "before-valve", {}),
        ("hold-zone", "before-valve", {}),
        ("hold-weight-known", "before-valve", {"weight_n": inputs.job.weight_on_spindle_n}),
        ("hold-outlet-clear", "before-valve", {}),
        ("hold-other-relief", "before-valve", {}),
        ("hold-lower-pressure", "before-valve", lower_to),
        ("hold-people-clear", "before-valve", {}),
        ("hold-not-touched", "before", {}),
        ("hold-seal-cut", "before", {}),
        *([("hold-bonnet-sealed", "before", _header(inputs))] if _header(inputs) else []),
        ("hold-cap-off", "before", {}),
        ("hold-screw-height", "before", {}),
        ("hold-rings", "before", {}),
        ("hold-thread-rated", "before", {**abort, "spindle_limit_n": inputs.spindle_n}),
        ("hold-axial", "before", {}),
        ("hold-free-travel", "before", {"rated_lift_m": inputs.rated_lift_m, "pull_n": forces.high_n}),
        ("hold-tight-before", "before", {"line_pressure_pa": inputs.line_pressure_pa}),
        ("hold-abort-set", "before", abort),
        ("hold-recovery", "between", {"recovery_min": approach.recovery_s / 60.0}),
        ("hold-tight-between", "between", {}),
        ("hold-gear-off", "after", {}),
        ("hold-tight-after", "after", {"line_pressure_pa": inputs.line_pressure_pa}),
        ("hold-rings-after", "after", {}),
        ("hold-cap-on", "after", {}),
        ("hold-sealed", "after", {}),
        ("hold-owner-told", "after", {}),
    ]
    return tuple(HoldPoint(*row) for row in rows)


def _header(inputs: PlanInputs) -> Parameters:
    """Give the header's pressure where a closed bonnet would be opened to a live one, else nothing."""
    valve = inputs.job.valve
    pressure = max(valve.back_pressure_at_test_pa, valve.superimposed_back_pressure_pa)
    closed = valve.type is ValveType.CONVENTIONAL and pressure > 0.0
    return {"back_pressure_pa": pressure} if closed else {}


def still_open(points: Sequence[HoldPoint], confirmed: Sequence[Confirmation], when: str) -> tuple[HoldPoint, ...]:
    """Give the hold points of a stage that nobody has confirmed yet.

    Parameters
    ----------
    points : sequence of HoldPoint
    confirmed : sequence of Confirmation
    when : str
        The stage: "before-valve", "before", "between" or "after".

    Returns
    -------
    tuple of HoldPoint

    Raises
    ------
    FirstliftError
        PLN-005 a confirmation without a person, or of a point that is not in the plan.
    """
    known = {point.code for point in points}
    problems = [
        Problem(
            "PLN-005",
            f"'{one.code}' is confirmed by nobody" if one.code in known else f"'{one.code[:60]}' is no hold point",
            "confirmations",
            "a hold point of the plan and the name of who confirms it",
        )
        for one in confirmed
        if one.code not in known or not one.person.strip()
    ]
    if problems:
        raise FirstliftError(problems)
    done = {one.code for one in confirmed}
    return tuple(point for point in points if point.when == when and point.code not in done)
