"""The job sheet that goes with a simulated test, as frozen values."""

from __future__ import annotations

import datetime as dt
import math

from firstlift.core.job import ChannelSpec, Form, Job, Measures, Purpose, RecordingSpec, Rules, Visit
from firstlift.core.units import UNITS, Kind, parse_quantity
from firstlift.core.valve import Seat, Valve, circle_area_m2, land_area_m2
from firstlift.sim.model import Instrumentation, RigModel, SensorModel, ValveModel

OWNER, SITE = "Marrow Bay Energy", "Tern Street works"  # invented
SOURCE = "simulated: invented data"
_DATE = dt.date(2026, 5, 12)


def make_job(
    valve: ValveModel,
    rig: RigModel,
    instruments: Instrumentation,
    *,
    name: str,
    stamped_bar: float | None = None,
) -> Job:
    """Make the job sheet of a simulated test.

    Parameters
    ----------
    valve : ValveModel
    rig : RigModel
    instruments : Instrumentation
    name : str
        Becomes the tag.
    stamped_bar : float, optional, [bar gauge]
        Nameplate set pressure; the true one, rounded to 0.1 bar, if not given.

    Returns
    -------
    Job
    """
    stamped = round(valve.set_pressure_pa / 1e5, 1) if stamped_bar is None else stamped_bar
    waveform = instruments.waveform_hz > 0.0
    return Job(
        visit=Visit(_DATE, Purpose.AS_FOUND, OWNER, SITE, "field team 2"),
        valve=Valve(
            tag=f"PSV-{name}",
            serial=f"SIM-{name}",
            set_pressure=parse_quantity(f"{stamped:.1f} bar", Kind.PRESSURE),
            medium=valve.medium,
            superimposed_back_pressure_pa=valve.superimposed_back_pressure_pa,
            back_pressure_at_test_pa=valve.back_pressure_at_test_pa,
            spindle_diameter_m=valve.spindle_diameter_m or None,
        ),
        seat=make_seat(instruments),
        rules=Rules("iso-4126-1"),
        recording=RecordingSpec("recording.csv", time_column="time_s"),
        channels=tuple(_specs(instruments, waveform)),
        weight_on_spindle_n=rig.weight_on_spindle_n,
    )


def make_seat(instruments: Instrumentation) -> Seat:
    """Make the seat that the job sheet states.

    Parameters
    ----------
    instruments : Instrumentation

    Returns
    -------
    Seat
    """
    if instruments.stated_edges_m is not None:
        inner, outer = instruments.stated_edges_m
        half = (circle_area_m2(outer) - circle_area_m2(inner)) / 2.0
        stated = f"contact from {inner * 1e3:.6g} mm to {outer * 1e3:.6g} mm"
        return Seat(land_area_m2(inner, outer), 0.0, half, SOURCE, stated)
    diameter = instruments.stated_diameter_m
    u_area = math.pi / 2.0 * diameter * instruments.u_diameter_m
    return Seat(circle_area_m2(diameter), u_area, 0.0, SOURCE, f"mean diameter {diameter * 1e3:.6g} mm")


def _specs(instruments: Instrumentation, waveform: bool) -> list[ChannelSpec]:
    specs = [_spec(cell, Measures.PULL_FORCE) for cell in instruments.cells]
    specs.append(_spec(instruments.gauge, Measures.LINE_PRESSURE))
    if instruments.lift is not None:
        specs.append(_spec(instruments.lift, Measures.SPINDLE_LIFT))
    if instruments.sound is not None:
        specs.append(_spec(instruments.sound, Measures.ACOUSTIC, Form.WAVEFORM if waveform else Form.LEVEL))
    return specs


def _spec(sensor: SensorModel, measures: Measures, form: Form = Form.LEVEL) -> ChannelSpec:
    unit = UNITS[sensor.unit]
    return ChannelSpec(
        column=sensor.column,
        measures=measures,
        unit=sensor.unit,
        factor=unit.factor,
        offset=unit.offset,
        relative_standard_uncertainty=sensor.relative_u,
        standard_uncertainty=sensor.u,
        uncertainty_stated=sensor.relative_u > 0.0 or sensor.u > 0.0,
        capacity=sensor.capacity,
        delay_s=sensor.delay_s if sensor.delay_stated else None,
        form=form,
    )
