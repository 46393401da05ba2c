"""Lifted or not: what must be true together before anyone may speak of first lift.

One channel alone can lie: a clamp that yields moves the lift sensor, a simmering seat or a burst makes sound,
an operator who stops pumping bends the force. A disc that leaves its seat does all of it at one moment, and
the soft line goes on as long as loading goes on.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from firstlift.core.lift.fuse import Joint
from firstlift.core.lift.onset import Loading
from firstlift.core.signal.ranks import median

# departures and growth in units of block noise: six is passed by chance by one block in 10^9
AWAY = 6.0


@dataclass(frozen=True, slots=True)
class Signs:
    """What each channel shows at the candidate moment.

    ``lift`` / ``sound`` / ``force``: True it shows a lift there, False it works and shows none, None it is
    missing or dead. ``persists``: the lift keeps growing while loading goes on. ``returns_stiff``: after a
    jump the stiff line went on, as when a clamp yields. ``roars``: the sound goes on growing far beyond what it
    is at the moment, as flow does with lift; a simmering seat hisses on at one level.
    """

    lift: bool | None
    sound: bool | None
    force: bool | None
    persists: bool
    returns_stiff: bool
    roars: bool


def read_signs(loading: Loading, joint: Joint) -> Signs:
    """Read what each channel shows around the joint estimate.

    Parameters
    ----------
    loading : Loading
    joint : Joint

    Returns
    -------
    Signs
    """
    at = joint.mean_s
    after = loading.time_s > at + 2.0 * joint.spread_s
    lift = _shows(loading.lift_left, after)
    sound = _shows(loading.sound_left, after)
    persists, returns = _persistence(loading, at)
    force = next((c for c in joint.channels if c.name == "pull force"), None)
    bends = (
        None
        if force is None
        else bool(
            force.gain_sigmas > 5.0 and abs(force.mean_s - at) < 6.0 * np.hypot(force.spread_s, joint.spread_s) + 1e-9
        )
    )
    return Signs(lift, sound, bends, persists, returns, _roars(loading, joint))


def _roars(loading: Loading, joint: Joint) -> bool:
    left = loading.sound_left
    if left is None:
        return False
    now = float(np.interp(joint.mean_s + 2.0 * joint.spread_s, loading.time_s, left))
    return bool(left.max() > 4.0 * max(now, AWAY))


def _shows(left: np.ndarray | None, after: np.ndarray) -> bool | None:
    if left is None:
        return None
    if after.sum() < 2:
        return bool(left[-1] > 2.0 * AWAY)
    return bool(median(left[after]) > AWAY and left.max() > 2.0 * AWAY)


def _persistence(loading: Loading, at: float) -> tuple[bool, bool]:
    left = loading.lift_left
    if left is None:
        return False, False
    after = np.flatnonzero(loading.time_s > at)
    if after.size < 6:
        return False, False
    third = after.size // 3
    early, late = left[after[: third + 1]], left[after[-third - 1 :]]
    last = median(late)
    growth = last - median(early)
    total = last - median(left[: max(3, after[0])])
    persists = growth > 4.0 and growth > 0.15 * total
    # the stiff line goes on: force still rises by much while the lift left over stands still
    rise = float(loading.force[after[-1]] - loading.force[after[min(2, after.size - 1)]])
    returns = not persists and rise > 10.0 * loading.force_noise and rise > 0.03 * float(loading.force.max())
    return persists, returns


def lifted(signs: Signs) -> tuple[bool, str | None]:
    """Decide whether the disc lifted.

    Parameters
    ----------
    signs : Signs

    Returns
    -------
    lifted : bool
    finding : str or None
        Code of the finding that the decision rests on, where a channel failed or contradicts.
    """
    lift, sound, force = signs.lift, signs.sound, signs.force
    if lift and sound:
        return (False, "channels-disagree") if signs.returns_stiff else (True, None)
    if lift and not sound:
        real = bool(force) and signs.persists
        if sound is None:
            return real, None
        return real, "acoustic-signal-lost" if real else "frame-slip"
    if sound and lift is None:
        return bool(force) and signs.roars, None
    # a lift sensor that follows the force and shows no lift is believed: what sounds is a simmer or a burst
    return False, None
