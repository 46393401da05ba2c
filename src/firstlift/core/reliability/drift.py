"""Drift: how the opening pressure moves with time, valve by valve, and when it is likely to pass what is allowed.

The ratio of opening to set pressure is a line in the years since the valve was last set, with each valve's own start
and, where the tests can tell it, its own slope. What the next valve may do has the spread between valves and the
scatter of its own openings in it.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.special import stdtr, stdtrit

from firstlift.core.recording import Floats, frozen
from firstlift.core.reliability.history import AsFoundState, History, years_between
from firstlift.core.reliability.mixed import MixedFit, fit_mixed

_FARTHEST_YR, _STEPS = 40.0, 401
# with fewer, a spread between valves is a guess, and with fewer still on more than one day, so is its slope
_LEAST_TESTS, _LEAST_UNITS, _LEAST_REPEATED = 8, 5, 5


@dataclass(frozen=True, slots=True, eq=False)
class DriftTests:
    """Ratios against years since the valve was last set; ``unit`` numbers the stretches between settings.

    ``valve_of_unit`` names the valve of each; ``standing`` gives for each valve the years since it was last set and
    the stretch it is in (None: none was tested since). ``bounds`` counts tests that gave a lower bound only and are
    left out.
    """

    years: Floats
    ratio: Floats
    unit: NDArray[np.intp]
    valve_of_unit: tuple[str, ...]
    standing: Mapping[str, tuple[float, int | None]]
    bounds: int


@dataclass(frozen=True, slots=True, eq=False)
class Drift:
    """A fitted drift: ratio = level + slope * years, with spread between valves and scatter of each opening.

    ``slopes_differ`` says whether valves were given slopes of their own. ``degrees_of_freedom`` are those of the
    spread between valves.
    """

    tests: DriftTests
    fit: MixedFit
    slopes_differ: bool
    degrees_of_freedom: float

    @property
    def slope_per_yr(self) -> float:
        """Change of the ratio a year, of the group."""
        return float(self.fit.line[1])

    def slope_interval(self, confidence: float = 0.95) -> tuple[float, float]:
        """Give the interval of the group's slope, per year."""
        reach = self._t(confidence) * float(np.sqrt(self.fit.line_covariance[1, 1]))
        return self.slope_per_yr - reach, self.slope_per_yr + reach

    def _t(self, confidence: float) -> float:
        return float(stdtrit(self.degrees_of_freedom, 0.5 + 0.5 * confidence))

    def group_line(self, years: Floats, confidence: float = 0.95) -> tuple[Floats, Floats, Floats]:
        """Give the group's line with the band that holds it."""
        x = np.column_stack([np.ones_like(years), years])
        middle = x @ self.fit.line
        reach = self._t(confidence) * np.sqrt(np.einsum("ij,jk,ik->i", x, self.fit.line_covariance, x))
        return middle, middle - reach, middle + reach

    def spread_of_valves(self, years: Floats) -> Floats:
        """Give the standard deviation of an opening of a valve of the group, at years since it was set."""
        z = self._z(years)
        between = np.einsum("ij,jk,ik->i", z, self.fit.between, z)
        return np.sqrt(between + self.fit.residual**2)

    def valve_line(self, unit: int, years: Floats) -> Floats:
        """Give the line of one stretch of one valve."""
        x = np.column_stack([np.ones_like(years), years])
        return x @ self.fit.line + self._z(years) @ self.fit.deviations[unit]

    def _z(self, years: Floats) -> Floats:
        ones = np.ones_like(years)
        return np.column_stack([ones, years]) if self.slopes_differ else ones[:, None]

    def years_left(self, valve: str | None, limit_ratio: float, risk: float) -> float:
        """Give the years for which the chance of an opening above a limit stays at or under a risk.

        Of a valve: from its last row on, along its own line. Of the group (None): from setting on, the line at its
        upper edge and the spread between valves in it. Where the spread alone has the chance over the risk on the day
        of setting (`over_when_set`), no time keeps it: the years are those for which time adds no more than the risk.

        Parameters
        ----------
        valve : str or None
        limit_ratio : float
            Highest ratio of opening to set pressure that is still safe.
        risk : float
            Highest chance.

        Returns
        -------
        float, [yr]
            Infinite where the limit is far; 0 where it is passed already.
        """
        since = 0.0 if valve is None else self.tests.standing[valve][0]
        ahead = np.linspace(0.0, _FARTHEST_YR, _STEPS)
        when_set = self._chance_when_set(valve, limit_ratio)
        allowed = risk if when_set <= risk else when_set + risk
        over = np.flatnonzero(self._chance_over(valve, since + ahead, limit_ratio) > allowed)
        if not over.size:
            return float("inf")
        return float(ahead[max(0, int(over[0]) - 1)])

    def over_when_set(self, valve: str | None, limit_ratio: float, risk: float) -> bool:
        """Say whether the chance of an opening above a limit is over a risk on the day of setting already.

        Then it is the spread of openings that has it so, and not the years.

        Parameters
        ----------
        valve : str or None
            None: of the group.
        limit_ratio, risk : float

        Returns
        -------
        bool
        """
        return self._chance_when_set(valve, limit_ratio) > risk

    def _chance_when_set(self, valve: str | None, limit_ratio: float) -> float:
        return float(self._chance_over(valve, np.zeros(1), limit_ratio)[0])

    def _chance_over(self, valve: str | None, years: Floats, limit_ratio: float) -> Floats:
        """Give the chance that the next opening lies above a limit, at years since setting."""
        unit = None if valve is None else self.tests.standing[valve][1]
        middle, _, upper = self.group_line(years)
        if unit is None:
            expected, spread = upper, self.spread_of_valves(years)
        else:
            z = self._z(years)
            own = np.einsum("ij,jk,ik->i", z, self.fit.deviation_covariance[unit], z)
            expected, spread = self.valve_line(unit, years) + (upper - middle), np.sqrt(own + self.fit.residual**2)
        return 1.0 - stdtr(self.degrees_of_freedom, (limit_ratio - expected) / spread)


