"""What would help a pull to decide: a better area, a better gauge, better cells, more line pressure."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass, replace

from firstlift.core.job import ChannelSpec, Job, Measures
from firstlift.core.plan.decide import find_edges, lowest_line_pa, probability_decided
from firstlift.core.plan.forecast import forecast_spread
from firstlift.core.plan.inputs import PlanInputs

# a better instrument or seat measurement has half the uncertainty (what another class of gauge, or measuring instead
# of reading a drawing, brings; common practice)
BETTER = 0.5


@dataclass(frozen=True, slots=True)
class Lever:
    """One thing that would help: uncertainty after it, chance of a decided verdict, lowest line pressure.

    ``action`` is "as-planned", "better-area", "better-gauge", "better-cells" or "more-line".
    """

    action: str
    line_pressure_pa: float
    expanded_uncertainty_pa: float
    probability_decided: float
    lowest_line_pa: float | None


def with_better_area(job: Job, share: float = BETTER) -> Job:
    """Give the job with a seat measured better.

    Parameters
    ----------
    job : Job
    share : float
        Uncertainty left, as a share of what it was.

    Returns
    -------
    Job
    """
    seat = job.seat
    shares = tuple(replace(part, u_area_m2=part.u_area_m2 * share) for part in seat.shares)
    better = replace(seat, u_area_m2=seat.u_area_m2 * share, half_width_m2=seat.half_width_m2 * share, shares=shares)
    return replace(job, seat=better)


def with_better(job: Job, measures: Measures, share: float = BETTER) -> Job:
    """Give the job with better instruments of one kind.

    Parameters
    ----------
    job : Job
    measures : Measures
    share : float
        Uncertainty left, as a share of what it was.

    Returns
    -------
    Job
    """

    def improved(spec: ChannelSpec) -> ChannelSpec:
        if spec.measures is not measures:
            return spec
        return replace(
            spec,
            relative_standard_uncertainty=spec.relative_standard_uncertainty * share,
            standard_uncertainty=spec.standard_uncertainty * share,
        )

    visit = job.visit
    if measures is Measures.LINE_PRESSURE and visit.u_line_pressure_pa is not None:
        visit = replace(visit, u_line_pressure_pa=visit.u_line_pressure_pa * share)
    return replace(job, visit=visit, channels=tuple(improved(spec) for spec in job.channels))


def find_levers(inputs: PlanInputs) -> tuple[Lever, ...]:
    """Weigh what would help: the plan as it is first, then the rest, the most helpful first.

    Parameters
    ----------
    inputs : PlanInputs

    Returns
    -------
    tuple of Lever
        More line only where the line may be raised.
    """
    line = inputs.line_pressure_pa
    improved: dict[str, Callable[[Job], Job]] = {
        "better-area": with_better_area,
        "better-gauge": lambda job: with_better(job, Measures.LINE_PRESSURE),
        "better-cells": lambda job: with_better(job, Measures.PULL_FORCE),
    }
    planned = _lever(inputs, "as-planned", inputs.job, line)
    levers = [_lever(inputs, name, improve(inputs.job), line) for name, improve in improved.items()]
    if inputs.highest_pa > line:
        raised = _lever(inputs, "more-line", inputs.job, inputs.highest_pa)
        levers.append(replace(raised, lowest_line_pa=planned.lowest_line_pa))
    # more chance first; between equal chances less uncertainty
    levers.sort(key=lambda lever: (-round(lever.probability_decided, 6), lever.expanded_uncertainty_pa))
    return (planned, *levers)


def _lever(inputs: PlanInputs, action: str, job: Job, line_pa: float) -> Lever:
    limits, moment = inputs.limits, inputs.moment_pa
    spread = forecast_spread(job, line_pa, inputs.set_pa, moment)
    edges = find_edges(job, limits, line_pa, moment)
    sd = math.hypot(inputs.prior_share * inputs.set_pa, spread.standard_uncertainty)
    return Lever(
        action=action,
        line_pressure_pa=line_pa,
        expanded_uncertainty_pa=spread.expanded(0.95),
        probability_decided=probability_decided(edges, inputs.set_pa, sd),
        lowest_line_pa=lowest_line_pa(job, limits, moment, inputs.highest_pa),
    )
