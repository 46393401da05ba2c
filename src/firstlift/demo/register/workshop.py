"""Valves that leave their place: a spare hangs there instead; they are lapped again and lie in store until needed."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterator
from dataclasses import replace
from typing import Any

from firstlift.core.job import Purpose
from firstlift.core.register.equipment import Installation
from firstlift.core.register.work import HowTested, ValveTest
from firstlift.demo.register.draw import Draw, at_work
from firstlift.demo.register.plant import Plant, Truth, measured_seat, restamped
from firstlift.demo.register.readings import Occasion, bench_reading, bench_verdict
from firstlift.store.work import Work

_LAPPED_AFTER_DAYS = 16


def spare_for(plant: Plant, truth: Truth) -> Truth | None:
    """Give a spare that can be set for the place of a valve: same unit of pressure, valve type and size.

    Parameters
    ----------
    plant : Plant
    truth : Truth

    Returns
    -------
    Truth or None
    """
    unit = truth.valve.set_pressure.unit
    fits = [one for one in plant.spares if one.valve.set_pressure.unit == unit and one.valve.type is truth.valve.type]
    return fits[0] if fits else None


def swap(draw: Draw, work: Work, plant: Plant, truth: Truth, spare: Truth, occasion: Occasion, zone: str) -> None:
    """Hang a spare in a valve's place: set and proved on the bench first; the old one goes to be lapped.

    Parameters
    ----------
    draw : Draw
    work : Work
    plant : Plant
    truth, spare : Truth
    occasion : Occasion
    zone : str
    """
    day = occasion.day
    assert truth.installation is not None
    position, months = truth.position, truth.months
    plant.spares.remove(spare)
    spare.valve = restamped(spare.valve, truth.valve.set_pressure)
    spare.shift, spare.since, spare.bond = draw.normal(0.003), day, truth.bond
    work.change(spare.valve)
    work.add(_bench(draw, spare, occasion, zone, Purpose.AS_LEFT))
    work.change(replace(truth.installation, until=day))
    spare.position, spare.months, spare.last = position, months, day
    assert position is not None
    spare.installation = Installation(draw.new_id(), spare.valve.id, position.id, day)
    work.add(spare.installation)
    for entry in _lap(draw, truth, occasion, zone):
        work.change(entry) if entry.id == truth.seat.id else work.add(entry)
    _refit(draw, work, truth, day + dt.timedelta(days=_LAPPED_AFTER_DAYS))
    plant.spares.append(truth)
    plant.truths[plant.truths.index(truth)] = spare


def _bench(
    draw: Draw, truth: Truth, occasion: Occasion, zone: str, purpose: Purpose, *, tight: bool = True
) -> ValveTest:
    reading = bench_reading(draw, truth, tight=tight)
    at = at_work(occasion.day, zone, 14.0)
    verdict = bench_verdict(reading, truth, replace(occasion, purpose=purpose))
    fit = verdict == "within" and reading.tight
    return ValveTest(
        draw.new_id(), truth.valve.id, HowTested.BENCH, purpose, at, zone, occasion.day, verdict=verdict,
        disposition="fit" if fit else "unfit", set_pressure_pa=reading.pop_pa,
        expanded_uncertainty_pa=2.0 * (reading.u_pop_pa or 0.0), bench=reading, note="on the workshop's bench",
    )  # fmt: skip


def _lap(draw: Draw, truth: Truth, occasion: Occasion, zone: str) -> Iterator[Any]:
    """Test as found on the bench, which pairs with the pull in place; then the old seat serves no more."""
    on_bench = replace(occasion, day=occasion.day + dt.timedelta(days=2))
    yield _bench(draw, truth, on_bench, zone, Purpose.AS_FOUND, tight=not occasion.leaking)
    lapped = occasion.day + dt.timedelta(days=_LAPPED_AFTER_DAYS)
    yield replace(truth.seat, superseded_by_overhaul=lapped)


def _refit(draw: Draw, work: Work, truth: Truth, day: dt.date) -> None:
    """Measure the seat after lapping, and forget what was wrong with the valve."""
    old = truth.seat.inner_diameter_m or 2.0 * ((truth.seat.area_m2 or 0.0) / 3.141592653589793) ** 0.5
    truth.seat = measured_seat(draw, truth.valve, old + draw.between(5e-5, 2e-4), day)
    work.add(truth.seat)
    truth.recipe = truth.position = truth.installation = None
    truth.area_error, truth.drift_per_yr, truth.bond = draw.normal(0.003), draw.normal(0.004), 0.0
    truth.since = day
