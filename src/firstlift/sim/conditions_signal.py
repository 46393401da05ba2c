"""Conditions in which the signals are hard: noise, loss, gaps, delays, rates."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

import numpy as np
from numpy.random import Generator

from firstlift.core.valve import Medium
from firstlift.sim.model import Disturbances, Instrumentation, SensorModel, SimulatedTest
from firstlift.sim.motion import move
from firstlift.sim.recipe import Recipe, cook, draw_recipe, plan

SIGNAL_CONDITIONS: dict[str, Callable[[Generator], SimulatedTest]] = {}
Change = Callable[[Recipe, Generator], Recipe]


def _named(name: str, medium: Medium = Medium.GAS) -> Callable[[Change], Change]:
    """Enter a change of the plain recipe under a name."""

    def enter(change: Change) -> Change:
        def make(rng: Generator) -> SimulatedTest:
            return cook(change(draw_recipe(rng, medium), rng), rng, name)

        SIGNAL_CONDITIONS[name] = make
        return change

    return enter


def _every(instruments: Instrumentation, change: Callable[[SensorModel], SensorModel]) -> Instrumentation:
    """Change every sensor but the sound's."""
    return replace(
        instruments,
        cells=tuple(change(cell) for cell in instruments.cells),
        gauge=change(instruments.gauge),
        lift=None if instruments.lift is None else change(instruments.lift),
    )


def _with_lift(recipe: Recipe, **changes: object) -> Recipe:
    assert recipe.instruments.lift is not None
    return replace(recipe, instruments=replace(recipe.instruments, lift=replace(recipe.instruments.lift, **changes)))


def _with_sound(recipe: Recipe, **changes: object) -> Recipe:
    assert recipe.instruments.sound is not None
    return replace(recipe, instruments=replace(recipe.instruments, sound=replace(recipe.instruments.sound, **changes)))


def _first_lifts_s(recipe: Recipe) -> list[float]:
    return [event[0] for event in move(recipe.valve, recipe.rig, plan(recipe)).openings]


@_named("noisy-hum")
def _noisy_hum(recipe: Recipe, rng: Generator) -> Recipe:
    line_pa = recipe.line.pressure_pa
    hum = {"line": 2e-3 * line_pa, "lift": 4e-6}
    instruments = _every(
        recipe.instruments,
        lambda s: replace(s, noise=5.0 * s.noise, hum=rng.uniform(0.3, 1.0) * hum.get(s.column, 15.0)),
    )
    recipe = replace(recipe, instruments=instruments, faults=Disturbances(hum_hz=float(rng.choice([50.0, 60.0]))))
    return _with_sound(recipe, noise=0.2, hum=0.1e-3)


@_named("lost-lift")
def _lost_lift(recipe: Recipe, rng: Generator) -> Recipe:
    from_s = 0.0 if rng.random() < 0.5 else recipe.lead_s * 0.5
    return _with_lift(recipe, lost=str(rng.choice(["noise", "flat"])), lost_from_s=from_s)


@_named("lost-acoustic")
def _lost_acoustic(recipe: Recipe, rng: Generator) -> Recipe:
    from_s = 0.0 if rng.random() < 0.5 else recipe.lead_s * 0.5
    return _with_sound(recipe, lost=str(rng.choice(["noise", "flat"])), lost_from_s=from_s)


@_named("bursts")
def _bursts(recipe: Recipe, rng: Generator) -> Recipe:
    end = plan(recipe).duration_s
    times = [*rng.uniform(0.0, end, 6), *(recipe.lead_s + rng.uniform(0.2, 0.95, 2) * recipe.rise_s)]
    bursts = tuple((float(at), float(rng.uniform(0.02, 0.2)), float(rng.uniform(4e-3, 50e-3))) for at in times)
    return replace(recipe, faults=Disturbances(bursts=bursts))


@_named("simmer")
def _simmer(recipe: Recipe, rng: Generator) -> Recipe:
    return replace(recipe, valve=replace(recipe.valve, simmer=rng.uniform(0.01, 0.04)))


@_named("spikes")
def _spikes(recipe: Recipe, rng: Generator) -> Recipe:
    end = plan(recipe).duration_s
    size = {"line": 0.3 * recipe.line.pressure_pa, "lift": 500e-6, "acoustic": 80e-3}
    columns = [cell.column for cell in recipe.instruments.cells] + list(size)
    spikes = tuple(
        (str(column), float(at), float(rng.choice([-1.0, 1.0])) * size.get(column, 3.0 * recipe.need_n))
        for column in columns
        for at in rng.uniform(0.0, end, 12)
    )
    return replace(recipe, faults=Disturbances(spikes=spikes))


