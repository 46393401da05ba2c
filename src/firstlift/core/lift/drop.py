"""Where the force drops at once from the most it has been: a disc that stuck and let go."""

from __future__ import annotations

import numpy as np

from firstlift.core.lift.place import Place
from firstlift.core.recording import Floats
from firstlift.core.signal.condition import Signal, Signals

# samples before and after the drop that are compared, fewest first
_SAMPLES = (4, 8, 16)
# the drop in standard deviations of the two means (by chance in one of 10^12 places), and how far below the most the
# force has been it may begin
_PLAIN, _BELOW = 7.0, 3.0
# less than this share of the pull is no disc letting go
_SMALLEST = 0.008
# what is heard, or moves, from then on: standard deviations of the means compared
_HEARD = 5.0


def sharp_drop(signals: Signals, place: Place) -> float | None:
    """Find the first sharp drop of the force from the most it has been, with sound (without it: lift) from then on.

    A frame that slips lets the force drop as well, but nothing is heard.

    Parameters
    ----------
    signals : Signals
    place : Place

    Returns
    -------
    float or None, [s]
        Time of the last sample before the drop.
    """
    force, witness = signals.force, signals.sound or signals.lift
    if force is None or witness is None:
        return None
    part = force.part(place.start_s, min(place.limit_s + 0.1 * (place.limit_s - place.start_s), place.top_s))
    if part.value.size < 4 * _SAMPLES[-1]:
        return None
    for count in _SAMPLES:
        at = _drop(part, count, place.floor_s)
        if at is not None and _heard(witness, at, max(2.0 * count * force.step_s, 0.01)):
            return at
    return None


def _drop(force: Signal, count: int, floor_s: float) -> float | None:
    means = _means(force.value, count)
    before, after = means[:-count], means[count:]
    sigma = force.noise / np.sqrt(count)
    most = np.maximum.accumulate(before)
    drop = before - after
    least = max(_PLAIN * np.sqrt(2.0) * sigma, _SMALLEST * float(most[-1] - before[0]))
    ends = force.time_s[count - 1 : count - 1 + before.size]
    found = np.flatnonzero((drop > least) & (before > most - _BELOW * sigma) & (ends >= floor_s))
    if found.size == 0:
        return None
    # the drop is seen as soon as some of it lies in the mean after: it begins where the mean before is largest
    first = max(int(found[0]) - count, 0)
    return float(ends[first + int(np.argmax(before[first : first + 3 * count]))])


def _heard(witness: Signal, at_s: float, reach_s: float) -> bool:
    """Say whether a channel stands higher from a moment on than before it."""
    reach = max(reach_s, 4.0 * witness.step_s)
    before, after = (
        witness.value[witness.between(low, high)]
        for low, high in ((at_s - 3.0 * reach, at_s - reach), (at_s + reach, at_s + 3.0 * reach))
    )
    if min(before.size, after.size) < 3:
        return False
    rise = float(after.mean() - before.mean())
    scatter = max(float(before.std()), witness.noise)
    return rise > _HEARD * scatter * float(np.sqrt(1.0 / before.size + 1.0 / after.size))


def _means(values: Floats, count: int) -> Floats:
    """Average so many neighbours."""
    total = np.cumsum(np.concatenate(([0.0], values - values[0])))
    return values[0] + (total[count:] - total[:-count]) / count
