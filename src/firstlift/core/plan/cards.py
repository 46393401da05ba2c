"""Cards for the moment it goes wrong: steps in their order, with this valve's own numbers."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from firstlift.core.plan.approach import Approach
from firstlift.core.plan.closing import StaysOpen
from firstlift.core.plan.force import Forces
from firstlift.core.plan.inputs import NEVER_STOP_SHARE, PlanInputs
from firstlift.core.valve import ValveType

Parameters = Mapping[str, float | int | str | bool | None]
EVENTS = ("stuck", "stayed-open", "leaking", "bellows-vent")


@dataclass(frozen=True, slots=True)
class Step:
    """One step of a card; its words are in `firstlift.words`."""

    code: str
    parameters: Parameters


@dataclass(frozen=True, slots=True)
class Card:
    """What to do when one thing goes wrong."""

    event: str
    steps: tuple[Step, ...]


def cards(inputs: PlanInputs, forces: Forces, approach: Approach, stays_open: StaysOpen) -> tuple[Card, ...]:
    """Give the cards of a planned test.

    Parameters
    ----------
    inputs : PlanInputs
    forces : Forces
    approach : Approach
    stays_open : StaysOpen

    Returns
    -------
    tuple of Card
        The card of the bellows' vent only for a valve that has a bellows.

    References
    ----------
    .. [1] What may go wrong in an assisted lift: API RP 576, 4th edition 2017, 6.3 (looked up); the steps are
       common practice.
    """
    made = [
        Card("stuck", _stuck(inputs, forces, approach)),
        Card("stayed-open", _stayed_open(inputs, stays_open)),
        Card("leaking", _leaking(inputs)),
    ]
    if inputs.job.valve.type is ValveType.BALANCED_BELLOWS:
        made.append(Card("bellows-vent", _bellows(inputs, stays_open)))
    return tuple(made)


def _steps(*rows: str | tuple[str, Parameters]) -> tuple[Step, ...]:
    return tuple(Step(row, {}) if isinstance(row, str) else Step(*row) for row in rows)


def _stuck(inputs: PlanInputs, forces: Forces, approach: Approach) -> tuple[Step, ...]:
    never: Parameters = {"never_pa": NEVER_STOP_SHARE * inputs.set_pa}
    proven: Parameters = {"bound_pa": forces.abort_set_pa, "upper_pa": inputs.limits.upper_pa}
    return _steps(
        ("card-stop-pull", {"abort_force_n": approach.abort_force_n}),
        "card-release-slowly",
        ("card-bound-proven" if forces.proves_high else "card-bound-says-little", proven),
        ("card-no-harder", never),
        "card-no-hammer",
        "card-no-gag",
        "card-stuck-relief-path",
        "card-owner-told",
    )


def _stayed_open(inputs: PlanInputs, stays_open: StaysOpen) -> tuple[Step, ...]:
    line = inputs.line_pressure_pa
    lower: Parameters = {"line_pressure_pa": line, "closes_low_pa": stays_open.closes_low_pa}
    # below the lowest pressure at which it should shut, something other than the medium holds it open
    held = line <= stays_open.closes_low_pa
    return _steps(
        "card-people-clear",
        "card-gear-slack",
        ("card-held-open" if held else "card-lower-pressure", lower),
        "card-no-hammer",
        "card-no-gag",
        "card-no-block-valve",
        "card-not-pull-again",
        "card-inoperable",
        "card-owner-told",
    )


def _leaking(inputs: PlanInputs) -> tuple[Step, ...]:
    return _steps(
        "card-gear-slack",
        "card-listen",
        ("card-leak-lower", {"line_pressure_pa": inputs.line_pressure_pa}),
        "card-no-adjust-on-leak",
        "card-no-hammer",
        "card-no-gag",
        "card-owner-told",
    )


def _bellows(inputs: PlanInputs, stays_open: StaysOpen) -> tuple[Step, ...]:
    return _steps(
        "card-people-clear",
        "card-gear-slack",
        "card-vent-not-plugged",
        ("card-bellows-lower", {"closes_low_pa": min(stays_open.closes_low_pa, inputs.line_pressure_pa)}),
        "card-no-block-valve",
        "card-bellows-conventional",
        "card-owner-told",
    )
