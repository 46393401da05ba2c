"""The plant: sites, positions, the valves that hang there or lie in store, and what is true of each valve."""

from __future__ import annotations

import datetime as dt
import math
from dataclasses import dataclass, replace
from typing import Any

from firstlift.core.job import Rules
from firstlift.core.register.equipment import Installation, RegisteredValve
from firstlift.core.register.places import Interval, Owner, Position, ProtectedSystem, RuleChoice, Site
from firstlift.core.seat.orifice import LETTERS_IN2
from firstlift.core.seat.record import SeatRecord, Source
from firstlift.core.units import Kind, Quantity, from_si, parse_quantity
from firstlift.core.valve import Medium, ValveType, circle_area_m2, land_area_m2
from firstlift.demo.register.draw import Draw
from firstlift.sim.recipe import Recipe, draw_recipe

OWNER, NOTE = "Marrow Bay Energy", "Invented for demonstration: no such company, plant, person or valve exists."
RECORDED = 28
SPARES = 24
_SITES = (
    # name, zone, code, unit of pressure, positions
    ("Gullstone terminal", "Europe/Oslo", "iso-4126-1", "bar", 160),
    ("Tern Street works", "Europe/Lisbon", "iso-4126-1", "bar", 136),
    ("Drybeck station", "America/Denver", "asme-xiii", "psi", 104),
)
_UNITS = ("Crude", "Steam", "Flare", "Utilities", "Storage", "Compression")
_STICKY = {"Crude": 0.10, "Flare": 0.07, "Storage": 0.05}
_EQUIPMENT = ("drum", "exchanger", "column", "receiver", "boiler", "header", "tank", "compressor stage")
_NAMES = {
    Medium.GAS: ("fuel gas", "nitrogen", "air", "hydrocarbon gas", "hydrogen"),
    Medium.STEAM: ("saturated steam", "superheated steam"),
    Medium.LIQUID: ("water", "condensate", "light oil"),
}
_SIZES = (("DN25", "DN40", 0.016), ("DN40", "DN50", 0.023), ("DN50", "DN80", 0.031), ("DN80", "DN100", 0.044))
_MAKERS = ("Maker A (invented)", "Maker B (invented)", "Maker C (invented)")


@dataclass(slots=True)
class Truth:
    """A valve, and what nobody at the plant knows of it.

    ``shift`` is how far its set pressure lies off the stamped one, ``area_error`` how far its true seat area
    lies off the recorded one, both as shares; ``bond`` the chance that it sticks at a test.
    """

    valve: RegisteredValve
    seat: SeatRecord
    shift: float
    drift_per_yr: float
    area_error: float
    bond: float
    since: dt.date
    recipe: Recipe | None = None
    position: Position | None = None
    installation: Installation | None = None
    months: int = 24
    last: dt.date | None = None

    def age(self, day: dt.date) -> None:
        """Let it drift until a day."""
        self.shift += self.drift_per_yr * (day - self.since).days / 365.25
        self.since = day


@dataclass(slots=True)
class Plant:
    """All there is at the start. ``entries`` in an order in which each refers to earlier ones only."""

    owner: Owner
    sites: list[Site]
    codes: dict[str, str]
    truths: list[Truth]
    spares: list[Truth]
    entries: list[Any]


