"""A simulated test as the texts a technician would hand over: job sheet (TOML) and recording (CSV)."""

from __future__ import annotations

import numpy as np

from firstlift.core.errors import FirstliftError, Problem
from firstlift.core.job import ChannelSpec, Form, Job, Measures
from firstlift.core.units import from_si
from firstlift.sim.model import SimulatedTest

_TIME = "time_s"


def jobsheet_text(test: SimulatedTest, *, note: str = "Invented data, made by simulation.") -> str:
    """Give the job sheet as TOML.

    Parameters
    ----------
    test : SimulatedTest
    note : str
        A comment for the first line.

    Returns
    -------
    str
    """
    job = test.job
    lines = [f"# {note}", 'format = "firstlift-jobsheet-1"', ""]
    lines += _visit(job) + _valve(job) + _seat(job)
    if job.weight_on_spindle_n:
        lines += ["[rig]", f'weight_on_spindle = "{job.weight_on_spindle_n:.10g} N"', ""]
    lines += ["[rules]", f'code = "{job.rules.code}"', f'decision = "{job.rules.decision}"', ""]
    lines += ["[recording]", f'file = "{job.recording.file}"', f'time = "{_TIME}"', ""]
    for channel in job.channels:
        lines += _channel(channel)
    return "\n".join(lines)


def _visit(job: Job) -> list[str]:
    visit = job.visit
    return [
        "[visit]",
        f"date = {visit.date.isoformat()}",
        f'owner = "{visit.owner}"',
        f'site = "{visit.site}"',
        f'technician = "{visit.technician}"',
        f'purpose = "{visit.purpose}"',
        "",
    ]


def _valve(job: Job) -> list[str]:
    valve = job.valve
    lines = [
        "[valve]",
        f'tag = "{valve.tag}"',
        f'serial = "{valve.serial}"',
        f'set_pressure = "{valve.set_pressure.text}"',
        f'medium = "{valve.medium}"',
        f'type = "{valve.type}"',
        f'superimposed_back_pressure = "{from_si(valve.superimposed_back_pressure_pa, "bar"):.10g} bar"',
        f'back_pressure_at_test = "{from_si(valve.back_pressure_at_test_pa, "bar"):.10g} bar"',
    ]
    if valve.spindle_diameter_m is not None:
        lines.append(f'spindle_diameter = "{valve.spindle_diameter_m * 1e3:.10g} mm"')
    return [*lines, ""]


def _seat(job: Job) -> list[str]:
    seat = job.seat
    # every number is written back from the area, so that the sheet and the job cannot disagree
    diameter = 2.0 * np.sqrt(seat.area_m2 / np.pi)
    if seat.half_width_m2 > 0.0:
        words = seat.stated.split()
        lines = [f'inner_diameter = "{words[2]} mm"', f'outer_diameter = "{words[5]} mm"']
    else:
        u_diameter = seat.u_area_m2 / (np.pi / 2.0 * diameter)
        lines = [f'mean_diameter = "{diameter * 1e3:.12g} mm"', f'standard_uncertainty = "{u_diameter * 1e3:.10g} mm"']
    return ["[seat]", *lines, f'source = "{seat.source}"', ""]


def _channel(spec: ChannelSpec) -> list[str]:
    lines = ["[[channel]]", f'column = "{spec.column}"', f'measures = "{spec.measures}"', f'unit = "{spec.unit}"']
    if spec.relative_standard_uncertainty > 0.0:
        lines.append(f'relative_standard_uncertainty = "{spec.relative_standard_uncertainty * 100:.10g} %"')
    if spec.standard_uncertainty > 0.0:
        lines.append(f'standard_uncertainty = "{spec.standard_uncertainty / spec.factor:.10g} {spec.unit}"')
    if spec.capacity is not None:
        lines.append(f'capacity = "{spec.capacity / spec.factor:.10g} {spec.unit}"')
    if spec.delay_s is not None:
        lines.append(f'delay = "{spec.delay_s * 1e3:.10g} ms"')
    if spec.measures is Measures.ACOUSTIC:
        lines.append(f'form = "{Form(spec.form)}"')
    return [*lines, ""]


def recording_csv(test: SimulatedTest) -> str:
    """Give the recording as CSV: a time column and one a channel, empty where there is a gap.

    Parameters
    ----------
    test : SimulatedTest

    Returns
    -------
    str

    Raises
    ------
    FirstliftError
        SIM-001 the channels have different sampling rates, which one table cannot hold.
    """
    clocks = [times for times, _ in test.columns.values()]
    if any(clock.size != clocks[0].size for clock in clocks):
        raise FirstliftError(
            Problem(
                "SIM-001",
                "channels of different sampling rates do not go into one CSV",
                test.name,
                "one sampling rate for all channels",
                "Write a format that holds a time base for each channel, or simulate all at one rate",
            )
        )
    rows = np.column_stack([clocks[0], *(values for _, values in test.columns.values())])
    mask = "%.6f," + ",".join(["%.6g"] * len(test.columns))
    body = "\n".join(mask % tuple(row) for row in rows.tolist()).replace("nan", "")
    return ",".join([_TIME, *test.columns]) + "\n" + body + "\n"
