"""Conditions in which the valve, the rig, the line or the hand on the pump is hard."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

import numpy as np
from numpy.random import Generator

from firstlift.core.valve import Medium, circle_area_m2, land_area_m2
from firstlift.sim.model import LineModel, SimulatedTest
from firstlift.sim.motion import move
from firstlift.sim.recipe import Recipe, cook, draw_instruments, draw_recipe, plan

VALVE_CONDITIONS: dict[str, Callable[[Generator], SimulatedTest]] = {}
Change = Callable[[Recipe, Generator], Recipe]


def _named(name: str, medium: Medium = Medium.GAS) -> Callable[[Change], Change]:
    """Enter a change of the plain recipe under a name."""

    def enter(change: Change) -> Change:
        def make(rng: Generator) -> SimulatedTest:
            return cook(change(draw_recipe(rng, medium), rng), rng, name)

        VALVE_CONDITIONS[name] = make
        return change

    return enter


@_named("clean-gas")
def _clean_gas(recipe: Recipe, rng: Generator) -> Recipe:
    return recipe


@_named("clean-steam", Medium.STEAM)
def _clean_steam(recipe: Recipe, rng: Generator) -> Recipe:
    return recipe


@_named("clean-liquid", Medium.LIQUID)
def _clean_liquid(recipe: Recipe, rng: Generator) -> Recipe:
    return recipe


@_named("ripple")
def _ripple(recipe: Recipe, rng: Generator) -> Recipe:
    size, count = rng.uniform(0.004, 0.009), 3
    waves = tuple(
        (size / (1 + index), rng.uniform(0.4, 1.5) * (1 + 2 * index), rng.uniform(0, 6.28)) for index in range(count)
    )
    # near set pressure such a line would open the valve by itself
    pressure = min(recipe.line.pressure_pa, 0.88 * recipe.valve.set_pressure_pa)
    return replace(recipe, line=replace(recipe.line, pressure_pa=pressure, waves=waves))


@_named("drift")
def _drift(recipe: Recipe, rng: Generator) -> Recipe:
    drift = float(rng.choice([-1.0, 1.0]) * rng.uniform(3e-4, 8e-4))
    pressure = min(recipe.line.pressure_pa, 0.85 * recipe.valve.set_pressure_pa)
    return replace(recipe, pulls=2, line=LineModel(pressure, drift, recipe.line.waves))


@_named("sagging-line")
def _sagging_line(recipe: Recipe, rng: Generator) -> Recipe:
    line = replace(recipe.line, sag_share=rng.uniform(0.02, 0.06), sag_s=rng.uniform(0.2, 0.8))
    return replace(recipe, line=line)


@_named("hand-pump")
def _hand_pump(recipe: Recipe, rng: Generator) -> Recipe:
    return replace(recipe, strokes_s=rng.uniform(0.5, 1.2), stroke_share=rng.uniform(0.4, 0.7), rise_s=3.0)


@_named("very-slow")
def _very_slow(recipe: Recipe, rng: Generator) -> Recipe:
    return replace(recipe, pulls=1, rise_s=rng.uniform(15.0, 30.0))


@_named("very-fast")
def _very_fast(recipe: Recipe, rng: Generator) -> Recipe:
    return replace(recipe, rise_s=rng.uniform(0.12, 0.4), step_s=5e-4)


@_named("stuck-first")
def _stuck_first(recipe: Recipe, rng: Generator) -> Recipe:
    return replace(recipe, pulls=3, valve=replace(recipe.valve, bond_n=recipe.need_n * rng.uniform(0.15, 0.8)))


@_named("friction")
def _friction(recipe: Recipe, rng: Generator) -> Recipe:
    friction = recipe.valve.preload_n * rng.uniform(0.005, 0.03)
    friction = min(friction, 0.4 * recipe.need_n)
    return replace(recipe, valve=replace(recipe.valve, friction_n=friction))


@_named("stick-slip")
def _stick_slip(recipe: Recipe, rng: Generator) -> Recipe:
    sliding = recipe.need_n * rng.uniform(0.03, 0.08)
    valve = replace(recipe.valve, friction_n=sliding, static_friction_n=sliding * rng.uniform(1.5, 2.5))
    return replace(recipe, valve=valve, strokes_s=rng.uniform(0.08, 0.2), stroke_share=0.5)


@_named("leaking")
def _leaking(recipe: Recipe, rng: Generator) -> Recipe:
    valve = replace(
        recipe.valve,
        leak_load_n=recipe.need_n * rng.uniform(0.15, 0.4),
        leak_v=rng.uniform(4e-3, 12e-3),
        area_growth=rng.uniform(0.0, 0.01),
    )
    return replace(recipe, valve=valve)


@_named("tilted-seat")
def _tilted_seat(recipe: Recipe, rng: Generator) -> Recipe:
    load = recipe.need_n * rng.uniform(0.1, 0.3)
    valve = replace(recipe.valve, tilt_m=rng.uniform(5e-6, 20e-6), tilt_load_n=load, leak_load_n=0.6 * load)
    return replace(recipe, valve=valve)


@_named("seat-edges")
def _seat_edges(recipe: Recipe, rng: Generator) -> Recipe:
    mean = recipe.instruments.stated_diameter_m
    half = mean * rng.uniform(0.01, 0.03)
    edges = (round(mean - half, 6), round(mean + half, 6))
    area = rng.uniform(circle_area_m2(edges[0]), circle_area_m2(edges[1]))
    load = recipe.valve.leak_load_n
    # linear pressure over the land is what the sheet assumes; the land opens as the seat unloads
    growth = max(0.0, 1.0 - land_area_m2(*edges) / area) * 0.5
    valve = replace(
        recipe.valve, seat_diameter_m=float(np.sqrt(4.0 * area / np.pi)), area_growth=growth, leak_load_n=load
    )
    return replace(recipe, valve=valve, instruments=replace(recipe.instruments, stated_edges_m=edges))


@_named("snap-open")
def _snap_open(recipe: Recipe, rng: Generator) -> Recipe:
    early = _share(recipe, rng.uniform(0.7, 0.9))
    early_m = rng.uniform(40e-6, 100e-6)
    rig = replace(recipe.rig, stiffness_n_m=recipe.need_n * rng.uniform(0.1, 0.4) / early_m)
    return replace(recipe, rig=rig, valve=replace(recipe.valve, early=early, early_m=early_m))


@_named("late-snap")
def _late_snap(recipe: Recipe, rng: Generator) -> Recipe:
    late_m = rng.uniform(120e-6, 250e-6)
    valve = replace(
        recipe.valve,
        early=0.0,
        late=_share(recipe, rng.uniform(0.6, 0.9)),
        late_m=late_m,
        spring_rate_n_m=recipe.need_n * rng.uniform(0.15, 0.3) / late_m,
    )
    rig = replace(recipe.rig, stiffness_n_m=recipe.need_n * rng.uniform(0.2, 0.8) / late_m)
    return replace(recipe, valve=valve, rig=rig, lift_m=2.5 * late_m)


def _share(recipe: Recipe, of_pull: float) -> float:
    """Turn a share of the pull into the same force as a share of p A."""
    return float(of_pull * recipe.need_n / (recipe.line.pressure_pa * recipe.valve.area_m2))


def _staying(recipe: Recipe, rng: Generator) -> Recipe:
    """The fluid carries spring and preload alone at some lift: the valve stays open, the rig goes slack."""
    early_m = rng.uniform(60e-6, 150e-6)
    rate = min(recipe.valve.spring_rate_n_m, 0.1 * recipe.need_n / early_m)
    of_pull = rng.uniform(1.4, 2.0) + 4.0 * early_m * rate / recipe.need_n
    valve = replace(recipe.valve, early=_share(recipe, of_pull), early_m=early_m, spring_rate_n_m=rate)
    rig = replace(recipe.rig, stiffness_n_m=recipe.need_n * rng.uniform(0.1, 0.4) / early_m)
    return replace(recipe, valve=valve, rig=rig)


@_named("soft-rig")
def _soft_rig(recipe: Recipe, rng: Generator) -> Recipe:
    return _staying(recipe, rng)


@_named("liquid-soft", Medium.LIQUID)
def _liquid_soft(recipe: Recipe, rng: Generator) -> Recipe:
    rig = replace(recipe.rig, stiffness_n_m=recipe.rig.stiffness_n_m * rng.uniform(0.05, 0.15))
    return replace(recipe, rig=rig)


@_named("already-open")
def _already_open(recipe: Recipe, rng: Generator) -> Recipe:
    stays = _staying(recipe, rng)
    return replace(stays, pulls=2, valve=replace(stays.valve, starts_open=True))


@_named("slip")
def _slip(recipe: Recipe, rng: Generator) -> Recipe:
    if rng.random() < 0.5:
        # the bracket of the lift sensor moves; the gear does not feel it
        at_s = recipe.lead_s + rng.uniform(0.0, 0.8) * recipe.rise_s
        return replace(recipe, faults=replace(recipe.faults, frame_steps=((at_s, rng.uniform(30e-6, 90e-6)),)))
    settling = ((recipe.need_n * rng.uniform(0.2, 0.85), rng.uniform(20e-6, 60e-6)),)
    return replace(recipe, rig=replace(recipe.rig, settlings=settling))


@_named("clamp-yield")
def _clamp_yield(recipe: Recipe, rng: Generator) -> Recipe:
    need = recipe.need_n
    rig = replace(recipe.rig, yield_m=rng.uniform(20e-6, 80e-6), yield_load_n=need * rng.uniform(0.1, 0.3))
    return replace(recipe, rig=rig)


@_named("spindle-play")
def _spindle_play(recipe: Recipe, rng: Generator) -> Recipe:
    rig = replace(recipe.rig, play_m=rng.uniform(30e-6, 150e-6), play_load_n=recipe.need_n * rng.uniform(0.05, 0.15))
    return replace(recipe, rig=rig)


@_named("eccentric")
def _eccentric(recipe: Recipe, rng: Generator) -> Recipe:
    instruments = replace(
        draw_instruments(rng, cells=2),
        stated_diameter_m=recipe.instruments.stated_diameter_m,
        u_diameter_m=recipe.instruments.u_diameter_m,
    )
    heavy = rng.uniform(0.68, 0.85)
    cells = tuple(
        replace(cell, share=share) for cell, share in zip(instruments.cells, (heavy, 1.0 - heavy), strict=True)
    )
    rig = replace(recipe.rig, side_friction_ratio=rng.uniform(0.0, 0.04))
    return replace(recipe, rig=rig, instruments=replace(instruments, cells=cells))


@_named("weight-on-spindle")
def _weight_on_spindle(recipe: Recipe, rng: Generator) -> Recipe:
    return replace(recipe, rig=replace(recipe.rig, weight_on_spindle_n=round(float(rng.uniform(20.0, 120.0)), 1)))


@_named("not-lifted")
def _not_lifted(recipe: Recipe, rng: Generator) -> Recipe:
    recipe = replace(recipe, short=rng.uniform(0.01, 0.10), hold_s=rng.uniform(0.2, 1.5))
    need, kind = recipe.need_n, int(rng.integers(0, 5))
    if kind == 1:
        recipe = replace(recipe, valve=replace(recipe.valve, simmer=rng.uniform(0.02, 0.06)))
    elif kind == 2:
        times = recipe.lead_s + rng.uniform(0.3, 1.2, 3) * recipe.rise_s
        bursts = tuple((float(at), float(rng.uniform(0.02, 0.3)), float(rng.uniform(3e-3, 30e-3))) for at in times)
        recipe = replace(recipe, faults=replace(recipe.faults, bursts=bursts))
    elif kind == 3:
        recipe = _clamp_yield(recipe, rng)
    elif kind == 4:
        load = need * rng.uniform(0.05, 0.15)
        recipe = replace(recipe, rig=replace(recipe.rig, play_m=rng.uniform(30e-6, 150e-6), play_load_n=load))
    return _surely_short(recipe)


def _surely_short(recipe: Recipe) -> Recipe:
    """Stop earlier while a joint that creeps behind the pull would still let it lift."""
    while move(recipe.valve, recipe.rig, plan(recipe)).openings:
        recipe = replace(recipe, short=recipe.short + 0.01)
    return recipe