def draw_plant(draw: Draw, start: dt.date, size: float = 1.0) -> Plant:
    """Draw the plant as it stood when the register was begun.

    Parameters
    ----------
    draw : Draw
    start : date
    size : float
        Share of the full plant, above 0 to 1.

    Returns
    -------
    Plant
    """
    owner = Owner(draw.new_id(), OWNER, NOTE)
    plant = Plant(owner, [], {}, [], [], [owner])
    counts = [max(4, round(count * size)) for *_, count in _SITES]
    # pounds per square inch are the third site's: the simulated rigs speak bar
    recorded = draw.rng.choice(counts[0] + counts[1], max(1, round(RECORDED * size)), replace=False).tolist()
    for (name, zone, code, unit, _), count in zip(_SITES, counts, strict=True):
        site = Site(draw.new_id(), owner.id, name, zone, "invented jurisdiction", NOTE)
        plant.sites.append(site)
        plant.codes[str(site.id)] = code
        plant.entries += [site, RuleChoice(draw.new_id(), owner.id, Rules(code), start, site.id)]
        systems = [
            ProtectedSystem(draw.new_id(), site.id, f"{name}, system {n}") for n in range(1, max(1, count // 8) + 1)
        ]
        plant.entries += systems
        for number in range(count):
            system = systems[number % len(systems)] if number < 2 * len(systems) else None
            with_recipe = len(plant.truths) in recorded
            plant.truths.append(_place(draw, plant, site, number, system, unit, start, with_recipe=with_recipe))
    for number in range(max(2, round(SPARES * size))):
        unit = "psi" if number % 4 == 3 else "bar"
        spare = _truth(draw, plant.owner, draw.one_of(list(Medium)), unit, start)
        plant.spares.append(spare)
        plant.entries += [spare.valve, spare.seat]
    return plant


def _place(
    draw: Draw, plant: Plant, site: Site, number: int, system: ProtectedSystem | None, unit: str, start: dt.date,
    *, with_recipe: bool,
) -> Truth:  # fmt: skip
    """Draw a position and the valve that hangs there."""
    area = _UNITS[number % len(_UNITS)]
    medium = Medium.STEAM if area == "Steam" else draw.one_of((Medium.GAS, Medium.GAS, Medium.LIQUID))
    recipe = draw_recipe(draw.rng, medium) if with_recipe else None
    truth = _truth(draw, plant.owner, medium, unit, start, recipe)
    truth.bond = 0.0 if recipe else _STICKY.get(area, 0.015)
    set_pressure = truth.valve.set_pressure
    tag = f"{(number % len(_UNITS) + 1) * 10}-PSV-{number + 101}"
    position = Position(
        draw.new_id(), site.id, tag, medium, area, f"{draw.one_of(_EQUIPMENT)} V-{number // 2 + 1:03d}",
        system.id if system else None, draw.one_of(_NAMES[medium]), _share(set_pressure, 1.05),
        _share(set_pressure, 0.75), consequence=draw.one_of(("A", "B", "B", "C")),
    )  # fmt: skip
    hung = start - dt.timedelta(days=draw.whole(200, 4000))
    truth.position = position
    truth.installation = Installation(draw.new_id(), truth.valve.id, position.id, hung)
    truth.months = draw.one_of((12, 24, 24, 36, 36, 48)) if position.consequence != "A" else 12
    interval = Interval(draw.new_id(), position.id, truth.months, start, "set when the register was begun")
    plant.entries += [position, truth.valve, truth.installation, interval, truth.seat]
    return truth


def _share(pressure: Quantity, share: float) -> Quantity:
    """Give a share of a pressure, rounded as people write it."""
    number = round(float(pressure.number) * share, 0 if pressure.unit == "psi" else 1)
    return parse_quantity(f"{number:g} {pressure.unit}", Kind.PRESSURE)


def _truth(draw: Draw, owner: Owner, medium: Medium, unit: str, start: dt.date, recipe: Recipe | None = None) -> Truth:
    inlet, outlet, bore = draw.one_of(_SIZES)
    bar = math.exp(draw.between(math.log(3.0), math.log(45.0))) if recipe is None else recipe.stamped_bar
    number = round(from_si(bar * 1e5, "psi") / 5) * 5 if unit == "psi" else round(bar * 2) / 2
    number = number if recipe is None else recipe.stamped_bar
    pressure = parse_quantity(f"{number:g} {unit}", Kind.PRESSURE)
    inner = bore * (1.0 + draw.between(-0.04, 0.04)) if recipe is None else recipe.instruments.stated_diameter_m
    kind = draw.one_of((ValveType.CONVENTIONAL,) * 4 + (ValveType.BALANCED_BELLOWS,))
    kind = kind if recipe is None else ValveType.CONVENTIONAL
    travel_m = draw.between(0.010, 0.018)
    valve = RegisteredValve(
        draw.new_id(), owner.id, f"MB{draw.whole(0, 899_999_999) + 100_000_000}", pressure, kind,
        draw.one_of(_MAKERS), f"type {draw.whole(10, 29)}", inlet, outlet, _letter(inner),
        spring_number=f"S-{draw.whole(100, 999)}",
        spring_rate_n_m=round(pressure.si * circle_area_m2(inner) / travel_m, -2),
        spring_range_low=_share(pressure, 0.85), spring_range_high=_share(pressure, 1.2),
        screw_pitch_m=draw.one_of((1.5e-3, 2e-3)), note=NOTE,
    )  # fmt: skip
    day = start - dt.timedelta(days=draw.whole(30, 1500))
    seat = _seat(draw, valve, inner, day, recipe)
    return Truth(valve, seat, draw.normal(0.008), draw.normal(0.005), draw.normal(0.003), 0.0, start, recipe)


def _letter(bore_m: float) -> str:
    """Give the largest orifice letter whose effective area is within the bore's, as a nameplate would have it."""
    fitting = [letter for letter, area_in2 in LETTERS_IN2.items() if area_in2 * 0.0254**2 < circle_area_m2(bore_m)]
    return fitting[-1] if fitting else ""


def _seat(draw: Draw, valve: RegisteredValve, inner_m: float, day: dt.date, recipe: Recipe | None) -> SeatRecord:
    if recipe is not None:
        diameter, u_m = recipe.instruments.stated_diameter_m, recipe.instruments.u_diameter_m
        return SeatRecord(
            draw.new_id(), valve.id, Source.MEASURED, day, area_m2=circle_area_m2(diameter),
            u_area_m2=math.pi / 2.0 * diameter * u_m, measured_with=("BG-01",), note="mean diameter of the contact",
        )  # fmt: skip
    return measured_seat(draw, valve, inner_m, day)


def measured_seat(draw: Draw, valve: RegisteredValve, inner_m: float, day: dt.date) -> SeatRecord:
    """Draw a seat record of two measured diameters, or the maker's where the seat was never measured.

    Parameters
    ----------
    draw : Draw
    valve : RegisteredValve
    inner_m : float, [m]
    day : date

    Returns
    -------
    SeatRecord
    """
    inner, outer = round(inner_m, 5), round(inner_m + draw.between(0.3e-3, 0.7e-3), 5)
    measured = draw.chance(0.85)
    u_m = 2e-5 if measured else 8e-5
    return SeatRecord(
        draw.new_id(), valve.id, Source.MEASURED if measured else Source.MAKER, day, inner_diameter_m=inner,
        outer_diameter_m=outer, u_inner_m=u_m, u_outer_m=u_m, measured_with=("BG-01",) if measured else (),
    )  # fmt: skip


def area_of(seat: SeatRecord) -> float:
    """Give the area a seat record states, [m2].

    Parameters
    ----------
    seat : SeatRecord

    Returns
    -------
    float, [m2]
    """
    if seat.area_m2 is not None:
        return seat.area_m2
    return land_area_m2(seat.inner_diameter_m or 0.0, seat.outer_diameter_m or 0.0)


def restamped(valve: RegisteredValve, pressure: Quantity) -> RegisteredValve:
    """Give a valve set for another pressure, with the spring that goes with it.

    Parameters
    ----------
    valve : RegisteredValve
    pressure : Quantity

    Returns
    -------
    RegisteredValve
    """
    return replace(
        valve, set_pressure=pressure, spring_range_low=_share(pressure, 0.85), spring_range_high=_share(pressure, 1.2)
    )
