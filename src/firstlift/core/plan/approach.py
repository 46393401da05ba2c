"""How fast to pull, and when to stop at once: limits on force, lift, line pressure and time."""

from __future__ import annotations

import math
from dataclasses import dataclass

from firstlift.core.plan.force import Forces
from firstlift.core.plan.inputs import HIGHEST_LINE_SHARE, PlanInputs

# common practice, no source: the rise takes a quarter of a minute; in the 50 ms in which first lift is found the pull
# grows by no more than 0.2 % of set; three times the expected time is long enough; the line may sag by a tenth, rise by
# a twentieth, and move by a fiftieth of set in any case, for a gauge is not that steady
_RISE_S = 15.0
_FOUND_WITHIN_S = 0.05
_SHARE_WITHIN = 0.002
_TIMES_LONGER = 3.0
_SAG = 0.1
_RISE = 0.05
_LEAST_ROOM = 0.02
# first lift is micrometres; a tenth of the lift at which curtain and bore are equal (D/4) is far beyond it and far
# below a full opening
_LIFT_SHARE = 0.1
_LEAST_RATE_N_PER_S = 1.0


@dataclass(frozen=True, slots=True)
class Approach:
    """How to rise and when to stop at once: whichever of the limits is met first ends the pull."""

    rate_n_per_s: float
    expected_time_s: float
    abort_force_n: float
    abort_lift_m: float
    abort_line_high_pa: float
    abort_line_low_pa: float
    abort_time_s: float
    recovery_s: float


# between two pulls the parts come back to temperature: 5 or 10 minutes by edition and medium (memory); the longer
RECOVERY_S = 600.0


def find_approach(inputs: PlanInputs, forces: Forces) -> Approach:
    """Give rate of rise and abort limits.

    Parameters
    ----------
    inputs : PlanInputs
    forces : Forces

    Returns
    -------
    Approach

    References
    ----------
    .. [1] Stop at 110 % of set by default, never at 150 %: common practice; that there is a stop: API RP 576,
       6.2.9.1 (looked up). Recovery between openings: ASME OM, appendix I (memory).
    """
    area = inputs.job.seat.area_m2
    by_finding = _SHARE_WITHIN * inputs.set_pa * area / _FOUND_WITHIN_S
    rate = max(_LEAST_RATE_N_PER_S, min(forces.expected_n / _RISE_S, by_finding))
    quarter = 0.25 * math.sqrt(4.0 * area / math.pi)
    lift = _LIFT_SHARE * (quarter if inputs.rated_lift_m is None else min(quarter, inputs.rated_lift_m))
    line, least_room = inputs.line_pressure_pa, _LEAST_ROOM * inputs.set_pa
    line_high = max(line, min(HIGHEST_LINE_SHARE * inputs.set_pa, line + max(_RISE * line, least_room)))
    return Approach(
        rate_n_per_s=rate,
        expected_time_s=forces.expected_n / rate,
        abort_force_n=forces.abort_n,
        abort_lift_m=lift,
        abort_line_high_pa=line_high,
        abort_line_low_pa=line - max(_SAG * line, least_room),
        abort_time_s=_TIMES_LONGER * max(forces.abort_n / rate, _RISE_S),
        recovery_s=RECOVERY_S,
    )
