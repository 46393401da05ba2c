"""A seat record: one statement of the area the line pressure acts on, with its source, date and person.

A valve collects several in its life. Which of them serves at a date is chosen by `firstlift.core.seat.choose`;
how one becomes the seat of a test is here.
"""

from __future__ import annotations

import datetime as dt
import math
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from enum import StrEnum
from uuid import UUID

from firstlift.core.errors import FirstliftError, Problem
from firstlift.core.valve import Seat, SeatShare, circle_area_m2, land_area_m2


class Source(StrEnum):
    """Where an area comes from."""

    MEASURED = "measured"
    MAKER = "maker"
    TWO_PRESSURES = "two-line-pressures"
    BENCH = "bench-correlation"


NOTHING_SHARED: Mapping[str, str] = {}
FITTED = (Source.TWO_PRESSURES, Source.BENCH)


@dataclass(frozen=True, slots=True)
class Tie:
    """An instrument whose error went into a fitted area.

    ``instrument`` is the budget's tag at the fit ("cell:<group>", "gauge:<name>"), ``serials`` those of what
    carries this one error (several where cells share one calibration), ``calibration`` what names the
    calibrations in force at the fit (`name_calibrations`; empty where nobody noted them). ``part`` is
    "scale" or "offset"; ``u_area_m2`` the signed change of the area for one standard uncertainty of that error.
    """

    instrument: str
    serials: tuple[str, ...]
    part: str
    u_area_m2: float
    calibration: str = ""


@dataclass(frozen=True, slots=True)
class SeatRecord:
    """One seat record: SI; None where the source does not give it.

    Either the two diameters of the contact with their standard uncertainties, or ``area_m2`` with
    ``u_area_m2`` (whole standard uncertainty, the ties' parts included; ``degrees_of_freedom`` None means
    infinite). ``reference`` names the paper a figure stands on; ``measured_with`` are the serials of what
    measured the diameters; ``tied_to`` the instruments of a fitted area. ``set_pressure_pa`` with
    ``u_set_pressure_pa`` and ``covariance_m2_pa`` belong to a fitted line: its intercept.
    ``superseded_by_overhaul`` is the date of the re-lap or re-machining after which the record no longer
    serves; None while it may.
    """

    id: UUID
    valve_id: UUID
    source: Source
    date: dt.date
    person_id: UUID | None = None
    note: str = ""
    reference: str = ""
    inner_diameter_m: float | None = None
    outer_diameter_m: float | None = None
    u_inner_m: float | None = None
    u_outer_m: float | None = None
    area_m2: float | None = None
    u_area_m2: float | None = None
    degrees_of_freedom: float | None = None
    measured_with: tuple[str, ...] = ()
    tied_to: tuple[Tie, ...] = ()
    set_pressure_pa: float | None = None
    u_set_pressure_pa: float | None = None
    covariance_m2_pa: float | None = None
    superseded_by_overhaul: dt.date | None = None

    @property
    def serials(self) -> tuple[str, ...]:
        """Serials of the instruments the area is tied to, each once."""
        return tuple(dict.fromkeys(serial for tie in self.tied_to for serial in tie.serials))


def name_calibrations(names: Iterable[str]) -> str:
    """Give the one name of the calibrations of instruments that share an error.

    Parameters
    ----------
    names : iterable of str
        Certificate numbers; empty where nobody noted one.

    Returns
    -------
    str
    """
    return ", ".join(sorted({name for name in names if name}))


def check_record(record: SeatRecord) -> None:
    """Hold a record to what it must say.

    Parameters
    ----------
    record : SeatRecord

    Raises
    ------
    FirstliftError
        SEA-001 the area is not stated exactly once, SEA-002 a dimension or uncertainty is not possible,
        SEA-003 a fitted area names no instruments, or a measured one not what measured it, SEA-004 the ties
        claim more than the whole uncertainty.
    """
    problems = [*_stated(record), *_possible(record), *_instruments(record)]
    if problems:
        raise FirstliftError(problems)


def seat_of(record: SeatRecord, shared: Mapping[str, str] = NOTHING_SHARED) -> Seat:
    """Give the seat a test computes with.

    Parameters
    ----------
    record : SeatRecord
    shared : mapping of a tie's tag to the test's tag
        Instruments that found the area and read the test too, still under that calibration
        (`firstlift.core.seat.choose.shared_tags`): their errors are the same ones, and partly cancel. With any
        other the whole uncertainty counts as independent.

    Returns
    -------
    Seat

    Raises
    ------
    FirstliftError
        As `check_record`.

    References
    ----------
    .. [1] JCGM 100:2008, 5.2 and F.1.2: inputs that hold a common error are correlated.
    """
    check_record(record)
    stated = f"{record.source} {record.date.isoformat()}"
    if record.area_m2 is None or record.u_area_m2 is None:
        return _seat_of_edges(record, stated)
    shares = tuple(
        SeatShare(shared[tie.instrument], tie.part, tie.u_area_m2) for tie in record.tied_to if tie.instrument in shared
    )
    own = record.u_area_m2**2 - sum(share.u_area_m2**2 for share in shares)
    dof = math.inf
    if record.degrees_of_freedom is not None and own > 0.0:
        # Welch-Satterthwaite backwards: what the shared parts, exactly known, had made of the area's own few
        dof = record.degrees_of_freedom * (own / record.u_area_m2**2) ** 2
    return Seat(record.area_m2, math.sqrt(max(own, 0.0)), 0.0, str(record.source), stated, shares, dof)


