"""A simulated test from its parts: motion, channels, job sheet, truth."""

from __future__ import annotations

import hashlib
from collections.abc import Callable
from dataclasses import replace
from functools import partial

import numpy as np
from numpy.random import Generator

from firstlift.core.job import ChannelSpec
from firstlift.core.recording import RawChannel, Recording, frozen, reduce_waveform
from firstlift.core.valve import circle_area_m2
from firstlift.sim.drive import end_s
from firstlift.sim.model import (
    Disturbances,
    Floats,
    Instrumentation,
    Motion,
    PullProgram,
    RigModel,
    SensorModel,
    SimulatedTest,
    TruePull,
    Truth,
    ValveModel,
)
from firstlift.sim.motion import move
from firstlift.sim.sensors import on_clock, show_cell, show_gauge, show_level, show_lift, show_waveform, sound_v, spoil
from firstlift.sim.sheet import make_job, make_seat

_BLOCK_S = 1e-3  # blocks a sound waveform is reduced to


def simulate(
    valve: ValveModel,
    rig: RigModel,
    program: PullProgram,
    instruments: Instrumentation,
    disturbances: Disturbances,
    rng: Generator,
    *,
    name: str = "simulated",
    stamped_bar: float | None = None,
) -> SimulatedTest:
    """Carry a valve through a test and record it.

    Parameters
    ----------
    valve, rig, program, instruments, disturbances
        The parts; see `firstlift.sim.model`.
    rng : Generator
        For noise alone: everything else was drawn before.
    name : str
        Tag and name of the test.
    stamped_bar : float, optional, [bar gauge]
        Set pressure on the nameplate; the true one, rounded to 0.1 bar, if not given.

    Returns
    -------
    SimulatedTest
    """
    motion = move(valve, rig, program)
    columns = _record(valve, motion, program, instruments, disturbances, rng)
    job = make_job(valve, rig, instruments, name=name, stamped_bar=stamped_bar)
    digest = hashlib.sha256()
    for column, (times, values) in columns.items():
        digest.update(column.encode() + times.tobytes() + values.tobytes())
    channels = tuple(_channel(spec, columns[spec.column], instruments) for spec in job.channels)
    recording = Recording(digest.hexdigest(), channels)
    truth = _truth(valve, rig, program, instruments, motion)
    return SimulatedTest(recording, job, truth, motion, valve, program, instruments, columns, name)


def _record(
    valve: ValveModel,
    motion: Motion,
    program: PullProgram,
    instruments: Instrumentation,
    faults: Disturbances,
    rng: Generator,
) -> dict[str, tuple[Floats, Floats]]:
    length_s = program.duration_s - program.record_from_s
    clock = np.arange(round(length_s * instruments.rate_hz)) / instruments.rate_hz
    columns: dict[str, tuple[Floats, Floats]] = {}

    def seen_at(sensor: SensorModel, times: Floats) -> Floats:
        return times + program.record_from_s - sensor.delay_s

    def keep(sensor: SensorModel, times: Floats, values: Floats) -> None:
        columns[sensor.column] = (frozen(times), frozen(spoil(sensor.column, values, times, sensor, faults)))

    for cell in instruments.cells:
        pull = on_clock(motion, motion.pull_n, seen_at(cell, clock))
        keep(cell, clock, show_cell(cell, pull, clock, rng))
    gauge = instruments.gauge
    keep(gauge, clock, show_gauge(gauge, on_clock(motion, motion.line_pa, seen_at(gauge, clock)), clock, rng))
    if (lift := instruments.lift) is not None:
        way = on_clock(motion, motion.spindle_m, seen_at(lift, clock))
        keep(lift, clock, show_lift(lift, way, clock, faults, rng))
    if (sound := instruments.sound) is not None:
        wave = instruments.waveform_hz > 0.0
        fast = np.arange(round(length_s * instruments.waveform_hz)) / instruments.waveform_hz if wave else clock
        heard = sound_v(valve, motion, fast, seen_at(sound, fast), faults, rng)
        keep(sound, fast, (show_waveform if wave else show_level)(sound, heard, fast, rng))
    return columns


