"""From a valve's tests to its lives: only an overhaul makes it young again.

A test that finds the valve failed to danger ends a life somewhere since the last good test. Where it was put right
without overhaul it goes on at the same age, watched anew. A pull that proved no more than a lower bound says nothing
about its day: the life is known good up to the test before.
"""

from __future__ import annotations

import datetime as dt
import itertools
from collections.abc import Sequence
from dataclasses import dataclass
from enum import StrEnum

from firstlift.core.errors import FirstliftError, Problem
from firstlift.core.reliability.lives import Lives, make_lives

DAYS_A_YEAR = 365.25


class AsFoundState(StrEnum):
    """What a test found, in the words of inspection practice; NONE: no test, only installed or overhauled."""

    WITHIN = "within"
    HIGH = "high"
    LOW = "low"
    STUCK = "stuck"
    LEAKED = "leaked"
    STAYED_OPEN = "stayed-open"
    LOWER_BOUND = "lower-bound"
    NONE = "none"


@dataclass(frozen=True, slots=True)
class Entry:
    """One test, or one overhaul, of one valve.

    ``ratio`` is the opening pressure found over the set pressure, or the lower bound over it. ``overhauled`` says
    that the valve was overhauled or new on that day, after what was found.
    """

    valve: str
    group: str
    on: dt.date
    found: AsFoundState
    ratio: float | None = None
    overhauled: bool = False
    where: str = ""


@dataclass(frozen=True, slots=True)
class History:
    """One valve's tests in order of date, and where it stands after the last of them.

    ``known_from`` is the day its age counts from, ``started_unknown`` says that this is only its first test.
    """

    valve: str
    group: str
    entries: tuple[Entry, ...]
    known_from: dt.date
    started_unknown: bool

    @property
    def last(self) -> Entry:
        """The last row."""
        return self.entries[-1]

    @property
    def age_yr(self) -> float:
        """Age on the day of the last row, after what was done then."""
        return years_between(self.known_from, self.last.on)

    def tests(self) -> tuple[Entry, ...]:
        """Give the rows that are tests."""
        return tuple(entry for entry in self.entries if entry.found is not AsFoundState.NONE)


def years_between(first: dt.date, second: dt.date) -> float:
    """Give the years from one day to another.

    Parameters
    ----------
    first, second : datetime.date

    Returns
    -------
    float, [yr]
        Of 365.25 days.
    """
    return (second - first).days / DAYS_A_YEAR


def failed_to_danger(entry: Entry, danger_ratio: float) -> bool | None:
    """Say whether a test found the valve failed to danger: it would not have opened in time.

    Parameters
    ----------
    entry : Entry
    danger_ratio : float
        Opening pressure over set pressure from which on it is.

    Returns
    -------
    bool or None
        None where the row does not tell: a lower bound under the limit, or no test.
    """
    if entry.found is AsFoundState.NONE:
        return None
    if entry.found is AsFoundState.STUCK:
        return True
    if entry.found is AsFoundState.LOWER_BOUND:
        return True if entry.ratio is not None and entry.ratio > danger_ratio else None
    if entry.found is AsFoundState.HIGH:
        # high, and nobody wrote down how high: it counts
        return entry.ratio is None or entry.ratio > danger_ratio
    return entry.ratio is not None and entry.ratio > danger_ratio


def histories_of(entries: Sequence[Entry]) -> tuple[History, ...]:
    """Put rows in order, valve by valve.

    Parameters
    ----------
    entries : sequence of Entry

    Returns
    -------
    tuple of History
        In order of first appearance.

    Raises
    ------
    FirstliftError
        REL-005 two rows of a valve on one day; REL-006 a valve in two groups.
    """
    by_valve: dict[str, list[Entry]] = {}
    for entry in entries:
        by_valve.setdefault(entry.valve, []).append(entry)
    problems: list[Problem] = []
    made: list[History] = []
    for valve, rows in by_valve.items():
        rows.sort(key=lambda entry: entry.on)
        problems += _problems(valve, rows)
        starts = [entry.on for entry in rows if entry.overhauled]
        known = starts[-1] if starts else rows[0].on
        made.append(History(valve, rows[-1].group, tuple(rows), known, not starts))
    if problems:
        raise FirstliftError(problems)
    return tuple(made)


def _problems(valve: str, rows: list[Entry]) -> list[Problem]:
    found: list[Problem] = []
    for before, after in itertools.pairwise(rows):
        if before.on == after.on:
            found.append(
                Problem(
                    "REL-005",
                    f"valve '{valve}' has two rows on {after.on}",
                    after.where,
                    "one row a day: what was found first",
                    "Keep the as-found row and mark it overhauled if the valve was overhauled that day",
                )
            )
        if before.group != after.group:
            what = f"valve '{valve}' is in the groups '{before.group}' and '{after.group}'"
            found.append(Problem("REL-006", what, after.where, "one group a valve"))
    return found


def lives_of(histories: Sequence[History], danger_ratio: float) -> Lives:
    """Give the lives that tests tell of.

    Parameters
    ----------
    histories : sequence of History
    danger_ratio : float
        Opening pressure over set pressure from which on a valve has failed to danger.

    Returns
    -------
    Lives
        May be empty.
    """
    rows: list[tuple[float, float, float]] = []
    for history in histories:
        rows += _lives_of_valve(history, danger_ratio)
    told = [row for row in rows if row[1] > row[0] or row[2] != float("inf")]
    if not told:
        return make_lives([], [], entry_yr=[])
    entry, left, right = zip(*told, strict=True)
    return make_lives(left, right, entry_yr=entry)


def _lives_of_valve(history: History, danger_ratio: float) -> list[tuple[float, float, float]]:
    """Give (entry, left, right) of every life of a valve, in years."""
    lives: list[tuple[float, float, float]] = []
    # the age before the first known overhaul is not known: it counts from the first row, which is taken as its start
    start, entry, good = history.entries[0].on, 0.0, 0.0
    for row in history.entries:
        age = years_between(start, row.on)
        failed = failed_to_danger(row, danger_ratio)
        if failed is True and age > 0.0:
            lives.append((entry, good, age))
            entry = good = age
        elif failed is False:
            good = age
        if row.overhauled:
            lives.append((entry, good, float("inf")))
            start, entry, good = row.on, 0.0, 0.0
    lives.append((entry, good, float("inf")))
    return lives
