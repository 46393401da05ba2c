"""Paired results of one valve in place and on the bench: do they agree, and does the method stay in control.

The pairs of a rig, a type of valve and a team are what validates the method for them. A pair whose bench result
went into the seat area it was computed with proves nothing and is kept out.

References
----------
.. [1] Normalised error: ISO/IEC 17043:2023, annex B (2010: annex B.3.1.3), and ISO 13528:2022, 9.7; own words,
   source status: memory; a provider's public page describes the same quotient and limit (looked up).
.. [2] Chart of individuals and moving ranges: NIST/SEMATECH e-Handbook of Statistical Methods, 6.3.2.2; its
   constants for two values follow from the normal distribution (source status: computed).
.. [3] Eight in a row on one side of the middle: Western Electric, Statistical Quality Control Handbook, 1956
   (source status: memory, NIST handbook 6.3.2).
"""

from __future__ import annotations

import datetime as dt
import itertools
import math
from collections.abc import Sequence
from dataclasses import dataclass

from firstlift.core.errors import FirstliftError, Problem
from firstlift.core.uncertainty.coverage import student_factor

# of the range of two normal values, in standard deviations: mean 2 / sqrt(pi), deviation sqrt(2 - 4 / pi)
_RANGE_MEAN = 2.0 / math.sqrt(math.pi)
_RANGE_DEVIATION = math.sqrt(2.0 - 4.0 / math.pi)
_RUN = 8
# limits from fewer points are provisional (common practice: 20 to 25)
_ENOUGH = 20


@dataclass(frozen=True, slots=True)
class PairedResult:
    """One valve, one setting, in place and on the bench: SI, gauge; expanded uncertainties at 95 %.

    ``in_area``: this bench result went into the seat area the on-line result was computed with.
    """

    date: dt.date
    on_line_pa: float
    expanded_on_line_pa: float
    bench_pa: float
    expanded_bench_pa: float
    rig: str = ""
    valve_type: str = ""
    team: str = ""
    in_area: bool = False

    @property
    def deviation(self) -> float:
        """On line less bench, over bench: comparable between valves of any set pressure."""
        return (self.on_line_pa - self.bench_pa) / self.bench_pa


@dataclass(frozen=True, slots=True)
class ChartPoint:
    """One value of a chart: its moving range to the one before (None for the first) and what it signals.

    ``signals``: "outside" (beyond the limits), "range" (too far from the one before), "run" (the eighth or
    later in a row on one side of the middle).
    """

    value: float
    moving_range: float | None
    signals: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Chart:
    """Chart of individuals and moving ranges; all in the unit of the values."""

    middle: float
    lower: float
    upper: float
    mean_range: float
    range_upper: float
    points: tuple[ChartPoint, ...]
    provisional: bool

    @property
    def in_control(self) -> bool:
        """Whether no point signals."""
        return not any(point.signals for point in self.points)


@dataclass(frozen=True, slots=True)
class Agreement:
    """What the pairs of one rig, type and team say.

    ``normalised_errors`` in order of date; ``bias`` the mean relative deviation with its expanded uncertainty
    at 95 % (None for a single pair); ``left_out`` counts the pairs that had gone into the area.
    """

    rig: str
    valve_type: str
    team: str
    normalised_errors: tuple[float, ...]
    bias: float
    expanded_bias: float | None
    chart: Chart | None
    left_out: int

    @property
    def agreeing(self) -> int:
        """How many pairs agree within their uncertainties."""
        return sum(abs(error) <= 1.0 for error in self.normalised_errors)