def _channel(spec: ChannelSpec, column: tuple[Floats, Floats], instruments: Instrumentation) -> RawChannel:
    times, values = column
    if instruments.sound is None or spec.column != instruments.sound.column or instruments.waveform_hz <= 0.0:
        return RawChannel(spec, times, values, times.size)
    time_s, mean_square, peak_square = reduce_waveform(
        lambda start, stop: values[start:stop], values.size,
        dt_s=1.0 / instruments.waveform_hz, t0_s=0.0, block_s=_BLOCK_S,
    )  # fmt: skip
    size = max(2, round(_BLOCK_S * instruments.waveform_hz))
    return RawChannel(spec, time_s, mean_square, values.size, size / instruments.waveform_hz, peak_square)


def _truth(
    valve: ValveModel, rig: RigModel, program: PullProgram, instruments: Instrumentation, motion: Motion
) -> Truth:
    ideal = partial(_ideal_pa, valve=valve, instruments=instruments, weight_n=rig.weight_on_spindle_n)
    pulls: list[TruePull] = []
    starts = [pull.start_s for pull in program.pulls] + [np.inf]
    for index, pull in enumerate(program.pulls):
        seen = _true_pull(motion, pull.start_s, starts[index + 1], valve, ideal)
        pulls.append(replace(seen, number=index + 1, end_s=end_s(pull)))
    friction = max(valve.friction_n, valve.static_friction_n)
    on_clock = tuple(_shifted(pull, program.record_from_s) for pull in pulls)
    return Truth(valve.set_pressure_pa, valve.area_m2, on_clock, friction, valve.bond_n)


def _true_pull(
    motion: Motion, start: float, until: float, valve: ValveModel, ideal: Callable[[float, float], float]
) -> TruePull:
    """What happened from the start of one pull to that of the next, on the program's clock."""
    inside = (motion.time_s >= start) & (motion.time_s < until)
    largest = float(motion.pull_n[inside].max(initial=0.0))
    blank = TruePull(0, start, start, lifted=False, largest_force_n=largest)
    if motion.open[int(np.argmax(inside))]:
        return replace(blank, already_open=True)
    openings = [event for event in motion.openings if start <= event[0] < until]
    if not openings:
        return blank
    at_s, line_pa, force_n = openings[0]
    closures = [time for time in motion.closures_s if start <= time < until]
    return replace(
        blank,
        lifted=True,
        first_lift_s=at_s,
        closure_s=None if motion.open[inside][-1] or not closures else closures[-1],
        opening_pressure_pa=_service_pa(line_pa, force_n, valve.area_m2, valve),
        ideal_estimate_pa=ideal(line_pa, force_n),
        line_pressure_pa=line_pa,
        force_n=force_n,
    )


def _shifted(pull: TruePull, zero_s: float) -> TruePull:
    """Put a pull's times on the recording's own clock."""
    times = {name: getattr(pull, name) for name in ("start_s", "end_s", "first_lift_s", "closure_s")}
    return replace(pull, **{name: None if time is None else time - zero_s for name, time in times.items()})


def _service_pa(line_pa: float, force_n: float, area_m2: float, valve: ValveModel) -> float:
    """Opening pressure in service: p_l + F/A - p_b,test (1 - A_sp/A) + p_b,service (closed bonnet, cap off)."""
    free = 1.0 - circle_area_m2(valve.spindle_diameter_m) / area_m2
    return line_pa + force_n / area_m2 - valve.back_pressure_at_test_pa * free + valve.superimposed_back_pressure_pa


def _ideal_pa(
    line_pa: float, force_n: float, valve: ValveModel, instruments: Instrumentation, weight_n: float
) -> float:
    """What these sensors give to someone who knows the moment: gain and zero errors, stated area."""
    gauge, area_m2 = instruments.gauge, make_seat(instruments).area_m2
    whole_n = force_n + weight_n
    shown_n = sum(cell.share * whole_n * (1.0 + cell.gain_error) + cell.zero_error for cell in instruments.cells)
    shown_pa = line_pa * (1.0 + gauge.gain_error) + gauge.zero_error
    return _service_pa(shown_pa, shown_n - weight_n, area_m2, valve)
