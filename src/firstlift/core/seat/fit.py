"""What a fit of a seat area gives, and how the errors of its instruments go into it."""

from __future__ import annotations

import datetime as dt
import math
from collections.abc import Sequence
from dataclasses import dataclass
from enum import StrEnum
from uuid import UUID

import numpy as np

from firstlift.core.errors import FirstliftError, Problem
from firstlift.core.recording import Floats
from firstlift.core.seat.line import Line
from firstlift.core.seat.reason import Reason
from firstlift.core.seat.record import SeatRecord, Source, Tie, name_calibrations
from firstlift.core.uncertainty.coverage import effective_degrees_of_freedom, student_factor

# with a poorer area a reading at 80 % line pressure errs by a third of a 3 % tolerance (common practice, no source)
MOST_RELATIVE_U = 0.05
# scatter this improbable under the stated uncertainties is not put down to chance
_IMPROBABLE = 0.05


class Role(StrEnum):
    """What an instrument of a fit reads."""

    CELL = "cell"
    GAUGE = "gauge"
    BENCH_GAUGE = "bench-gauge"


@dataclass(frozen=True, slots=True)
class Instrument:
    """An instrument all readings of a fit have in common, SI.

    ``tag`` names what is shared ("cell:<group>", "gauge:<name>"); instruments with one tag have one error.
    ``load_share`` is the part of the pull that this cell carries, 1 for a single cell.
    """

    role: Role
    tag: str
    serial: str
    relative_standard_uncertainty: float = 0.0
    standard_uncertainty: float = 0.0
    calibration: str = ""
    load_share: float = 1.0


@dataclass(frozen=True, slots=True)
class Contribution:
    """What one source adds: signed standard uncertainties of area and set pressure, which move together."""

    source: str
    part: str
    area_m2: float
    set_pressure_pa: float


@dataclass(frozen=True, slots=True)
class AreaFit:
    """A seat area found from pulls.

    ``u_area_m2`` is the whole standard uncertainty, the parts of the instruments (``ties``) included. Where a
    line was fitted, ``set_pressure_pa`` is its intercept, friction of the valve included, and
    ``covariance_m2_pa`` that of area and intercept. ``chi_square`` is expected near ``spare`` (readings less
    what was fitted).
    """

    source: Source
    area_m2: float
    u_area_m2: float
    degrees_of_freedom: float
    readings: int
    chi_square: float
    spare: int
    contributions: tuple[Contribution, ...]
    ties: tuple[Tie, ...]
    reasons: tuple[Reason, ...] = ()
    set_pressure_pa: float | None = None
    u_set_pressure_pa: float | None = None
    covariance_m2_pa: float | None = None
    set_pressure_degrees_of_freedom: float = math.inf

    def expanded_area_m2(self, probability: float = 0.95) -> float:
        """Expanded uncertainty of the area, [m2]."""
        return student_factor(probability, self.degrees_of_freedom) * self.u_area_m2

    def expanded_set_pressure_pa(self, probability: float = 0.95) -> float | None:
        """Expanded uncertainty of the intercept, [Pa]; None where no line was fitted."""
        if self.u_set_pressure_pa is None:
            return None
        return student_factor(probability, self.set_pressure_degrees_of_freedom) * self.u_set_pressure_pa


def record_of(
    fit: AreaFit, record_id: UUID, valve_id: UUID, date: dt.date, person_id: UUID | None = None, note: str = ""
) -> SeatRecord:
    """Give the seat record of a fit.

    Parameters
    ----------
    fit : AreaFit
    record_id, valve_id : UUID
    date : date
        Of the last pull that went into it.
    person_id : UUID or None
    note : str

    Returns
    -------
    SeatRecord
    """
    return SeatRecord(
        record_id,
        valve_id,
        fit.source,
        date,
        person_id,
        note,
        area_m2=fit.area_m2,
        u_area_m2=fit.u_area_m2,
        degrees_of_freedom=fit.degrees_of_freedom if math.isfinite(fit.degrees_of_freedom) else None,
        tied_to=fit.ties,
        set_pressure_pa=fit.set_pressure_pa,
        u_set_pressure_pa=fit.u_set_pressure_pa,
        covariance_m2_pa=fit.covariance_m2_pa,
    )


def instrument_contributions(
    instruments: Sequence[Instrument], response: Floats, area_m2: float, readings: Sequence[Floats | None]
) -> list[Contribution]:
    """Carry the instruments' common errors into area and set pressure.

    Parameters
    ----------
    instruments : sequence of Instrument
    response : ndarray (2, n)
        How area [m2] and set pressure [Pa] move per newton of error in each balance ``F - A (p_s - p_l)``.
    area_m2 : float, [m2]
    readings : pull (n,) [N], line pressure (n,) [Pa], bench pressure (n,) [Pa] or None

    Returns
    -------
    list of Contribution
        One for each error (scale, offset) of each tag; instruments with one tag are added, not squared.
    """
    pull, line, bench = readings
    sums: dict[tuple[str, str], Floats] = {}
    for item in instruments:
        value, weight = {
            Role.CELL: (pull, item.load_share),
            Role.GAUGE: (line, area_m2),
            Role.BENCH_GAUGE: (bench, -area_m2),
        }[item.role]
        if value is None:
            continue
        # a cell that carries a share reads that share; its offset is there whatever it carries
        offset = weight if item.role is not Role.CELL else 1.0
        scale = response @ (item.relative_standard_uncertainty * weight * value)
        shift = response @ np.full(value.size, item.standard_uncertainty * offset)
        for part, moved in (("scale", scale), ("offset", shift)):
            sums[item.tag, part] = sums.get((item.tag, part), np.zeros(2)) + moved
    return [Contribution(tag, part, float(moved[0]), float(moved[1])) for (tag, part), moved in sums.items()]