def normalised_error(pair: PairedResult) -> float:
    """Give the normalised error E_n of a pair: the difference over its expanded uncertainty.

    Parameters
    ----------
    pair : PairedResult

    Returns
    -------
    float
        Between -1 and 1 the two agree within what they claim; beyond, one of them claims too much.

    Raises
    ------
    FirstliftError
        SEA-011 a pressure or uncertainty that cannot be.

    References
    ----------
    .. [1] ISO/IEC 17043:2023, annex B: E_n = (x - X) / sqrt(U_x^2 + U_X^2), both U at the same coverage.
    """
    u = (pair.expanded_on_line_pa, pair.expanded_bench_pa)
    numbers = (pair.on_line_pa, pair.bench_pa, *u)
    if not all(math.isfinite(number) for number in numbers) or min(u) <= 0.0 or pair.bench_pa <= 0.0:
        raise FirstliftError(
            Problem(
                "SEA-011",
                f"on line {pair.on_line_pa:g} Pa (U {u[0]:g} Pa), bench {pair.bench_pa:g} Pa (U {u[1]:g} Pa)",
                f"pair of {pair.date.isoformat()}",
                "finite pressures, bench above 0, both expanded uncertainties above 0",
            )
        )
    return (pair.on_line_pa - pair.bench_pa) / math.hypot(*u)


def control_chart(values: Sequence[float]) -> Chart:
    """Give the chart of individuals and moving ranges.

    Parameters
    ----------
    values : sequence of float (n,)
        In order of time, two or more.

    Returns
    -------
    Chart
        Limits three standard deviations either side, that deviation being the mean moving range over 1.128.

    Raises
    ------
    FirstliftError
        SEA-012 fewer than two values, or one that is not finite.

    References
    ----------
    .. [1] NIST/SEMATECH e-Handbook of Statistical Methods, 6.3.2.2.
    """
    if len(values) < 2 or not all(math.isfinite(value) for value in values):
        raise FirstliftError(
            Problem("SEA-012", f"{len(values)} values do not make a chart", needed="2 or more, finite")
        )
    ranges = [abs(b - a) for a, b in itertools.pairwise(values)]
    middle, mean_range = math.fsum(values) / len(values), math.fsum(ranges) / len(ranges)
    reach = 3.0 * mean_range / _RANGE_MEAN
    range_upper = mean_range * (1.0 + 3.0 * _RANGE_DEVIATION / _RANGE_MEAN)
    points: list[ChartPoint] = []
    run, side = 0, 0.0
    for value, moved in zip(values, [None, *ranges], strict=True):
        here = math.copysign(1.0, value - middle) if value != middle else 0.0
        run = run + 1 if here == side and here != 0.0 else 1
        side = here
        flags = {
            "outside": abs(value - middle) > reach,
            "range": moved is not None and moved > range_upper,
            "run": run >= _RUN,
        }
        points.append(ChartPoint(value, moved, tuple(name for name, on in flags.items() if on)))
    return Chart(middle, middle - reach, middle + reach, mean_range, range_upper, tuple(points), len(values) < _ENOUGH)


def agreements(pairs: Sequence[PairedResult]) -> tuple[Agreement, ...]:
    """Sum up paired results by rig, type of valve and team.

    Parameters
    ----------
    pairs : sequence of PairedResult
        In any order.

    Returns
    -------
    tuple of Agreement
        In order of rig, type, team. A group of which every pair had gone into its area is left out.

    Raises
    ------
    FirstliftError
        SEA-011 a pair that cannot be.
    """
    groups: dict[tuple[str, str, str], list[PairedResult]] = {}
    for pair in sorted(pairs, key=lambda pair: pair.date):
        groups.setdefault((pair.rig, pair.valve_type, pair.team), []).append(pair)
    return tuple(
        _agreement(key, [pair for pair in group if not pair.in_area], sum(pair.in_area for pair in group))
        for key, group in sorted(groups.items())
        if not all(pair.in_area for pair in group)
    )


def _agreement(key: tuple[str, str, str], pairs: Sequence[PairedResult], left_out: int) -> Agreement:
    errors = tuple(normalised_error(pair) for pair in pairs)
    deviations = [pair.deviation for pair in pairs]
    n = len(deviations)
    mean, expanded, chart = math.fsum(deviations) / n, None, None
    if n > 1:
        scatter = math.sqrt(math.fsum((deviation - mean) ** 2 for deviation in deviations) / (n - 1))
        expanded = student_factor(0.95, n - 1.0) * scatter / math.sqrt(n)
        chart = control_chart(deviations)
    return Agreement(*key, errors, mean, expanded, chart, left_out)
