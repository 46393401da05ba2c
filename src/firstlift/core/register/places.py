"""Where valves hang: owners, sites, protected systems, positions, and what is required of each position."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass
from uuid import UUID

from firstlift.core.job import Rules
from firstlift.core.units import Quantity
from firstlift.core.valve import Medium


@dataclass(frozen=True, slots=True)
class Owner:
    """Who runs the plant."""

    id: UUID
    name: str
    note: str = ""


@dataclass(frozen=True, slots=True)
class Site:
    """A plant. ``zone`` is its IANA time zone: due dates are local dates there."""

    id: UUID
    owner_id: UUID
    name: str
    zone: str = "UTC"
    jurisdiction: str = ""
    note: str = ""


@dataclass(frozen=True, slots=True)
class ProtectedSystem:
    """Equipment that several positions relieve together: one of them may be out while the others hold."""

    id: UUID
    site_id: UUID
    name: str
    mawp: Quantity | None = None
    note: str = ""


@dataclass(frozen=True, slots=True)
class Position:
    """The tagged place a valve serves. Pressures are gauge and keep the text they were written with.

    ``unit`` is the plant's unit, ``superimposed_back_pressure`` the constant design back pressure; where
    it varies in service ``back_pressure_varies`` says so and it is not added.
    """

    id: UUID
    site_id: UUID
    tag: str
    medium: Medium
    unit: str = ""
    equipment: str = ""
    system_id: UUID | None = None
    medium_name: str = ""
    mawp: Quantity | None = None
    operating_pressure: Quantity | None = None
    superimposed_back_pressure: Quantity | None = None
    back_pressure_varies: bool = False
    consequence: str = ""
    fire_case: bool = False
    active: bool = True
    note: str = ""


@dataclass(frozen=True, slots=True)
class Interval:
    """How often a position is tested: from ``since`` on, until a later one takes its place."""

    id: UUID
    position_id: UUID
    months: int
    since: dt.date
    basis: str = ""
    person_id: UUID | None = None


@dataclass(frozen=True, slots=True)
class RuleChoice:
    """Which rule set judges, from ``since`` on: a position's choice before its site's, before its owner's."""

    id: UUID
    owner_id: UUID
    rules: Rules
    since: dt.date
    site_id: UUID | None = None
    position_id: UUID | None = None