def ties_of(instruments: Sequence[Instrument], contributions: Sequence[Contribution]) -> tuple[Tie, ...]:
    """Give the ties of an area to the cells and gauges of the pulls; those of the bench stay behind.

    Parameters
    ----------
    instruments : sequence of Instrument
    contributions : sequence of Contribution

    Returns
    -------
    tuple of Tie
        The scale of every instrument, its offset only where that moves the area.
    """
    rig = [item for item in instruments if item.role is not Role.BENCH_GAUGE]
    scale = max((abs(part.area_m2) for part in contributions), default=0.0)
    ties: list[Tie] = []
    for part in contributions:
        held = [item for item in rig if item.tag == part.source]
        # beyond rounding: an offset leaves the slope of a line alone
        if held and (part.part == "scale" or abs(part.area_m2) > 1e-9 * scale):
            serials = tuple(item.serial for item in held)
            calibration = name_calibrations(item.calibration for item in held)
            ties.append(Tie(part.source, serials, part.part, part.area_m2, calibration))
    return tuple(ties)


@dataclass(frozen=True, slots=True, eq=False)
class Scatter:
    """The readings' own part: covariance (2, 2) of area and set pressure, and what its size rests on."""

    covariance: Floats
    degrees_of_freedom: float
    reasons: tuple[Reason, ...]


def own_scatter(line: Line, covariance: Floats) -> Scatter:
    """Hold the readings' scatter about the line against what was stated, and widen where it is too large.

    Where the readings lie farther from the line than their stated uncertainties make credible (chi-square
    test, 5 %), the statement is not believed: the covariance grows by chi-square over its degrees of freedom
    (Birge ratio), with those degrees of freedom. A scatter that is smaller by chance narrows nothing.

    Parameters
    ----------
    line : Line
    covariance : ndarray (2, 2)
        From the stated uncertainties.

    Returns
    -------
    Scatter

    References
    ----------
    .. [1] R. T. Birge, The calculation of errors by the method of least squares, Phys. Rev. 40 (1932) 207
       (source status: memory).
    """
    from scipy.special import chdtrc

    spare = line.degrees_of_freedom
    if spare < 1 or float(chdtrc(spare, line.chi_square)) >= _IMPROBABLE:
        return Scatter(covariance, math.inf, ())
    ratio = line.chi_square / spare
    seen = Reason("scatter-exceeds-statement", {"birge_ratio": math.sqrt(ratio), "spare_readings": spare})
    return Scatter(covariance * ratio, float(spare), (seen,))


@dataclass(frozen=True, slots=True, eq=False)
class Whole:
    """Scatter and contributions together: covariance (2, 2) and degrees of freedom (2,) of area and set pressure."""

    covariance: Floats
    degrees_of_freedom: tuple[float, float]


def combine(scatter: Scatter, contributions: Sequence[Contribution]) -> Whole:
    """Add the independent parts.

    Parameters
    ----------
    scatter : Scatter
    contributions : sequence of Contribution

    Returns
    -------
    Whole
    """
    covariance = np.array(scatter.covariance)
    for part in contributions:
        moved = np.array([part.area_m2, part.set_pressure_pa])
        covariance += np.outer(moved, moved)
    own, shared = np.diag(scatter.covariance), np.diag(covariance) - np.diag(scatter.covariance)
    area, opening = (
        effective_degrees_of_freedom([(float(own[i]), scatter.degrees_of_freedom), (float(shared[i]), math.inf)])
        for i in (0, 1)
    )
    return Whole(covariance, (area, opening))


def check_instruments(instruments: Sequence[Instrument], roles: Sequence[Role]) -> None:
    """Hold the instruments of a fit to what it cannot do without.

    Parameters
    ----------
    instruments : sequence of Instrument
    roles : sequence of Role
        What must be there.

    Raises
    ------
    FirstliftError
        SEA-003 an instrument that is needed is not named, SEA-002 an uncertainty or share that cannot be.
    """
    problems = [
        Problem("SEA-003", f"no {role} is named", needed="every instrument that read, with serial and uncertainty")
        for role in roles
        if all(item.role is not role for item in instruments)
    ]
    for item in instruments:
        doubts = (item.relative_standard_uncertainty, item.standard_uncertainty)
        if not all(math.isfinite(u) and u >= 0.0 for u in doubts):
            problems.append(Problem("SEA-002", "an uncertainty below 0 or not finite", item.tag, "0 or more"))
    shares = [item.load_share for item in instruments if item.role is Role.CELL]
    if shares and abs(sum(shares) - 1.0) > 1e-6:
        problems.append(
            Problem("SEA-002", f"the cells' shares of the pull add up to {sum(shares):g}", needed="shares that make 1")
        )
    if problems:
        raise FirstliftError(problems)
