"""Where one curve breaks most plainly: a coarse search over every place and many lengths.

The place is the join that the whole curve, laid out in straight stretches, can spare least. Around it two
straight lines of all lengths, one on either side: where they cross, how sharply (delta method), how far the
crossings of other lengths lie apart, and what noise the lines leave. Nothing here is the estimate: it hands a
place, the noise on either side and the doubts about the place to `pick`.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from firstlift.core.lift.lines import FEWEST, Sums, lengths_within, running
from firstlift.core.recording import Floats

# what a change of slope must be, in its own standard deviations: some thousand places and lengths to find one by chance
_LEAST_SIGMAS = 6.0
# breaks alike: a stop or a first lift changes the slope tenfold or more, what bends a curve otherwise far less
_ALIKE = 4.0
# a mean of some neighbours this many of its standard deviations off a line is off it
_OFF = 4.0


@dataclass(frozen=True, slots=True)
class Break:
    """A place, the samples beside it and the lengths over which it shows best.

    ``low`` is the last sample before, ``low + 1`` the first after; ``before`` and ``after`` are lengths in
    samples, ``noise_before`` and ``noise_after`` the white noise that would do the lines as much harm as what
    was left over does. ``slope_gain`` is the change of slope, ``sigmas`` in its own standard deviations.
    ``crossing`` is where the lines cross, ``spread`` its standard uncertainty, ``wander`` how far lines of other
    lengths cross from there: a gradual break lies elsewhere for every length. ``largest_gain``
    is the largest change of slope that any of them sees there.
    """

    low: int
    before: int
    after: int
    noise_before: float
    noise_after: float
    crossing: float
    spread: float
    slope_gain: float
    sigmas: float
    wander: float = 0.0
    largest_gain: float = 0.0


def strongest_break(x: Floats, y: Floats, noise: float, sign: float, *, earliest: bool = False) -> Break | None:
    """Find the break that the whole curve can spare least, and how sharply lines of all lengths place it.

    Parameters
    ----------
    x, y : ndarray (n,)
        x rises strictly.
    noise : float, unit of y
        Standard deviation of one reading, the least that can be left over.
    sign : float
        +1 where the slope must grow, -1 where it must fall, 0 for either.
    earliest : bool
        Of breaks alike (change of slope at least a quarter of the next one's) take the first.

    Returns
    -------
    Break or None
        None where no break stands out of the noise.
    """
    found = _strongest(x, y, noise, sign)
    while earliest and found is not None and found.low + 1 >= 2 * FEWEST:
        sooner = _strongest(x[: found.low + 1], y[: found.low + 1], noise, sign)
        if sooner is None or sooner.largest_gain * _ALIKE < found.largest_gain:
            break
        found = sooner
    return found


def _strongest(x: Floats, y: Floats, noise: float, sign: float) -> Break | None:
    sums = Sums(x, y, noise)
    place = _find_place(sums, x.size, sign)
    if place is None:
        return None
    seen: list[Break] = []
    for before in {*lengths_within(x.size), place}:
        for after in {*lengths_within(x.size), x.size - place}:
            # longer lines may miss the place by more
            reach = max(FEWEST, min(before, after) // 2)
            first = np.arange(max(place - reach, before), min(place + reach, x.size - after) + 1)
            found = _sharpest(sums, before, after, first, sign) if first.size else None
            if found is not None:
                seen.append(found)
    return _agree(seen, place) if seen else None


def _agree(seen: list[Break], place: int) -> Break:
    """Take the sharpest near the place; what comes near it says how large the noise is, all say how far they part."""
    close = [found for found in seen if abs(found.low + 1 - place) <= FEWEST] or seen
    # lines that see less than half of the change of slope lie on the bend itself
    most = max(abs(found.slope_gain) for found in close)
    close = [found for found in close if abs(found.slope_gain) >= 0.5 * most]
    best = min(close, key=lambda found: found.spread)
    near = [found for found in close if found.spread <= 2.0 * best.spread]
    weight = np.array([found.spread**-2.0 for found in seen])
    away = np.array([found.crossing - best.crossing for found in seen])
    return replace(
        best,
        noise_before=_root_mean([found.noise_before for found in near]),
        noise_after=_root_mean([found.noise_after for found in near]),
        largest_gain=max(abs(found.slope_gain) for found in seen),
        wander=float(np.sqrt(weight @ np.square(away) / weight.sum())),
    )


def _root_mean(values: list[float]) -> float:
    return float(np.sqrt(np.mean(np.square(values))))


def _sharpest(sums: Sums, before: int, after: int, first: NDArray[np.intp], sign: float) -> Break | None:
    """Give the break whose two lines cross most sharply, near where they are parted."""
    left, right = sums.line(before, first - before), sums.line(after, first)
    reach = max(FEWEST, min(before, after) // 2)
    gain = right.slope - left.slope
    sigmas = np.abs(gain) / np.sqrt(left.variance + right.variance)
    with np.errstate(divide="ignore", invalid="ignore"):
        crossing = (left.level - right.level) / gain
    near = (crossing >= sums.x[first - reach]) & (crossing <= sums.x[first + reach - 1])
    usable = near & (gain * sign >= 0.0) & (sigmas > _LEAST_SIGMAS)
    if not usable.any():
        return None
    # delta method: both lines' uncertainty where they cross, over the change of slope
    spread = np.where(usable, np.sqrt(left.variance_at(crossing) + right.variance_at(crossing)) / np.abs(gain), np.inf)
    i = int(np.argmin(spread))
    noises = float(left.noise[i]), float(right.noise[i])
    return Break(
        int(first[i]) - 1,
        before,
        after,
        *noises,
        float(crossing[i]),
        float(spread[i]),
        float(gain[i]),
        float(sigmas[i]),
    )


def _find_place(sums: Sums, count: int, sign: float) -> int | None:
    """Merge neighbouring stretches, always where a common line costs least, and find the join that costs most.

    The cost of a join is what the whole curve loses by leaving the break out; joins whose slope changes the
    wrong way do not count. Gives the first sample after it.
    """
    edges = [*range(0, count - FEWEST + 1, FEWEST), count]
    left = [sums.left_over(a, b)[0] for a, b in pairwise(edges)]
    costs = [sums.left_over(edges[i], edges[i + 2])[0] - left[i] - left[i + 1] for i in range(len(left) - 1)]
    place, most = None, 0.0
    while costs:
        i = int(np.argmin(costs))
        slopes = [sums.left_over(a, b)[1] for a, b in zip(edges[i : i + 2], edges[i + 1 : i + 3], strict=True)]
        if costs[i] > most and (slopes[1] - slopes[0]) * sign >= 0.0:
            place, most = edges[i + 1], costs[i]
        left[i : i + 2] = [left[i] + left[i + 1] + costs[i]]
        del edges[i + 1], costs[i]
        for k in (i - 1, i):
            if 0 <= k < len(costs):
                costs[k] = sums.left_over(edges[k], edges[k + 2])[0] - left[k] - left[k + 1]
    return place


def transition(x: Floats, y: Floats, noise: float, at: float) -> float:
    """Say how far it is from where the curve leaves the one line to where it has joined the other.

    Parameters
    ----------
    x, y : ndarray (n,)
        x rises strictly.
    noise : float, unit of y
        Standard deviation of one reading.
    at : float, unit of x
        Where the slope breaks.

    Returns
    -------
    float, unit of x
        0 for a sharp break, also where it lies in a gap between samples.
    """
    left, joined = -_joins(-x[::-1], y[::-1], noise, -at), _joins(x, y, noise, at)
    inside = x[(x > left) & (x < joined)]
    return float(inside[-1] - inside[0]) if inside.size > 1 else 0.0


def _joins(x: Floats, y: Floats, noise: float, at: float) -> float:
    """From the break on, find where the curve joins the line that best tells the value there from the side after."""
    place, sums = int(np.searchsorted(x, at)), Sums(x, y, noise)
    best, least = None, np.inf
    for length in lengths_within(x.size):
        start = np.arange(place, x.size - length + 1)
        if start.size == 0:
            break
        line = sums.line(length, start).no_luckier_than_most()
        variance = line.variance_at(np.full(start.size, at))
        i = int(np.argmin(variance))
        if variance[i] < least:
            best, least = (int(start[i]), line.take(i)), float(variance[i])
    if best is None:
        return at
    start, line = best
    run = running(y - line.level - line.slope * x)
    first = np.arange(place, start + 1)
    mean = (run[first + FEWEST] - run[first]) / FEWEST
    off = np.abs(mean) > _OFF * np.sqrt(line.noise**2 / FEWEST + line.variance_at(x[first]))
    # off before and on after, with as few exceptions as can be
    away = off.astype(np.float64)
    exceptions = running(1.0 - away) + (float(away.sum()) - running(away))
    return float(x[place + int(np.argmin(exceptions))])