@_named("gap-at-lift")
def _gap_at_lift(recipe: Recipe, rng: Generator) -> Recipe:
    column = str(rng.choice(["", "lift", "acoustic", "line", "cell 1"]))
    lifts = _first_lifts_s(recipe)
    gaps = tuple((column, at - rng.uniform(0.005, 0.05), at + rng.uniform(0.005, 0.05)) for at in lifts)
    return replace(recipe, faults=Disturbances(gaps=gaps))


@_named("delays")
def _delays(recipe: Recipe, rng: Generator) -> Recipe:
    stated = bool(rng.random() < 0.7)
    largest = 0.06 if stated else 0.004
    instruments = _every(
        recipe.instruments, lambda s: replace(s, delay_s=round(rng.uniform(0.0, largest), 4), delay_stated=stated)
    )
    shared = instruments.cells[0].delay_s  # the cells sit on one amplifier
    cells = tuple(replace(cell, delay_s=shared) for cell in instruments.cells)
    recipe = replace(recipe, instruments=replace(instruments, cells=cells))
    return _with_sound(recipe, delay_s=round(rng.uniform(0.0, largest), 4), delay_stated=stated)


@_named("lagging-gauge")
def _lagging_gauge(recipe: Recipe, rng: Generator) -> Recipe:
    kind = int(rng.integers(0, 3))
    change: dict[str, float] = {}
    if kind == 0:
        change = {"lag_s": rng.uniform(0.3, 2.0)}
    elif kind == 1:
        change = {"hold_s": rng.uniform(0.2, 1.0)}
    else:
        change = {"resolution": 0.005 * recipe.line.pressure_pa, "noise": 1e-5}
    line = replace(recipe.line, drift_per_s=rng.uniform(-6e-4, 6e-4))
    line = replace(line, pressure_pa=min(line.pressure_pa, 0.88 * recipe.valve.set_pressure_pa))
    gauge = replace(recipe.instruments.gauge, **change)
    return replace(recipe, pulls=2, line=line, instruments=replace(recipe.instruments, gauge=gauge))


@_named("creeping-zero")
def _creeping_zero(recipe: Recipe, rng: Generator) -> Recipe:
    cells = tuple(
        replace(cell, creep_per_s=rng.uniform(-2e-3, 2e-3) * recipe.need_n) for cell in recipe.instruments.cells
    )
    recipe = replace(recipe, instruments=replace(recipe.instruments, cells=cells))
    return _with_lift(recipe, creep_per_s=rng.uniform(-1e-6, 1e-6))


@_named("slow-sampling")
def _slow_sampling(recipe: Recipe, rng: Generator) -> Recipe:
    return replace(recipe, instruments=replace(recipe.instruments, rate_hz=100.0))


@_named("fast-sampling")
def _fast_sampling(recipe: Recipe, rng: Generator) -> Recipe:
    return replace(recipe, pulls=2, rise_s=1.5, instruments=replace(recipe.instruments, rate_hz=20000.0))


@_named("acoustic-waveform")
def _acoustic_waveform(recipe: Recipe, rng: Generator) -> Recipe:
    rate = float(rng.choice([10000.0, 25000.0, 50000.0]))
    return replace(recipe, pulls=2, rise_s=1.5, instruments=replace(recipe.instruments, waveform_hz=rate))


@_named("late-start")
def _late_start(recipe: Recipe, rng: Generator) -> Recipe:
    # recording begins within the first pull, before its first lift
    return replace(recipe, record_from_s=recipe.lead_s + rng.uniform(0.1, 0.6) * recipe.rise_s)


@_named("saturated-cell")
def _saturated_cell(recipe: Recipe, rng: Generator) -> Recipe:
    cells = recipe.instruments.cells
    capacity = round(float(recipe.need_n * cells[0].share * rng.uniform(0.4, 0.8)), 0)
    spoiled = replace(cells[0], capacity=capacity, offset=float(np.clip(cells[0].offset, -0.2, 0.2)) * 0.1)
    return replace(recipe, instruments=replace(recipe.instruments, cells=(spoiled, *cells[1:])))
