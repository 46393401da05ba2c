"""A valve, a seat and one pull whose numbers are chosen by hand; short simulated recordings, each analysed once."""

import datetime as dt
import functools
from dataclasses import replace
from types import SimpleNamespace

import numpy as np
import pytest

from firstlift.core.analysis import analyse
from firstlift.core.job import ChannelSpec, Job, Measures, Purpose, RecordingSpec, Rules, Visit
from firstlift.core.lift.find import PullFind
from firstlift.core.lift.fuse import Joint
from firstlift.core.result import PullOutcome, Signature
from firstlift.core.signal.condition import Signal, Signals
from firstlift.core.signal.pulls import PullWindow
from firstlift.core.units import Kind, parse_quantity
from firstlift.core.valve import Medium, Seat, Valve, circle_area_m2
from firstlift.sim.recipe import cook, draw_recipe
from firstlift.usecases.analyse import limits_of, worded

AREA = circle_area_m2(0.030)
STEP = 0.01
AT = 3.0


def signal(name, measures, values, sigma=0.0):
    time_s = np.arange(values.size) * STEP
    return Signal(name, measures, time_s, values, np.full(values.size, sigma), STEP)


def cell_spec(name, **known):
    return ChannelSpec(name, Measures.PULL_FORCE, "N", **known)


def make_job(cells=(), *, valve=None, seat=None, gauge=None, purpose=Purpose.AS_FOUND, **changes):
    plain = Valve("PSV-1", "S-1", parse_quantity("10 bar", Kind.PRESSURE), Medium.GAS)
    gauge = gauge or ChannelSpec("line", Measures.LINE_PRESSURE, "Pa", relative_standard_uncertainty=0.002)
    return Job(
        visit=Visit(dt.date(2026, 5, 4), purpose),
        valve=replace(plain, **(valve or {})),
        seat=seat or Seat(AREA, 0.0, 0.0, "measured", "mean diameter 30 mm"),
        rules=Rules("iso-4126-1"),
        recording=RecordingSpec("recording.csv", time_column="time_s"),
        channels=(*cells, gauge),
        **changes,
    )


def make_pull(loads, *, line_pa=8e5, u_force_n=2.0, u_tare_n=0.5, offset_n=40.0, specs=None, zero_shift_n=None):
    """One pull that carries given loads on its cells at 3 s, at a steady line pressure, all without noise."""
    specs = specs or tuple(cell_spec(f"cell {i + 1}", relative_standard_uncertainty=0.002) for i in range(len(loads)))
    count = 600
    rise = np.clip((np.arange(count) * STEP - 2.0) / 0.5, 0.0, 1.0)
    cells = tuple(
        signal(spec.column, Measures.PULL_FORCE, offset_n + load * rise)
        for spec, load in zip(specs, loads, strict=True)
    )
    total = sum(cell.value for cell in cells)
    signals = Signals(
        force=signal("pull force", Measures.PULL_FORCE, total),
        cells=cells,
        cell_specs=specs,
        pressure=signal("line", Measures.LINE_PRESSURE, np.full(count, line_pa)),
        lift=None,
        sound=None,
        back_pressure=None,
        saturated_at_n=None,
    )
    tare = offset_n * len(loads)
    window = PullWindow(1, 2.0, AT, 5.99, 0.5, tare, u_tare_n, zero_shift_n, True)
    joint = Joint(np.array([AT]), np.array([1.0]), (), np.array([tare + sum(loads)]), np.array([u_force_n]))
    find = PullFind(window, PullOutcome.MEASURED, joint, 5.0, False, (), (), Signature(), ())
    return SimpleNamespace(signals=signals, find=find, window=window, specs=specs)


@pytest.fixture
def by_hand():
    """Builders of a job and a pull with chosen numbers."""
    return SimpleNamespace(job=make_job, pull=make_pull, cell=cell_spec, signal=signal, area=AREA, at=AT, step=STEP)


def run(test, **changes):
    """Analyse a simulated test, its job changed at wish."""
    job = replace(test.job, **changes)
    return analyse(test.recording, job, limits_of(job), worded(job)).result


@functools.cache
def simulated(seed=3, pulls=2, rate_hz=200.0, **parts):
    """A short plain test; ``parts`` are values of the valve or of the recipe."""
    rng = np.random.default_rng(seed)
    recipe = draw_recipe(rng)
    valve = {name: value for name, value in parts.items() if hasattr(recipe.valve, name)}
    other = {name: value for name, value in parts.items() if name not in valve}
    recipe = replace(
        recipe,
        **{"pulls": pulls, "rise_s": 1.5, "lead_s": 2.5, "rest_s": 2.5, **other},
        valve=replace(recipe.valve, **valve),
        instruments=replace(recipe.instruments, rate_hz=rate_hz),
    )
    return cook(recipe, rng, "short")


@pytest.fixture
def short():
    """Make a short simulated test."""
    return simulated


@pytest.fixture
def result_of():
    """Analyse a simulated test."""
    return run


@pytest.fixture(scope="session")
def clean():
    """A plain test with two pulls, and its result."""
    test = simulated()
    return test, run(test)
