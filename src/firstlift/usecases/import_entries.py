"""Rows of a spreadsheet to entries of the register: owners, sites, positions, valves, seats, tests, instruments."""

from __future__ import annotations

import datetime as dt
import itertools
import secrets
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from typing import Any
from uuid import UUID
from zoneinfo import ZoneInfo

from firstlift.core.job import Measures, Purpose
from firstlift.core.register.choose import search_key
from firstlift.core.register.equipment import Calibration, Installation, Instrument, RegisteredValve
from firstlift.core.register.places import Interval, Owner, Position, ProtectedSystem, Site
from firstlift.core.register.work import HowTested, ValveTest
from firstlift.core.seat.record import SeatRecord, Source
from firstlift.core.valve import Medium, ValveType
from firstlift.formats.sheets.convert import Taken

_VALVE_TEXTS = ("maker", "model", "inlet_size", "outlet_size", "orifice", "spring_number", "note")
_VALVE_PRESSURES = ("cold_differential_test_pressure", "spring_range_low", "spring_range_high")
_VALVE_SI = {
    "spring_rate": "spring_rate_n_m",
    "screw_pitch": "screw_pitch_m",
    "spindle_diameter": "spindle_diameter_m",
    "disc_guide_diameter": "disc_guide_diameter_m",
    "bellows_diameter": "bellows_diameter_m",
    "max_pull": "max_pull_n",
}
_POSITION_TEXTS = ("unit", "equipment", "medium_name", "consequence")
_POSITION_PRESSURES = ("mawp", "operating_pressure", "superimposed_back_pressure")
_COVERAGE = 2.0  # of an expanded uncertainty that states no other factor


def ordered_ids(at: dt.datetime) -> Callable[[], UUID]:
    """Give new identifiers that sort in the order they were made (RFC 9562, version 7): an index takes them faster.

    Parameters
    ----------
    at : datetime

    Returns
    -------
    callable
        Gives a new UUID each time: the moment, a count from a random start, 32 random bits.
    """
    moment = int(at.timestamp() * 1000) << 80
    counts = itertools.count(secrets.randbits(41))

    def new_id() -> UUID:
        count = next(counts)
        high, low = count >> 30 & 0xFFF, count & 0x3FFFFFFF
        return UUID(int=moment | 7 << 76 | high << 64 | 2 << 62 | low << 32 | secrets.randbits(32))

    return new_id


@dataclass(frozen=True, slots=True)
class Place:
    """A site and its zone, as rows name it."""

    owner_id: UUID
    site_id: UUID
    zone: str


@dataclass(slots=True)
class Entries:
    """What some rows become, each kind after those it refers to."""

    positions: list[Position]
    valves: list[RegisteredValve]
    installations: list[Installation]
    intervals: list[Interval]
    seats: list[SeatRecord]
    tests: list[ValveTest]

    def in_order(self) -> Iterator[Any]:
        """Give them, each after those it refers to."""
        for kind in (self.positions, self.valves, self.installations, self.intervals, self.seats, self.tests):
            yield from kind


