"""The pull to expect, the range it may lie in, where it stops, and what frame, cells and spindle bear."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from firstlift.core.plan.forecast import expected_pull_n, forecast_budget
from firstlift.core.plan.inputs import PlanInputs, cell_limit_n
from firstlift.core.tolerance.judge import judge_lower_bound
from firstlift.core.tolerance.limits import Limits

# what frame, cells and spindle may be loaded to (common practice, no source)
USABLE_SHARE = 0.9


@dataclass(frozen=True, slots=True)
class Margin:
    """One limit of the pull, [N]; ``share`` is the stop's pull over it. ``holds``: up to the usable share."""

    part: str
    limit_n: float
    share: float
    holds: bool


@dataclass(frozen=True, slots=True)
class Forces:
    """Pulls as the gear feels them, the weight on the spindle included, [N].

    ``expected_n``: the valve opens at its set pressure. ``low_n`` and ``high_n``: it opens at the lower or upper
    limit, the uncertainty of area and instruments added. ``wanted_stop_n`` is where the stop's equivalent set
    pressure lies, ``abort_n`` where this rig must stop: that, or what the weakest part bears, if less.
    ``abort_set_pa`` is the equivalent set pressure at the abort; ``proves_high``: a valve that has not opened by
    then is proven outside. ``reaches_limits``: every valve within the limits opens before the abort.
    """

    expected_n: float
    low_n: float
    high_n: float
    wanted_stop_n: float
    abort_n: float
    abort_set_pa: float
    proves_high: bool
    reaches_limits: bool
    margins: tuple[Margin, ...]


def find_forces(inputs: PlanInputs) -> Forces:
    """Give the forces of a planned pull.

    Parameters
    ----------
    inputs : PlanInputs

    Returns
    -------
    Forces, [N]

    References
    ----------
    .. [1] The force balance of `firstlift.core.setpressure`, solved for the pull.
    """
    line, weight = inputs.line_pressure_pa, inputs.job.weight_on_spindle_n
    limits, area = inputs.limits, inputs.job.seat.area_m2

    def pull(set_pa: float) -> float:
        return expected_pull_n(inputs.job, line, set_pa)

    stop_pa = inputs.stop_share * inputs.set_pa
    wanted = pull(stop_pa) + weight
    margins = find_margins(inputs, wanted)
    abort = min([wanted, *(USABLE_SHARE * margin.limit_n for margin in margins)])
    # one newton more pull is one over the area more set pressure
    abort_set = stop_pa - (wanted - abort) / area
    low = pull(limits.lower_pa) - area * _expanded(inputs, limits.lower_pa)
    high = pull(limits.upper_pa) + area * _expanded(inputs, limits.upper_pa)
    return Forces(
        expected_n=pull(inputs.set_pa) + weight,
        low_n=max(0.0, low) + weight,
        high_n=high + weight,
        wanted_stop_n=wanted,
        abort_n=abort,
        abort_set_pa=abort_set,
        proves_high=_proves_high(inputs, abort_set, limits),
        reaches_limits=abort >= high + weight,
        margins=margins,
    )


def _expanded(inputs: PlanInputs, set_pa: float) -> float:
    budget = forecast_budget(inputs.job, inputs.line_pressure_pa, set_pa, inputs.moment_pa)
    return budget.expanded_uncertainty_pa


def _proves_high(inputs: PlanInputs, abort_set_pa: float, limits: Limits) -> bool:
    if abort_set_pa <= limits.upper_pa:
        return False
    return judge_lower_bound(abort_set_pa, _expanded(inputs, abort_set_pa), limits) is not None


def find_margins(inputs: PlanInputs, stop_n: float) -> tuple[Margin, ...]:
    """Give what each part bears against the pull at the stop.

    Parameters
    ----------
    inputs : PlanInputs
    stop_n : float, [N]

    Returns
    -------
    tuple of Margin
        Only of parts whose limit is known.
    """
    parts: Sequence[tuple[str, float | None]] = (
        ("frame", inputs.frame_limit_n),
        ("cells", cell_limit_n(inputs)),
        ("spindle", inputs.spindle_n),
    )
    return tuple(
        Margin(part, limit, stop_n / limit, stop_n <= USABLE_SHARE * limit)
        for part, limit in parts
        if limit is not None
    )


@dataclass(frozen=True, slots=True)
class EnvelopeRow:
    """Pulls at one line pressure, [N]: expected, at the limits, at the stop."""

    line_pressure_pa: float
    low_n: float
    expected_n: float
    high_n: float
    stop_n: float


def envelope(inputs: PlanInputs, rows: int = 25) -> tuple[EnvelopeRow, ...]:
    """Give the force envelope against line pressure, from no line to the highest.

    Parameters
    ----------
    inputs : PlanInputs
    rows : int
        Line pressures, 2 or more.

    Returns
    -------
    tuple of EnvelopeRow
        Without uncertainties: what a valve at the limits needs.
    """
    top = max(inputs.highest_pa, inputs.line_pressure_pa)
    weight = inputs.job.weight_on_spindle_n
    made: list[EnvelopeRow] = []
    for index in range(rows):
        line = top * index / (rows - 1)
        pulls = [
            max(0.0, expected_pull_n(inputs.job, line, set_pa)) + weight
            for set_pa in (
                inputs.limits.lower_pa,
                inputs.set_pa,
                inputs.limits.upper_pa,
                inputs.stop_share * inputs.set_pa,
            )
        ]
        made.append(EnvelopeRow(line, *pulls))
    return tuple(made)
