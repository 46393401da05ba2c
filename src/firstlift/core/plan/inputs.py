"""What a pull plan is made from, and what of it makes no sense."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, field

from firstlift.core.errors import FirstliftError, Problem
from firstlift.core.job import Job, Measures
from firstlift.core.tolerance.limits import Limits

# equivalent set pressure at which a pull stops, as a share of set (common practice); never as far as the 150 % at
# which a valve on a bench counts as stuck shut (API RP 576, 4th edition 2017, 6.2.9.1, looked up)
DEFAULT_STOP_SHARE = 1.10
NEVER_STOP_SHARE = 1.50
# a line nearer to set than this lets a small pull open the valve fully (common practice, no source)
HIGHEST_LINE_SHARE = 0.95
# under this share of set the spindle may rise without the disc: the pull then proves the spring's setting only (the
# same share as of `firstlift.core.observe`; common practice)
LEAST_LINE_SHARE = 0.25
# finding the moment of first lift costs this much of set pressure (field error sizes, common practice)
U_MOMENT_SHARE = 0.005
# how valves in service lie about their stamp, standard deviation as a share (common practice, no source)
PRIOR_SHARE = 0.03


@dataclass(frozen=True, slots=True)
class PlanInputs:
    """Valve, rig, line and rules of a planned pull: SI, gauge; None where nobody knows.

    ``frame_limit_n`` and ``spindle_limit_n`` are the largest pulls that frame and spindle bear;
    ``cell_capacity_n`` is one cell's full scale where the channels do not state it. ``stop_share`` is the
    equivalent set pressure at which the pull stops, as a share of set. ``highest_line_pa`` is how far the line
    may be raised. ``u_moment_pa`` is the standard uncertainty of finding first lift, ``prior_share`` how this
    kind of valve lies about its stamp. ``answers`` are those to the questions of applicability.
    """

    job: Job
    limits: Limits
    line_pressure_pa: float
    frame_limit_n: float | None = None
    cell_capacity_n: float | None = None
    spindle_limit_n: float | None = None
    stop_share: float = DEFAULT_STOP_SHARE
    highest_line_pa: float | None = None
    u_moment_pa: float | None = None
    prior_share: float = PRIOR_SHARE
    rated_lift_m: float | None = None
    answers: Mapping[str, str] = field(default_factory=dict[str, str])

    @property
    def set_pa(self) -> float:
        """Pressure the limits are built on: stamped, or cold for a cold valve, [Pa gauge]."""
        return self.limits.set_pressure_pa

    @property
    def moment_pa(self) -> float:
        """Standard uncertainty of finding first lift, [Pa]."""
        return U_MOMENT_SHARE * self.set_pa if self.u_moment_pa is None else self.u_moment_pa

    @property
    def highest_pa(self) -> float:
        """Highest line pressure that may be asked for, [Pa gauge]."""
        top = HIGHEST_LINE_SHARE * self.set_pa
        return top if self.highest_line_pa is None else min(top, self.highest_line_pa)

    @property
    def spindle_n(self) -> float | None:
        """Largest pull the spindle bears, [N]: the one given, else the job sheet's."""
        return self.job.valve.max_pull_n if self.spindle_limit_n is None else self.spindle_limit_n


def check_inputs(inputs: PlanInputs) -> None:
    """Hold the inputs of a plan to what makes sense; everything wrong is said at once.

    Parameters
    ----------
    inputs : PlanInputs

    Raises
    ------
    FirstliftError
        PLN-001 line pressure at or above set, or below 0; PLN-002 a limit or share out of range; PLN-003 a stop
        that proves nothing or goes too far.
    """
    problems = [*_line(inputs), *_numbers(inputs), *_stop(inputs)]
    if problems:
        raise FirstliftError(problems)


def _line(inputs: PlanInputs) -> list[Problem]:
    line, set_pa = inputs.line_pressure_pa, inputs.set_pa
    if math.isfinite(line) and 0.0 <= line < set_pa:
        return []
    return [
        Problem(
            "PLN-001",
            f"a line pressure of {line / 1e5:.5g} bar against a set pressure of {set_pa / 1e5:.5g} bar",
            "line pressure",
            "0 or more, below set: at set the valve opens by itself",
            "Lower the line before anyone touches the valve, or correct the entry",
        )
    ]


def _numbers(inputs: PlanInputs) -> list[Problem]:
    rows: list[tuple[str, float | None, float, str]] = [
        ("frame limit", inputs.frame_limit_n, 1e8, "N"),
        ("cell capacity", inputs.cell_capacity_n, 1e8, "N"),
        ("spindle limit", inputs.spindle_limit_n, 1e8, "N"),
        ("highest line pressure", inputs.highest_line_pa, 1e9, "Pa"),
        ("uncertainty of the moment", inputs.u_moment_pa, 1e9, "Pa"),
        ("rated lift", inputs.rated_lift_m, 1.0, "m"),
        ("spread of valves about their stamp", inputs.prior_share, 0.5, "of set"),
    ]
    return [
        Problem("PLN-002", f"a {name} of {value:g} {unit}", name, f"above 0, at most {most:g} {unit}")
        for name, value, most, unit in rows
        if value is not None and not (math.isfinite(value) and 0.0 < value <= most)
    ]


def _stop(inputs: PlanInputs) -> list[Problem]:
    if 1.0 < inputs.stop_share < NEVER_STOP_SHARE:
        return []
    return [
        Problem(
            "PLN-003",
            f"a stop at {inputs.stop_share * 100.0:.4g} % of set",
            "stop",
            f"above 100 % and below {NEVER_STOP_SHARE * 100.0:.0f} % of set, {DEFAULT_STOP_SHARE * 100.0:.0f} % by "
            "default",
            "A valve that has not opened by then is a finding, not a reason to pull harder",
        )
    ]


def cell_limit_n(inputs: PlanInputs) -> float | None:
    """Give the largest pull all cells bear together, [N].

    Parameters
    ----------
    inputs : PlanInputs

    Returns
    -------
    float or None
        The weakest cell's capacity times their number, for an uneven load reaches the weakest first; None where
        a capacity is not known.
    """
    cells = inputs.job.of(Measures.PULL_FORCE)
    stated = [cell.capacity if cell.capacity is not None else inputs.cell_capacity_n for cell in cells]
    known = [capacity for capacity in stated if capacity is not None]
    return min(known) * len(cells) if cells and len(known) == len(cells) else None
