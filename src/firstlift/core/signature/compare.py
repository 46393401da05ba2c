"""What changed since the valve's earlier visits, by how much, and how sure that is.

Each feature is held against what the earlier visits foretell of the next one: their mean, with the valve's own spread
as far as its visits have told it and the usual spread of valves as far as they have not. A slow
change shows as a slope over all of them. A healthy valve gives an alarm of any feature in one visit of a hundred: the
false alarm rate, as long as its features wander normally and no more than usual, or it has shown by five visits or
more how they do.

References
----------
.. [1] G. J. Hahn and W. Q. Meeker, Statistical Intervals, 1991, section 4.4: prediction interval of one further value.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from statistics import median

import numpy as np
from scipy.special import stdtr, stdtrit

from firstlift.core.recording import Floats
from firstlift.core.signature.features import WANDER, Feature, Visit, value_of

FALSE_ALARM_RATE = 0.01
_SAME_LINE = 0.05
_ENOUGH = 5


@dataclass(frozen=True, slots=True)
class Change:
    """One feature of this visit against the earlier ones.

    ``change`` is a ratio less 1 for features followed by ratio; for friction the difference of its share of the
    opening force, for the spring the difference of its slope as a share of the spring's rate. ``low`` and ``high``
    are the foretold range of it. ``visits`` is how many earlier ones counted; ``slope_per_yr`` and ``slope_sure`` say
    how the feature moved over them and this one, and whether that is sure.
    """

    feature: Feature
    change: float
    low: float
    high: float
    probability: float
    visits: int
    alarm: bool
    slope_per_yr: float | None
    slope_sure: bool


def compare(
    now: Visit,
    earlier: Sequence[Visit],
    *,
    spring_rate_n_per_m: float | None = None,
    false_alarm_rate: float = FALSE_ALARM_RATE,
) -> tuple[Change, ...]:
    """Hold a visit against the valve's earlier ones.

    Parameters
    ----------
    now : Visit
    earlier : sequence of Visit
        In order of date.
    spring_rate_n_per_m : float or None, [N/m]
        The spring's rate as the maker or the owner states it. None: a change of the spring is then given as a share
        of the slope after first lift, which the fluid has a part in.
    false_alarm_rate : float
        Of all features together.

    Returns
    -------
    tuple of Change
        One for each feature that this visit and an earlier one show.
    """
    rate = spring_rate_n_per_m or _usual_slope(now, earlier)
    told: list[tuple[Feature, float, list[tuple[float, float]]]] = []
    for feature in Feature:
        value = value_of(feature, now, rate)
        shown = [(visit.years, value_of(feature, visit, rate)) for visit in _comparable(feature, now, earlier)]
        past = [(years, known) for years, known in shown if known is not None]
        if value is not None and past:
            told.append((feature, value, past))
    # two looks at each: this visit against the others, and the slope over them all
    each = false_alarm_rate / max(1, 2 * len(told))
    return tuple(_change(feature, now.years, value, past, each) for feature, value, past in told)


def _usual_slope(now: Visit, earlier: Sequence[Visit]) -> float:
    slopes = [visit.signature.soft_slope_n_per_m for visit in (*earlier, now)]
    sizes = [abs(slope) for slope in slopes if slope]
    return median(sizes) if sizes else 1.0


def _comparable(feature: Feature, now: Visit, earlier: Sequence[Visit]) -> Sequence[Visit]:
    """Give the visits that say something of a feature of this one.

    The slope after first lift goes with the line pressure, so only visits near it count; the set pressure only says
    something of the spring while nobody adjusted it.
    """
    if feature is Feature.SPRING_RATE:
        return [visit for visit in earlier if _same_line(now.line_pressure_pa, visit.line_pressure_pa)]
    if feature is not Feature.SET_PRESSURE:
        return earlier
    kept: list[Visit] = []
    after = now
    for visit in reversed(earlier):
        if after.adjusted:
            break
        kept.append(visit)
        after = visit
    return kept[::-1]


def _same_line(now_pa: float | None, then_pa: float | None) -> bool:
    if now_pa is None or then_pa is None:
        return now_pa is None and then_pa is None
    return abs(now_pa - then_pa) <= _SAME_LINE * max(now_pa, then_pa)


def _change(feature: Feature, years: float, value: float, past: list[tuple[float, float]], rate: float) -> Change:
    wander = WANDER[feature]
    values = np.array([shown for _, shown in past])
    mean, count = float(values.mean()), values.size
    apart = value - mean
    own = float(np.sum((values - mean) ** 2))
    # the usual spread counts as so many visits more; a valve that shows by enough visits to wander more is believed
    free = wander.worth + count - 1.0
    spreads = [(free, (wander.worth * wander.spread**2 + own) / free)]
    if count >= _ENOUGH:
        spreads.append((count - 1.0, own / (count - 1.0)))
    probability, range_ = 0.0, 0.0
    for degrees, variance in spreads:
        reach = math.sqrt(variance * (1.0 + 1.0 / count))
        probability = max(probability, 2.0 * float(stdtr(degrees, -abs(apart) / max(reach, 1e-300))))
        range_ = max(range_, float(stdtrit(degrees, 1.0 - 0.5 * rate)) * reach)
    times = np.array([when for when, _ in past] + [years])
    slope, sure = _slope(times, np.append(values, value), wander.spread, rate)
    went = sure and slope is not None and abs(slope) * float(np.ptp(times)) > wander.least
    shown = _as_share if wander.by_ratio else float
    return Change(
        feature=feature,
        change=shown(apart),
        low=shown(-range_),
        high=shown(range_),
        probability=probability,
        visits=count,
        alarm=(probability < rate and abs(apart) > wander.least) or went,
        slope_per_yr=slope,
        slope_sure=sure,
    )


def _as_share(apart: float) -> float:
    return math.expm1(apart)


def _slope(years: Floats, values: Floats, spread: float, rate: float) -> tuple[float | None, bool]:
    """Give the slope over three visits or more, and whether it is sure with the usual spread of a valve at least."""
    if years.size < 4 or float(np.ptp(years)) <= 0.0:
        return None, False
    apart = years - years.mean()
    slope = float(apart @ values / (apart @ apart))
    left = values - values.mean() - slope * apart
    free = years.size - 2.0
    variance = max(float(left @ left) / free, spread**2)
    return slope, abs(slope) > float(stdtrit(free, 1.0 - 0.5 * rate)) * math.sqrt(variance / float(apart @ apart))
