"""The line pressure at the moment of first lift, and how well it can be read off."""

from __future__ import annotations

import math

import numpy as np

from firstlift.core.job import Job
from firstlift.core.lift.level import level_at
from firstlift.core.recording import Floats
from firstlift.core.signal.condition import Signal, Signals
from firstlift.core.signal.noise import resolution

# it is read over no more than so long on either side of the moment
_REACH_S = 0.5


def line_pressure(signals: Signals, job: Job, time_s: Floats) -> tuple[Floats, Floats]:
    """Give line pressure at candidate instants with the uncertainty of reading it off, [Pa gauge].

    Parameters
    ----------
    signals : Signals
    job : Job
    time_s : ndarray (g,), [s]

    Returns
    -------
    value, standard_uncertainty : ndarray (g,), [Pa]
        A pressure entered by hand has no reading uncertainty here; its stated one is a budget line.
    """
    if signals.pressure is None:
        entered = job.visit.line_pressure_pa if job.visit.line_pressure_pa is not None else math.nan
        return np.full(time_s.size, entered), np.zeros(time_s.size)
    # from ten samples to half a second: a ripple's period is respected by the choice itself
    value, u = level_at(signals.pressure, time_s, shortest_s=10.0 * signals.pressure.step_s, longest_s=_REACH_S)
    return value, np.hypot(u, _undithered(signals.pressure, float(np.median(time_s))))


def _undithered(pressure: Signal, at_s: float) -> float:
    """Give the standard uncertainty of a reading that moves by whole steps of its converter, [Pa].

    Where noise or line are larger than the step, its average resolves far less than a step. Where they are not, every
    sample stands at the same step, and averaging gains nothing (rectangular: JCGM 100:2008, F.2.2.1).
    """
    near = pressure.value[pressure.between(at_s - _REACH_S, at_s + _REACH_S)]
    if near.size < 10:
        return 0.0
    step = resolution(pressure.value)
    return step / math.sqrt(12.0) if float(np.std(near)) < 0.5 * step else 0.0