def _seat_of_edges(record: SeatRecord, stated: str) -> Seat:
    inner, outer = record.inner_diameter_m or 0.0, record.outer_diameter_m or 0.0
    u_inner, u_outer = record.u_inner_m or 0.0, record.u_outer_m or 0.0
    # both edges measured with one tool: their errors are taken to move together, which is the wider case
    u_area = math.pi / 12.0 * ((2.0 * inner + outer) * u_inner + (inner + 2.0 * outer) * u_outer)
    half_width = (circle_area_m2(outer) - circle_area_m2(inner)) / 2.0
    return Seat(land_area_m2(inner, outer), u_area, half_width, str(record.source), stated)


def _where(record: SeatRecord) -> str:
    return f"seat record of {record.date.isoformat()}, {record.source}"


def _stated(record: SeatRecord) -> list[Problem]:
    edges = (record.inner_diameter_m, record.outer_diameter_m, record.u_inner_m, record.u_outer_m)
    area = (record.area_m2, record.u_area_m2)
    whole_edges, whole_area = None not in edges, None not in area
    any_edges, any_area = edges != (None,) * 4, area != (None, None)
    if (whole_edges and not any_area) or (whole_area and not any_edges):
        return []
    found = "both diameters and an area" if any_edges and any_area else "the area is not stated in full"
    needed = "inner and outer diameter each with its standard uncertainty, or an area with its own"
    return [Problem("SEA-001", found, _where(record), needed, "Give one of the two, whole")]


def _possible(record: SeatRecord) -> list[Problem]:
    where, problems = _where(record), list[Problem]()
    sizes = {"inner diameter": record.inner_diameter_m, "outer diameter": record.outer_diameter_m}
    for name, value in {**sizes, "area": record.area_m2}.items():
        if value is not None and not (math.isfinite(value) and value > 0.0):
            problems.append(Problem("SEA-002", f"{name} {value:g}", where, "a finite value above 0"))
    doubts = {"inner diameter": record.u_inner_m, "outer diameter": record.u_outer_m, "area": record.u_area_m2}
    for name, value in {**doubts, "set pressure": record.u_set_pressure_pa}.items():
        if value is not None and not (math.isfinite(value) and value >= 0.0):
            problems.append(
                Problem("SEA-002", f"standard uncertainty {value:g} of the {name}", where, "a finite value, 0 or more")
            )
    dof = record.degrees_of_freedom
    if dof is not None and not (math.isfinite(dof) and dof > 0.0):
        problems.append(Problem("SEA-002", f"{dof:g} degrees of freedom", where, "a number above 0, or none"))
    inner, outer = record.inner_diameter_m, record.outer_diameter_m
    if inner is not None and outer is not None and 0.0 < outer <= inner:
        problems.append(
            Problem(
                "SEA-002",
                f"outer diameter {outer * 1e3:g} mm does not exceed inner diameter {inner * 1e3:g} mm",
                where,
                "the outer edge of the contact outside its bore",
                "Check whether the two were swapped",
            )
        )
    return problems


def _instruments(record: SeatRecord) -> list[Problem]:
    where, problems = _where(record), list[Problem]()
    if record.source in FITTED and not record.tied_to:
        problems.append(
            Problem("SEA-003", "a fitted area that names no instruments", where, "the cells and gauge that found it")
        )
    if record.source is Source.MEASURED and not any(serial.strip() for serial in record.measured_with):
        problems.append(
            Problem("SEA-003", "a measured seat that does not say what measured it", where, "the instrument's serial")
        )
    tied = sum(tie.u_area_m2**2 for tie in record.tied_to)
    # a millionth for the rounding of numbers that were written out and read back
    if record.u_area_m2 is not None and tied > record.u_area_m2**2 * (1.0 + 1e-6):
        problems.append(
            Problem(
                "SEA-004",
                f"the instruments' parts come to {math.sqrt(tied) * 1e6:g} mm2, "
                f"the whole standard uncertainty is {record.u_area_m2 * 1e6:g} mm2",
                where,
                "parts that do not exceed the whole",
            )
        )
    return problems
