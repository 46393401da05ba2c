"""A recipe draws the parts of a simulated test together, so that pull, valve and instruments fit one another."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.random import Generator

from firstlift.core.valve import Medium, circle_area_m2
from firstlift.sim.drive import end_s
from firstlift.sim.model import (
    Disturbances,
    Instrumentation,
    LineModel,
    Pull,
    PullProgram,
    RigModel,
    SensorModel,
    SimulatedTest,
    ValveModel,
)
from firstlift.sim.simulate import simulate


@dataclass(frozen=True, slots=True)
class Recipe:
    """The parts, and how the pulls are to go: ``short`` above 0 stops them that share short of first lift."""

    valve: ValveModel
    rig: RigModel
    line: LineModel
    instruments: Instrumentation
    faults: Disturbances
    stamped_bar: float
    pulls: int = 3
    rise_s: float = 2.0
    lift_m: float = 300e-6
    short: float = 0.0
    lead_s: float = 4.0
    rest_s: float = 4.0
    hold_s: float = 0.4
    release_m_s: float = 6e-4
    strokes_s: float = 0.0
    stroke_share: float = 0.55
    record_from_s: float = 0.0
    step_s: float = 1e-3

    @property
    def need_n(self) -> float:
        """Pull at first lift from the mean line pressure, without friction and bond, [N]."""
        return self.valve.closing_load_at_test_n - self.line.pressure_pa * self.valve.area_m2


def draw_recipe(rng: Generator, medium: Medium = Medium.GAS) -> Recipe:
    """Draw a plain test: nothing hard about it.

    Seat 15 to 60 mm, stamped 3 to 60 bar, the true set pressure up to 4 % off it, line 60 to 92 % of it;
    errors of cells, gauge and seat follow the standard uncertainties that the job sheet will state.

    Parameters
    ----------
    rng : Generator
    medium : Medium

    Returns
    -------
    Recipe
    """
    while True:
        stamped_bar = round(float(np.exp(rng.uniform(np.log(3.0), np.log(60.0)))), 1)
        stated_m = round(float(rng.uniform(0.015, 0.060)), 4)
        true_pa = stamped_bar * 1e5 * (1.0 + rng.uniform(-0.04, 0.04))
        share = rng.uniform(0.60, 0.92)
        need = (1.0 - share) * true_pa * circle_area_m2(stated_m)
        if 100.0 <= need <= 6000.0:  # below, the cells' noise would drown the pull: other cells would be fitted
            break
    u_m = 0.0015 * stated_m
    diameter = stated_m + u_m * rng.standard_normal()
    valve = draw_valve(rng, medium, true_pa, float(diameter), need)
    waves = tuple((rng.uniform(1.5e-4, 5e-4), rng.uniform(0.3, 3.0), rng.uniform(0, 6.28)) for _ in range(3))
    return Recipe(
        valve=valve,
        rig=RigModel(stiffness_n_m=need / rng.uniform(50e-6, 100e-6)),
        line=LineModel(share * true_pa, drift_per_s=rng.uniform(-2e-5, 2e-5), waves=waves),
        instruments=replace(draw_instruments(rng), stated_diameter_m=stated_m, u_diameter_m=u_m),
        faults=Disturbances(),
        stamped_bar=stamped_bar,
        pulls=int(rng.integers(2, 4)),
        rise_s=float(rng.uniform(1.0, 4.0)),
        lift_m=float(rng.uniform(200e-6, 400e-6)),
        lead_s=float(rng.uniform(3.0, 5.0)),
        rest_s=float(rng.uniform(3.0, 5.0)),
        release_m_s=float(rng.uniform(4e-4, 1e-3)),
    )


def draw_valve(rng: Generator, medium: Medium, set_pa: float, diameter_m: float, need_n: float) -> ValveModel:
    """Draw a valve that closes again: the fluid takes over part of the pull only.

    Parameters
    ----------
    rng : Generator
    medium : Medium
    set_pa : float, [Pa gauge]
    diameter_m : float, [m]
    need_n : float, [N]
        Pull at first lift.

    Returns
    -------
    ValveModel
    """
    preload = set_pa * circle_area_m2(diameter_m)
    # share of the pull that the fluid takes over, turned into a share of p A
    part = need_n / max(preload - need_n, 1.0)
    early, early_m, travel_m = rng.uniform(0.3, 0.7), rng.uniform(100e-6, 250e-6), rng.uniform(9e-3, 18e-3)
    if medium is Medium.LIQUID:
        early, early_m, travel_m = rng.uniform(0.05, 0.2), rng.uniform(0.6e-3, 1.2e-3), rng.uniform(6e-3, 10e-3)
    # a spring whose force over 300 um stays below the pull, as the plain run is meant to need no more than that
    rate = min(preload / travel_m, 1.2 * need_n / 300e-6)
    return ValveModel(
        set_pressure_pa=float(set_pa),
        seat_diameter_m=diameter_m,
        medium=medium,
        spring_rate_n_m=float(rate),
        seat_stiffness_n_m=float(need_n / rng.uniform(3e-6, 12e-6)),
        early=float(early * part),
        early_m=float(early_m),
        leak_load_n=float(need_n * rng.uniform(0.02, 0.06)),
        leak_v=float(rng.uniform(1e-3, 2e-3)),
        flow_v_m=float(rng.uniform(200.0, 400.0)) * (0.5 if medium is Medium.LIQUID else 1.0),
        flow_reference_pa=float(set_pa),
        max_lift_m=float(rng.uniform(1.0e-3, 1.5e-3)),
        damping_n_s_m=float(need_n * rng.uniform(12.0, 35.0)),
    )


def draw_instruments(rng: Generator, cells: int | None = None) -> Instrumentation:
    """Draw the sensors with errors that follow what the job sheet states of them.

    Parameters
    ----------
    rng : Generator
    cells : int, optional
        Number of force cells; 1 to 3 if not given.

    Returns
    -------
    Instrumentation
    """
    count = int(rng.integers(1, 4)) if cells is None else cells
    noise = float(rng.uniform(3.0, 6.0)) / np.sqrt(count)
    fitted = tuple(
        SensorModel(
            f"cell {index + 1}", "kN", relative_u=0.002, u=1.0,
            gain_error=0.002 * rng.standard_normal(), zero_error=1.0 * rng.standard_normal(),
            offset=rng.uniform(-120.0, 120.0), share=1.0 / count, noise=float(noise), resolution=0.5,
        )
        for index in range(count)
    )  # fmt: skip
    return Instrumentation(
        cells=fitted,
        gauge=SensorModel(
            "line", "bar", relative_u=0.002, gain_error=0.002 * rng.standard_normal(), noise=7e-4, resolution=10.0
        ),
        lift=SensorModel("lift", "mm", gain_error=0.005 * rng.standard_normal(), noise=1e-6, resolution=0.25e-6),
        sound=SensorModel("acoustic", "mV", offset=1e-3, noise=0.07),
    )


def _travel_m(recipe: Recipe, pull_n: float) -> float:
    """Way of the drive to a pull while closed: gear, seat, and what gives way."""
    valve, rig = recipe.valve, recipe.rig
    rest = max(recipe.need_n, 0.0)
    left = max(rest - pull_n, 0.0)
    seat = min(pull_n, rest) / valve.seat_stiffness_n_m
    seat += valve.tilt_m * (np.exp(-left / valve.tilt_load_n) - np.exp(-rest / valve.tilt_load_n))
    lost = rig.play_m * (1.0 - np.exp(-pull_n / rig.play_load_n))
    lost += rig.yield_m * (1.0 - np.exp(-pull_n / rig.yield_load_n))
    lost += sum(step for force, step in rig.settlings if pull_n >= force)
    tension = pull_n + rig.weight_on_spindle_n
    return float(tension / rig.stiffness_n_m + seat + lost + rig.slack_m)


def plan(recipe: Recipe) -> PullProgram:
    """Plan pulls that reach first lift after ``rise_s`` and go on to ``lift_m``, or stop short of it.

    Parameters
    ----------
    recipe : Recipe

    Returns
    -------
    PullProgram
    """
    valve, pulls, start = recipe.valve, [], recipe.lead_s
    swing = sum(wave[0] for wave in recipe.line.waves)
    for index in range(recipe.pulls):
        need = recipe.need_n + max(valve.friction_n, valve.static_friction_n) + (valve.bond_n if index == 0 else 0.0)
        need *= 1.0 + recipe.rig.side_friction_ratio
        way = _travel_m(recipe, need)
        speed = way / recipe.rise_s
        top = way + max(min(recipe.lift_m, speed * 8.0), 60e-6)
        if recipe.short > 0.0:
            top = _travel_m(recipe, (need - swing * recipe.line.pressure_pa * valve.area_m2) * (1.0 - recipe.short))
        soft = min(0.1, recipe.rise_s / 5.0)
        pull = Pull(start, speed, top, recipe.hold_s, recipe.release_m_s, recipe.strokes_s, recipe.stroke_share, soft)
        pulls.append(pull)
        start = end_s(pull) + recipe.rest_s
    return PullProgram(recipe.line, tuple(pulls), start, recipe.record_from_s, recipe.step_s)


def cook(recipe: Recipe, rng: Generator, name: str) -> SimulatedTest:
    """Simulate a recipe.

    Parameters
    ----------
    recipe : Recipe
    rng : Generator
    name : str

    Returns
    -------
    SimulatedTest
    """
    return simulate(
        recipe.valve, recipe.rig, plan(recipe), recipe.instruments, recipe.faults, rng,
        name=name, stamped_bar=recipe.stamped_bar,
    )  # fmt: skip
