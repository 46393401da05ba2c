"""Force, lift and sound together: the joint density of first lift, and the pull force at the moment."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from firstlift.core.lift.before import gives_way, rate_before
from firstlift.core.lift.choose import ChannelDensity
from firstlift.core.lift.drop import sharp_drop
from firstlift.core.lift.heard import Heard, coarsest_step
from firstlift.core.lift.lag import LONGEST_LAG_S, allow_for_lag
from firstlift.core.lift.level import level_before
from firstlift.core.lift.place import Place
from firstlift.core.lift.search import in_parts, search
from firstlift.core.recording import Floats
from firstlift.core.signal.condition import Signals


@dataclass(frozen=True, slots=True, eq=False)
class Joint:
    """What all channels say together, over the candidate instants (g,).

    ``probability`` sums to one. ``force_n`` and ``u_force_n`` are the pull force at each candidate, tare not
    yet taken off, given that first lift was then.
    """

    time_s: Floats
    probability: Floats
    channels: tuple[ChannelDensity, ...]
    force_n: Floats
    u_force_n: Floats

    @property
    def mean_s(self) -> float:
        """First lift, [s]."""
        return float(self.probability @ self.time_s)

    @property
    def spread_s(self) -> float:
        """Its standard uncertainty, [s]."""
        return float(np.sqrt(self.probability @ np.square(self.time_s - self.mean_s)))


def fuse(signals: Signals, place: Place, *, use: tuple[bool, bool, bool] = (True, True, True)) -> Joint | None:
    """Estimate first lift from force, lift and sound together.

    Parameters
    ----------
    signals : Signals
    place : Place
    use : tuple of bool
        Whether force, lift and sound may speak.

    Returns
    -------
    Joint or None
        None where no channel has enough samples around the place.
    """
    near = search(signals, place, (place.low_s, place.high_s), use)
    if near is None:
        return None
    if near.unfitted > 1 and not near.settled(place.start_s):
        near = in_parts(signals, place, use) or near
    if near.doubtful(place.start_s) and place.limit_s > place.high_s + coarsest_step(signals):
        # a tilted seat gives way long before the disc is free: what was bracketed may be its beginning
        ahead = search(signals, place, (0.5 * (place.low_s + place.high_s), place.limit_s), use)
        if ahead is not None and ahead.beats(near, place.start_s):
            near = ahead
    force_n, u_force_n = near.force_n, near.u_force_n
    if place.sticks and signals.force is not None:
        # what sticks is at rest until it lets go, then moves at once; the force swings too fast for a curve
        reach = 0.2 * (place.top_s - place.low_s)
        swing = level_before(signals.force, near.time_s, near.mean_s, longest_s=reach)
        return Joint(near.time_s, near.probability, near.channels, *swing)
    at_peak = _before_fall(signals, place, near, force_n) or _at_drop(signals, place, near)
    if at_peak is not None:
        return at_peak
    if gives_way(near.force):
        return Joint(near.time_s, near.probability, near.channels, force_n, u_force_n)
    moved = allow_for_lag(near.time_s, near.probability, force_n, u_force_n, rate_before(near.force))
    return Joint(moved[0], moved[1], near.channels, moved[2], moved[3])


def _before_fall(signals: Signals, place: Place, near: Heard, force_n: Floats) -> Joint | None:
    """Put first lift at the force's peak where all channels together lie in its fall: a disc that snaps open.

    The force falls by most of itself within milliseconds then, and no curve fits more than a part of the fall. Where
    the joint estimate's force lies below what the pull had reached by more than a twentieth, the disc had left before:
    at the peak, or so long before it as a disc may lag.
    """
    force, record = signals.force, place.record
    if force is None or record is None:
        return None
    reached = float(np.interp(near.mean_s, record.time_s, record.peak_n))
    short = reached - float(near.probability @ force_n)
    if short < max(0.05 * (reached - float(record.force_n[0])), 10.0 * record.tolerance_n):
        return None
    part = force.part(place.start_s, near.mean_s)
    if part.value.size < 16:
        return None
    means = np.convolve(part.value, np.ones(4) / 4.0, mode="valid")
    peak_s = float(part.time_s[int(np.argmax(means)) + 3])
    time_s = np.linspace(peak_s - 2.0 * LONGEST_LAG_S, peak_s + 0.5 * LONGEST_LAG_S, near.time_s.size)
    away = (time_s - (peak_s - 0.5 * LONGEST_LAG_S)) / max(0.5 * LONGEST_LAG_S, force.step_s)
    probability = np.exp(-0.5 * np.square(away))
    swing = level_before(force, time_s, peak_s, longest_s=0.2 * (peak_s - place.start_s))
    return Joint(time_s, probability / probability.sum(), near.channels, *swing)


def _at_drop(signals: Signals, place: Place, near: Heard) -> Joint | None:
    """Put first lift where the force drops at once from the most it has been, and the valve is heard from then on.

    A disc that snaps, or that sticks and lets go between the strokes of a pump, makes a force that no curve fits: only
    then is this asked. Where the channels have settled on a moment, a drop elsewhere is another one.
    """
    if signals.force is None or near.force.fitted:
        return None
    drop_s, step_s = sharp_drop(signals, place), signals.force.step_s
    if drop_s is None:
        return None
    if near.settled(place.start_s) and abs(drop_s - near.mean_s) > 4.0 * (near.spread_s + step_s):
        return None
    time_s = np.linspace(drop_s - 12.0 * step_s, drop_s + 4.0 * step_s, near.time_s.size)
    probability = np.exp(-0.5 * np.square((time_s - drop_s + step_s) / (1.5 * step_s)))
    swing = level_before(signals.force, time_s, drop_s, longest_s=0.2 * (drop_s - place.start_s))
    return Joint(time_s, probability / probability.sum(), near.channels, *swing)
