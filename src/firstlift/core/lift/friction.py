"""Friction, from the loop that force draws over lift: what a rising disc needs more than one that comes down.

At one and the same lift spring and fluid push the disc alike whichever way it moves; friction works against either.
So half the distance of the two branches is the friction, wherever on them it is read. The moment of closure, which a
disc let down fast passes within milliseconds, need not be known.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from firstlift.core.lift.onset import Loading, block_means
from firstlift.core.recording import Floats
from firstlift.core.signal.condition import Signal, Signals

# lifts, as shares of the largest, between which the branches are compared: below lies the seat, which gives way while
# it still carries; above the drive turns round, and what is elastic in it relaxes
_LOW, _HIGH, _BINS = 0.15, 0.6, 12
# so many of them must have been passed both ways, on a way of so many standard deviations of a lift reading
_FEWEST, _SEEN = 4, 20.0
_BLOCKS = (40, 4000)
# a disc that rises through the whole stretch in less than this jumps: the force is not in balance with it
_JUMP_S = 0.1
# a line pressure that differs by more than this share between the branches moves them apart by itself
_STEADY = 0.003
# it is read at some so many instants of each branch: enough for a mean
_READ = 200


def friction_of_loop(signals: Signals, loading: Loading, first_lift_s: float, closure_s: float) -> float | None:
    """Read the friction off the loop of one pull.

    Parameters
    ----------
    signals : Signals
    loading : Loading
    first_lift_s, closure_s : float, [s]

    Returns
    -------
    float or None, [N]
        None without a lift reading, where too little of the way was passed both up and down or the disc jumped, and
        where the line pressure was another one on the way down.

    Notes
    -----
    Damping of the motion and side load count as friction: in simulation without any, pulls read 1 % of the opening
    force in the median, slanted ones up to 4.3 %.
    """
    lift, force = signals.lift, signals.force
    if lift is None or force is None or closure_s <= first_lift_s:
        return None
    step_s = max(lift.step_s, force.step_s)
    edges = np.linspace(first_lift_s, closure_s, int(np.clip((closure_s - first_lift_s) / step_s / 2.0, *_BLOCKS)))
    moved, pulled = block_means(lift, edges)[0], block_means(force, edges)[0]
    known = np.isfinite(moved) & np.isfinite(pulled)
    if np.count_nonzero(known) < 2 * _BINS:
        return None
    # the disc's own way: what spindle and frame stretch is taken off
    disc, pulled, at_s = (
        moved[known] - max(loading.stiff_m_per_n, 0.0) * pulled[known],
        pulled[known],
        edges[:-1][known],
    )
    top = int(np.argmax(disc))
    end = max(1, disc.size // 40)
    ground = min(float(disc[:end].mean()), float(disc[-end:].mean()))
    way = float(disc[top]) - ground
    if way < _SEEN * lift.noise:
        return None
    place = np.floor(((disc - ground) / way - _LOW) / (_HIGH - _LOW) * _BINS).astype(np.intp)
    up, down = _branch(place[: top + 1], pulled[: top + 1]), _branch(place[top:], pulled[top:])
    both = np.isfinite(up) & np.isfinite(down)
    inside = (place >= 0) & (place < _BINS)
    jumps = np.count_nonzero(inside[:top]) * float(edges[1] - edges[0]) < _JUMP_S
    if np.count_nonzero(both) < _FEWEST or jumps or not _steady(signals.pressure, at_s, inside, top):
        return None
    # where the disc jumps a part of the way the branches lie further apart there: a low quartile leaves that out
    return 0.5 * float(np.quantile(up[both] - down[both], 0.25))


def _branch(place: NDArray[np.intp], force: Floats) -> Floats:
    """Average the force of one branch within each stretch of lift; NaN where the disc was not seen there."""
    inside = (place >= 0) & (place < _BINS)
    count = np.bincount(place[inside], minlength=_BINS)
    total = np.bincount(place[inside], weights=force[inside], minlength=_BINS)
    return np.where(count > 0, total / np.maximum(count, 1), np.nan)


def _steady(pressure: Signal | None, at_s: Floats, inside: NDArray[np.bool_], top: int) -> bool:
    """Say whether the line pressure was the same on both branches."""
    if pressure is None:
        return True
    up_s, down_s = at_s[: top + 1][inside[: top + 1]], at_s[top:][inside[top:]]
    if up_s.size == 0 or down_s.size == 0:
        return False
    up, down = (
        float(np.interp(each[:: max(1, each.size // _READ)], pressure.time_s, pressure.value).mean())
        for each in (up_s, down_s)
    )
    return abs(down - up) <= _STEADY * abs(up)
