"""A valve's mechanical signature over its visits, out of the register."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from dataclasses import dataclass
from statistics import median

from firstlift.core.errors import Finding, FirstliftError, Problem
from firstlift.core.register.equipment import RegisteredValve
from firstlift.core.register.work import AdjustmentMade, ValveTest
from firstlift.core.reliability.history import years_between
from firstlift.core.result import Result
from firstlift.core.signature.compare import Change
from firstlift.core.signature.diagnose import diagnose
from firstlift.core.signature.features import Visit, take_together
from firstlift.store.open import Store
from firstlift.usecases.register.entries import find_entry


@dataclass(frozen=True, slots=True, eq=False)
class SignatureAnswer:
    """What the last pull test of a valve shows over the earlier ones."""

    serial: str
    day: dt.date
    earlier: tuple[dt.date, ...]
    findings: tuple[Finding, ...]
    changes: tuple[Change, ...]


def signature_of_valve(store: Store, serial: str) -> SignatureAnswer:
    """Hold the signature of a valve's last pull test against its earlier ones.

    Parameters
    ----------
    store : Store
    serial : str
        Of the valve, whatever its case, or its identifier.

    Returns
    -------
    SignatureAnswer

    Raises
    ------
    FirstliftError
        REG-028 no valve, or several, with that serial; SGN-001 it was never tested by a pull that lifted.
    """
    with store.read() as reader:
        valve: RegisteredValve = find_entry(reader, "valve", serial)
        tests = reader.list(ValveTest, order=("at",), valve_id=valve.id)
        adjusted = [made.at.date() for made in reader.list(AdjustmentMade, valve_id=valve.id)]
    days, visits = _visits(tests, adjusted)
    if not visits:
        what = f"valve '{serial}' was never tested by a pull that lifted"
        raise FirstliftError(Problem("SGN-001", what, needed="one test with its result or more"))
    findings, changes = diagnose(visits[-1], visits[:-1], spring_rate_n_per_m=valve.spring_rate_n_m)
    return SignatureAnswer(valve.serial, days[-1], tuple(days[:-1]), findings, changes)


def _visits(tests: Sequence[ValveTest], adjusted: Sequence[dt.date]) -> tuple[list[dt.date], list[Visit]]:
    """Give one visit for each day, its as-found pulls before any as-left one."""
    corrected = {test.supersedes for test in tests if test.supersedes is not None}
    days: list[dt.date] = []
    visits: list[Visit] = []
    for test in tests:
        if test.id in corrected or test.result is None or test.day in days:
            continue
        # turned on the day of a test means turned after what was found then
        turned = bool(days) and any(days[-1] <= day < test.day for day in adjusted)
        visit = visit_of(test.result, years_between(dt.date(2000, 1, 1), test.day), adjusted=turned)
        if visit is not None:
            days.append(test.day)
            visits.append(visit)
    return days, visits


def visit_of(result: Result, years: float, *, adjusted: bool) -> Visit | None:
    """Take the pulls of a result together that gave a set pressure.

    Parameters
    ----------
    result : Result
    years : float
        When, on any scale of years.
    adjusted : bool
        Whether the spring was adjusted since the visit before.

    Returns
    -------
    Visit or None
        None where no pull lifted.
    """
    pulls = [pull for pull in result.pulls if pull.set_pressure_pa is not None and pull.accepted]
    if not pulls:
        return None
    pressures = [pull.set_pressure_pa for pull in pulls if pull.set_pressure_pa is not None]
    lines = [pull.line_pressure_pa for pull in pulls if pull.line_pressure_pa is not None]
    together = take_together([pull.signature for pull in pulls])
    return Visit(years, together, median(pressures), adjusted, median(lines) if lines else None)