class EntryMaker:
    """Makes entries; identifiers come from ``new_id``, dates that are not stated from the day of the import."""

    def __init__(self, *, today: dt.date, source: str, new_id: Callable[[], UUID]) -> None:
        self.today, self._source, self._new_id = today, source, new_id

    def owner(self, name: str) -> Owner:
        """Make an owner."""
        return Owner(self._new_id(), name)

    def site(self, owner_id: UUID, name: str, zone: str) -> Site:
        """Make a site."""
        return Site(self._new_id(), owner_id, name, zone)

    def system(self, site_id: UUID, name: str) -> ProtectedSystem:
        """Make a protected system."""
        return ProtectedSystem(self._new_id(), site_id, name)

    def valves(self, rows: Sequence[tuple[Taken, Place, UUID | None]]) -> Entries:
        """Make what rows of valves become.

        Parameters
        ----------
        rows : sequence of (Taken, Place, UUID or None)
            Each with its site and its protected system.

        Returns
        -------
        Entries
        """
        made = Entries([], [], [], [], [], [])
        for row, place, system_id in rows:
            values = row.values
            position = self._position(values, place, system_id)
            valve = self._valve(values, place)
            made.positions.append(position)
            made.valves.append(valve)
            made.installations.append(Installation(self._new_id(), valve.id, position.id, self._since(values)))
            if "interval" in values:
                basis = f"as listed in {self._source}"
                since = self._since(values)
                made.intervals.append(Interval(self._new_id(), position.id, values["interval"], since, basis))
            if "seat_inner_diameter" in values:
                made.seats.append(self._seat(values, valve.id))
            if "last_test_date" in values:
                made.tests.append(self._test(row, valve.id, position.id, place))
        return made

    def _since(self, values: dict[str, Any]) -> dt.date:
        return values.get("installed_on") or values.get("last_test_date") or self.today

    def _position(self, values: dict[str, Any], place: Place, system_id: UUID | None) -> Position:
        texts = {key: values[key] for key in _POSITION_TEXTS if key in values}
        pressures = {key: values[key] for key in _POSITION_PRESSURES if key in values}
        return Position(
            self._new_id(), place.site_id, values["tag"], Medium(values["medium"]),
            system_id=system_id, fire_case=values.get("fire_case", False), **texts, **pressures,
        )  # fmt: skip

    def _valve(self, values: dict[str, Any], place: Place) -> RegisteredValve:
        texts = {key: values[key] for key in _VALVE_TEXTS if key in values}
        pressures = {key: values[key] for key in _VALVE_PRESSURES if key in values}
        si = {field: values[key].si for key, field in _VALVE_SI.items() if key in values}
        kind = ValveType(values.get("type", ValveType.CONVENTIONAL))
        return RegisteredValve(
            self._new_id(), place.owner_id, values["serial"], values["set_pressure"], kind, **texts, **pressures, **si
        )

    def _seat(self, values: dict[str, Any], valve_id: UUID) -> SeatRecord:
        u_m, with_what = values["seat_uncertainty"].si, values.get("seat_measured_with", "")
        return SeatRecord(
            self._new_id(),
            valve_id,
            Source.MEASURED if with_what else Source.MAKER,
            values.get("seat_date", self.today),
            note=f"as listed in {self._source}",
            inner_diameter_m=values["seat_inner_diameter"].si,
            outer_diameter_m=values["seat_outer_diameter"].si,
            u_inner_m=u_m,
            u_outer_m=u_m,
            measured_with=(with_what,) if with_what else (),
        )

    def _test(self, row: Taken, valve_id: UUID, position_id: UUID, place: Place) -> ValveTest:
        """Carry over a list's last test: its day, what was found, and that more is not known."""
        values = row.values
        day: dt.date = values["last_test_date"]
        pressure = values.get("last_test_pressure")
        kind = values.get("last_test_kind")
        known = "" if kind else "; how it was tested is not stated, taken as a bench test"
        return ValveTest(
            self._new_id(),
            valve_id,
            HowTested(kind or HowTested.BENCH),
            Purpose.AS_FOUND,
            dt.datetime.combine(day, dt.time(12), tzinfo=ZoneInfo(place.zone)),
            place.zone,
            day,
            position_id=position_id,
            verdict=values.get("last_test_result", ""),
            set_pressure_pa=None if pressure is None else pressure.si,
            note=f"carried over from {self._source}, row {row.row}{known}",
        )

    def instrument(self, row: Taken) -> list[Instrument | Calibration]:
        """Make an instrument, and its calibration where the row states one.

        Parameters
        ----------
        row : Taken

        Returns
        -------
        list of Instrument or Calibration
        """
        values = row.values
        capacity = values.get("capacity")
        texts = {key: values[key] for key in ("maker", "model", "note") if key in values}
        made = Instrument(
            self._new_id(), values["serial"], Measures(values["measures"]), values["reading_unit"],
            capacity_si=None if capacity is None else capacity.si, **texts,
        )  # fmt: skip
        return [made, self._calibration(values, made.id)] if "calibration_date" in values else [made]

    def _calibration(self, values: dict[str, Any], instrument_id: UUID) -> Calibration:
        u_si = values["standard_uncertainty"].si if "standard_uncertainty" in values else None
        if u_si is None and "expanded_uncertainty" in values:
            u_si = values["expanded_uncertainty"].si / _COVERAGE
        relative = values.get("relative_standard_uncertainty")
        given = [order for order in range(4) if f"coefficient_{order}" in values]
        defaults = (0.0, 1.0, 0.0, 0.0)
        orders = range(max(given[-1], 1) + 1) if given else ()
        return Calibration(
            self._new_id(),
            instrument_id,
            values["certificate_number"],
            values["calibration_date"],
            values["calibration_due"],
            values["reading_unit"],
            polynomial=tuple(values.get(f"coefficient_{order}", defaults[order]) for order in orders),
            standard_uncertainty_si=u_si,
            relative_standard_uncertainty=None if relative is None else relative.si,
            reference_standard=values.get("reference_standard", ""),
            note=f"as listed in {self._source}",
        )


def valve_keys(values: dict[str, Any]) -> tuple[str, str]:
    """Give the form of maker and serial by which the register knows a valve again.

    Parameters
    ----------
    values : dict

    Returns
    -------
    maker, serial : str
    """
    return search_key(values.get("maker", "")), search_key(values["serial"])
