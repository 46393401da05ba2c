"""The serial-numbered things: valves and where they hang, instruments and their calibrations."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass
from enum import StrEnum
from uuid import UUID

from firstlift.core.job import Measures
from firstlift.core.units import Quantity
from firstlift.core.valve import Definition, ValveType


@dataclass(frozen=True, slots=True)
class RegisteredValve:
    """A valve by its nameplate and build. None where nobody noted it.

    ``orifice`` is the nameplate's letter or size: it stands for flow and never serves as a seat area.
    """

    id: UUID
    owner_id: UUID
    serial: str
    set_pressure: Quantity
    type: ValveType = ValveType.CONVENTIONAL
    maker: str = ""
    model: str = ""
    inlet_size: str = ""
    outlet_size: str = ""
    orifice: str = ""
    cold_differential_test_pressure: Quantity | None = None
    spring_number: str = ""
    spring_rate_n_m: float | None = None
    spring_range_low: Quantity | None = None
    spring_range_high: Quantity | None = None
    screw_pitch_m: float | None = None
    spindle_diameter_m: float | None = None
    disc_guide_diameter_m: float | None = None
    bellows_diameter_m: float | None = None
    max_pull_n: float | None = None
    opening_definition: Definition | None = None
    body_material: str = ""
    trim_material: str = ""
    spring_material: str = ""
    active: bool = True
    note: str = ""


@dataclass(frozen=True, slots=True)
class Installation:
    """A valve at a position, from ``since`` until ``until`` (None: it still hangs there)."""

    id: UUID
    valve_id: UUID
    position_id: UUID
    since: dt.date
    until: dt.date | None = None


@dataclass(frozen=True, slots=True)
class Instrument:
    """A force cell, gauge, lift or acoustic sensor. ``capacity_si`` is its full scale in SI."""

    id: UUID
    serial: str
    measures: Measures
    unit: str
    maker: str = ""
    model: str = ""
    capacity_si: float | None = None
    active: bool = True
    note: str = ""


@dataclass(frozen=True, slots=True)
class Calibration:
    """One calibration of an instrument: never edited, a corrected one names what it ``supersedes``.

    ``polynomial`` (lowest power first) or ``table`` of (raw, value) turn the raw reading into ``unit``;
    both empty means that the reading is taken as it is. Standard uncertainties: ``standard_uncertainty_si``
    and, in proportion to the reading, ``relative_standard_uncertainty``. ``reference_standard`` names what it
    was calibrated with: instruments that share it are correlated.
    """

    id: UUID
    instrument_id: UUID
    certificate_number: str
    date: dt.date
    due: dt.date
    unit: str
    polynomial: tuple[float, ...] = ()
    table: tuple[tuple[float, ...], ...] = ()
    standard_uncertainty_si: float | None = None
    relative_standard_uncertainty: float | None = None
    reference_standard: str = ""
    supersedes: UUID | None = None
    note: str = ""


class When(StrEnum):
    """Before or after the use."""

    BEFORE = "before"
    AFTER = "after"


@dataclass(frozen=True, slots=True)
class UseCheck:
    """An instrument held against a reference before or after use; values in SI."""

    id: UUID
    instrument_id: UUID
    when: When
    at: dt.datetime
    zone: str
    reference_si: float
    reading_si: float
    allowed_difference_si: float
    visit_id: UUID | None = None
    person_id: UUID | None = None
    note: str = ""

    @property
    def passed(self) -> bool:
        """Whether reading and reference differ by no more than is allowed."""
        return abs(self.reading_si - self.reference_si) <= self.allowed_difference_si