def drift_tests(histories: Sequence[History]) -> DriftTests:
    """Give the ratios with the years since each valve was last set.

    A valve found other than within was set right, so a new stretch begins there, as after an overhaul.

    Parameters
    ----------
    histories : sequence of History

    Returns
    -------
    DriftTests
    """
    years: list[float] = []
    ratio: list[float] = []
    unit: list[int] = []
    valves: list[str] = []
    standing: dict[str, tuple[float, int | None]] = {}
    bounds = 0
    for history in histories:
        start, fresh = history.entries[0].on, True
        for row in history.entries:
            age = years_between(start, row.on)
            measured = row.ratio is not None and row.found not in (AsFoundState.NONE, AsFoundState.LOWER_BOUND)
            bounds += row.found is AsFoundState.LOWER_BOUND
            # on its first day a valve's setting is not known unless it was overhauled then
            if measured and age > 0.0 and row.ratio is not None:
                if fresh:
                    valves.append(history.valve)
                    fresh = False
                years.append(age)
                ratio.append(row.ratio)
                unit.append(len(valves) - 1)
            if row.overhauled or row.found not in (AsFoundState.WITHIN, AsFoundState.LOWER_BOUND, AsFoundState.NONE):
                start, fresh = row.on, True
        here = None if fresh else len(valves) - 1
        standing[history.valve] = (years_between(start, history.last.on), here)
    numbers = np.array(unit, dtype=np.intp)
    return DriftTests(frozen(np.array(years)), frozen(np.array(ratio)), numbers, tuple(valves), standing, bounds)


def fit_drift(tests: DriftTests) -> Drift | None:
    """Fit the drift of a group.

    Parameters
    ----------
    tests : DriftTests

    Returns
    -------
    Drift or None
        None where the tests are too few, all at one age or all alike.
    """
    units = len(tests.valve_of_unit)
    many = tests.ratio.size >= _LEAST_TESTS and units >= _LEAST_UNITS
    if not many or float(np.ptp(tests.years)) < 0.1 or float(np.ptp(tests.ratio)) == 0.0:
        return None
    x = np.column_stack([np.ones_like(tests.years), tests.years])
    repeated = int((np.bincount(tests.unit) > 1).sum())
    slopes_differ = repeated >= _LEAST_REPEATED and tests.ratio.size >= units + _LEAST_REPEATED
    # where hardly any valve was tested twice, its own deviation and its scatter are one and the same
    own = x if slopes_differ else x[:, :1]
    if repeated == 0:
        own = np.zeros_like(own)
    fit = fit_mixed(tests.ratio, x, own, tests.unit)
    return Drift(tests, fit, slopes_differ, max(1.0, float(units - 2)))
