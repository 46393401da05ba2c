"""A zero that creeps: how fast, where the slack of the record proves that it does so steadily."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from firstlift.core.recording import Floats
from firstlift.core.signal.condition import Signal
from firstlift.core.signal.straight import fit_straight

# slack before and after a pull creeps steadily where both go on as fast as the zero moved between them, this share of
# that apart beside their own uncertainty
_STEADY = 0.3
# a rate is known where its standard uncertainty is at most this share of it
_KNOWN = 0.25


@dataclass(frozen=True, slots=True)
class Creep:
    """A zero that creeps steadily: the middle of the slack it is counted from, and its rate with its uncertainty."""

    from_s: float
    rate_n_per_s: float
    u_rate_n_per_s: float


def creep_of_pull(force: Signal, quiet: tuple[float, float], later: tuple[float, float]) -> Creep | None:
    """Give the creep of a zero that moves on before and after a pull as fast as it moved between them.

    Parameters
    ----------
    force : Signal
    quiet, later : (from, to), [s]
        Slack before and after the pull.

    Returns
    -------
    Creep or None
        None where the slack proves no steady creep.
    """
    sides = [_sloping(force, *stretch) for stretch in (quiet, later)]
    if any(side is None for side in sides):
        return None
    (at, level, rate, u_rate), (then, moved, rate_then, u_then) = (side for side in sides if side is not None)
    between = (moved - level) / (then - at)
    rates = np.array([rate, rate_then])
    own = np.array([u_rate, u_then])
    apart = np.abs(rates - between)
    if bool((own > _KNOWN * abs(between)).any() or (apart > _STEADY * abs(between) + 2.0 * own).any()):
        return None
    # it may have gone on at either side's rate for as long as to first lift
    return Creep(at, between, float(np.hypot(apart.max() / math.sqrt(3.0), own.max())))


def creep_of_record(force: Signal, rests: Sequence[tuple[float, float]]) -> tuple[Floats, float] | None:
    """Give the creep of a zero that rises from each slack to the next, and within them, as one line does.

    Many slacks together prove what each is too short or too noisy to prove alone.

    Parameters
    ----------
    force : Signal
    rests : sequence of (from, to), [s]
        Slack before, between and after the pulls, two or more.

    Returns
    -------
    rate_n_per_s : ndarray (rests - 1,)
        From each slack to the next.
    u_rate_n_per_s : float
        Standard uncertainty of each. None instead where the slacks prove no steady creep.
    """
    seen = [_sloping(force, *rest) for rest in rests]
    if any(one is None for one in seen):
        return None
    at, level, rate, u_rate = np.array([one for one in seen if one is not None]).T
    between = np.diff(level) / np.diff(at)
    whole = float((level[-1] - level[0]) / (at[-1] - at[0]))
    weight = 1.0 / np.square(u_rate)
    within, u_within = float(weight @ rate / weight.sum()), float(1.0 / np.sqrt(weight.sum()))
    apart = max(float(np.abs(between - whole).max()), abs(within - whole) - 2.0 * u_within)
    if u_within > _KNOWN * abs(whole) or apart > _STEADY * abs(whole):
        return None
    return between, math.hypot(max(apart, abs(within - whole)) / math.sqrt(3.0), u_within)


def _sloping(force: Signal, start: float, stop: float) -> tuple[float, float, float, float] | None:
    """Give middle [s], level [N], rate [N/s] and its standard uncertainty of a stretch of slack."""
    part = force.between(start, stop)
    if part.stop - part.start < 60:
        return None
    # slow wander counts fully: the scatter of twenty sub-means about their line
    time_s, value = (
        np.array([piece.mean() for piece in np.array_split(each[part], 20)]) for each in (force.time_s, force.value)
    )
    rate, level = fit_straight(time_s, value)
    away = time_s - time_s.mean()
    rest = value - level - rate * time_s
    scatter = max(math.sqrt(float(rest @ rest) / 18.0), force.noise / math.sqrt((part.stop - part.start) / 20.0))
    return float(time_s.mean()), float(value.mean()), rate, scatter / math.sqrt(float(away @ away))
