"""A seat area from pulls at two or more line pressures: the pull falls by A for every unit of line pressure.

With nothing else changed, ``F = A (p_s - p_l)``: a straight line of pull against line pressure, whose slope is
the area and whose zero is the set pressure. Both readings err, so the line is fitted with errors in both. The
calibrations' errors are common to all readings: a cell's scale error goes into the slope whole, a cell's or a
gauge's offset into the zero only. Friction of the valve lifts the line without tilting it.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from firstlift.core.errors import FirstliftError, Problem
from firstlift.core.recording import Floats
from firstlift.core.seat.fit import (
    MOST_RELATIVE_U,
    AreaFit,
    Contribution,
    Instrument,
    Role,
    check_instruments,
    combine,
    instrument_contributions,
    own_scatter,
    ties_of,
)
from firstlift.core.seat.line import Line, fit_line
from firstlift.core.seat.reason import Reason
from firstlift.core.seat.record import Source

# a spring's force falls by up to 3 % per 100 K of the spring's own temperature, which follows the body by nothing to
# wholly (common practice, no source): every share equally likely
_SPRING_PER_K = 3e-4
# conditions that may have moved the area by more than this were not the same (common practice, no source)
_MOST_DRIFT = 0.02


@dataclass(frozen=True, slots=True)
class LinePull:
    """One pull at one line pressure, at first lift: SI, gauge, tare and resting weight taken off.

    ``u_line_pa`` and ``u_pull_n`` are what this reading has of its own (moment of first lift, noise, reading
    off), without the calibrations. ``setting`` is any text that changes when the valve is readjusted.
    """

    line_pressure_pa: float
    u_line_pa: float
    pull_n: float
    u_pull_n: float
    back_pressure_pa: float = 0.0
    temperature_k: float | None = None
    setting: str = ""


def fit_pressures(
    pulls: Sequence[LinePull], instruments: Sequence[Instrument], friction_n: float | None = None
) -> AreaFit:
    """Fit seat area and set pressure to pulls at two or more line pressures.

    Parameters
    ----------
    pulls : sequence of LinePull
        Two or more, at two or more line pressures, one setting, temperature and back pressure.
    instruments : sequence of Instrument
        The cells and the gauge that read all of them.
    friction_n : float or None, [N]
        Friction of the valve where it is known; it stays in the set pressure, as in service, and is told.

    Returns
    -------
    AreaFit

    Raises
    ------
    FirstliftError
        SEA-002, SEA-003, SEA-005, SEA-006 as the parts; SEA-007 line pressures too close together, SEA-008
        the pull does not fall with line pressure, SEA-009 the conditions were not the same.

    References
    ----------
    .. [1] Force balance at first lift: `firstlift.core.setpressure`.
    .. [2] JCGM 100:2008, 5.2.2 and H.3 (covariance of a line's slope and intercept).
    """
    check_instruments(instruments, (Role.CELL, Role.GAUGE))
    _check(pulls)
    if friction_n is not None and not (math.isfinite(friction_n) and friction_n >= 0.0):
        raise FirstliftError(Problem("SEA-002", f"friction {friction_n:g} N", needed="a force of 0 or more"))
    column = {name: np.array([getattr(pull, name) for pull in pulls]) for name in _COLUMNS}
    line = fit_line(column["line_pressure_pa"], column["pull_n"], column["u_line_pa"], column["u_pull_n"])
    _check_falls(line)
    area = -line.slope
    opening = line.intercept / area
    # from intercept and slope (c, b) to area and set pressure: A = -b, p_s = -c / b
    turned = np.array([[0.0, -1.0], [1.0 / area, opening / area]])
    response = turned @ line.gain
    drifts, reasons = _drifts(pulls, response, area, opening)
    common = instrument_contributions(instruments, response, area, (column["pull_n"], column["line_pressure_pa"], None))
    scatter = own_scatter(line, turned @ line.covariance @ turned.T)
    whole = combine(scatter, [*common, *drifts])
    u_area = math.sqrt(float(whole.covariance[0, 0]))
    _check_spread(column["line_pressure_pa"], u_area / area)
    return AreaFit(
        source=Source.TWO_PRESSURES,
        area_m2=area,
        u_area_m2=u_area,
        degrees_of_freedom=whole.degrees_of_freedom[0],
        readings=len(pulls),
        chi_square=line.chi_square,
        spare=line.degrees_of_freedom,
        contributions=(*common, *drifts),
        ties=ties_of(instruments, common),
        reasons=(*scatter.reasons, *reasons, _friction(friction_n, area)),
        set_pressure_pa=opening,
        u_set_pressure_pa=math.sqrt(float(whole.covariance[1, 1])),
        covariance_m2_pa=float(whole.covariance[0, 1]),
        set_pressure_degrees_of_freedom=whole.degrees_of_freedom[1],
    )


_COLUMNS = ("line_pressure_pa", "u_line_pa", "pull_n", "u_pull_n")


def _check(pulls: Sequence[LinePull]) -> None:
    problems = [
        Problem(
            "SEA-002",
            f"pull {pull.pull_n:g} N at line pressure {pull.line_pressure_pa:g} Pa",
            f"reading {number}",
            "a pull above 0 at a line pressure of 0 or more",
        )
        for number, pull in enumerate(pulls, 1)
        if not (pull.pull_n > 0.0 and pull.line_pressure_pa >= 0.0)
    ]
    problems += [
        Problem(
            "SEA-002",
            f"back pressure {pull.back_pressure_pa:g} Pa, temperature {pull.temperature_k} K",
            f"reading {number}",
            "finite values",
        )
        for number, pull in enumerate(pulls, 1)
        if not (math.isfinite(pull.back_pressure_pa) and math.isfinite(pull.temperature_k or 0.0))
    ]
    settings = sorted({pull.setting for pull in pulls})
    if len(settings) > 1:
        named = ", ".join(f"'{setting}'" for setting in settings)
        problems.append(
            Problem(
                "SEA-009",
                f"pulls at different settings of the valve: {named}",
                needed="one setting for all pulls",
                next="Fit the pulls of one setting",
            )
        )
    if problems:
        raise FirstliftError(problems)


def _check_falls(line: Line) -> None:
    if line.slope >= 0.0:
        raise FirstliftError(
            Problem(
                "SEA-008",
                f"the pull does not fall with line pressure: {line.slope * 1e5:+.3g} N per bar",
                needed="a pull that falls by the seat area for every unit of line pressure",
                next="Look for swapped readings, a changed setting, or a bond that held the first pull",
            )
        )


def _check_spread(line_pa: Floats, relative_u: float) -> None:
    if relative_u > MOST_RELATIVE_U:
        spread = float(np.ptp(line_pa))
        raise FirstliftError(
            Problem(
                "SEA-007",
                f"line pressures only {spread / 1e5:.3g} bar apart leave the area uncertain by "
                f"{relative_u * 100.0:.2g} % (standard uncertainty)",
                needed=f"{MOST_RELATIVE_U * 100.0:g} % or less, such as by line pressures some "
                f"{spread / 1e5 * relative_u / MOST_RELATIVE_U:.2g} bar apart",
                next="Pull at line pressures farther apart, or more often, or measure the seat",
            )
        )


def _drifts(
    pulls: Sequence[LinePull], response: Floats, area: float, opening: float
) -> tuple[list[Contribution], list[Reason]]:
    """Give what unequal temperature and back pressure may have done, or refuse."""
    parts: list[Contribution] = []
    reasons: list[Reason] = []
    back = np.array([pull.back_pressure_pa for pull in pulls])
    parts += _drift("back-pressure", area * (back - back.mean()), response, area, (float(np.ptp(back)), "Pa"))
    known = [pull.temperature_k for pull in pulls if pull.temperature_k is not None]
    if len(known) < len(pulls):
        reasons.append(Reason("temperature-not-stated", {"readings": len(pulls) - len(known)}))
    else:
        warm = np.array(known)
        force = area * opening * _SPRING_PER_K * (warm - warm.mean())
        parts += _drift("temperature", force, response, area, (float(np.ptp(warm)), "K"))
    return parts, reasons


def _drift(name: str, force_n: Floats, response: Floats, area: float, spread: tuple[float, str]) -> list[Contribution]:
    moved = response @ force_n
    if spread[0] == 0.0:
        return []
    if abs(float(moved[0])) > _MOST_DRIFT * area:
        raise FirstliftError(
            Problem(
                "SEA-009",
                f"{name.replace('-', ' ')} differed by {spread[0]:.3g} {spread[1]} between the pulls, which may have "
                f"moved the area by {abs(float(moved[0])) / area * 100.0:.2g} %",
                needed=f"conditions alike to within {_MOST_DRIFT * 100.0:g} % of the area",
                next="Pull again under like conditions",
            )
        )
    # nothing up to the whole effect, equally likely, about no effect: root mean square
    parts = moved / math.sqrt(3.0)
    return [Contribution(name, "drift", float(parts[0]), float(parts[1]))]


def _friction(friction_n: float | None, area: float) -> Reason:
    if friction_n is None:
        return Reason("friction-stays-in-set-pressure")
    return Reason(
        "friction-stays-in-set-pressure", {"friction_n": friction_n, "set_pressure_raised_by_pa": friction_n / area}
    )
