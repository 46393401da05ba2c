"""What is in force on a date: rules, intervals, calibrations; due dates; identity at the valve."""

from __future__ import annotations

import calendar
import datetime as dt
import unicodedata
from collections.abc import Iterable
from typing import Protocol, TypeVar
from uuid import UUID

from firstlift.core.register.equipment import RegisteredValve
from firstlift.core.register.places import Interval, RuleChoice
from firstlift.core.register.work import IdentityCheck


class Made(Protocol):
    """What is known of a calibration without reading all of it."""

    @property
    def id(self) -> UUID:
        """Its identifier."""
        ...

    @property
    def date(self) -> dt.date:
        """When it was made."""
        ...

    @property
    def supersedes(self) -> UUID | None:
        """Which one it corrects."""
        ...


M = TypeVar("M", bound=Made)


def search_key(text: str) -> str:
    """Give the form of a tag, serial or name that searches compare: compatibility forms and case folded away.

    Parameters
    ----------
    text : str

    Returns
    -------
    str
    """
    return unicodedata.normalize("NFKC", unicodedata.normalize("NFKC", text).casefold()).strip()


def add_months(day: dt.date, months: int) -> dt.date:
    """Give the date some months later: the same day of the month, or the month's last.

    Parameters
    ----------
    day : date
    months : int, [months]

    Returns
    -------
    date
    """
    total = day.year * 12 + day.month - 1 + months
    year, month = divmod(total, 12)
    return dt.date(year, month + 1, min(day.day, calendar.monthrange(year, month + 1)[1]))


def due_date(interval: Interval | None, last_test: dt.date | None, installed: dt.date | None) -> dt.date | None:
    """Give the date by which a position's valve is to be tested.

    Parameters
    ----------
    interval : Interval or None
        In force; without one there is no due date.
    last_test : date or None
        Of the last test that was one, local at the site.
    installed : date or None
        Serves where no test is known.

    Returns
    -------
    date or None
    """
    start = last_test or installed
    if interval is None or start is None:
        return None
    return add_months(start, interval.months)


def interval_in_force(intervals: Iterable[Interval], on: dt.date) -> Interval | None:
    """Give a position's interval on a date: the one that began last.

    Parameters
    ----------
    intervals : iterable of Interval
        Of one position.
    on : date

    Returns
    -------
    Interval or None
    """
    begun = [each for each in intervals if each.since <= on]
    return max(begun, key=lambda each: (each.since, each.id), default=None)


def rules_in_force(choices: Iterable[RuleChoice], on: dt.date) -> RuleChoice | None:
    """Give the rules that judge on a date: a position's choice before its site's, before its owner's.

    Parameters
    ----------
    choices : iterable of RuleChoice
        Those that reach the position.
    on : date

    Returns
    -------
    RuleChoice or None
    """
    begun = [each for each in choices if each.since <= on]

    def rank(choice: RuleChoice) -> tuple[int, dt.date, UUID]:
        reach = 2 if choice.position_id is not None else 1 if choice.site_id is not None else 0
        return reach, choice.since, choice.id

    return max(begun, key=rank, default=None)


def calibration_in_force(calibrations: Iterable[M], on: dt.date) -> M | None:
    """Give an instrument's calibration on a date: the last one made by then that no other supersedes.

    One that is overdue still is the one in force: the test says so as a finding.

    Parameters
    ----------
    calibrations : iterable of Calibration, or of what tells one
        Of one instrument.
    on : date

    Returns
    -------
    Calibration, or what tells it, or None
    """
    known = list(calibrations)
    superseded = {each.supersedes for each in known}
    made = [each for each in known if each.date <= on and each.id not in superseded]
    return max(made, key=lambda each: (each.date, each.id), default=None)


def identity_mismatches(valve: RegisteredValve, tag: str, check: IdentityCheck) -> tuple[str, ...]:
    """Name what the nameplate says otherwise than the register.

    Parameters
    ----------
    valve : RegisteredValve
    tag : str
        Of the position where it should hang; "" where it hangs nowhere.
    check : IdentityCheck
        What was read at the valve; a thing not read is not compared.

    Returns
    -------
    tuple of str
        "serial", "tag", "spring_number", "set_pressure".
    """
    found: list[str] = []
    pairs = (
        ("serial", valve.serial, check.serial_read),
        ("tag", tag, check.tag_read),
        ("spring_number", valve.spring_number, check.spring_number_read),
    )
    for name, known, read in pairs:
        if known and read and search_key(known) != search_key(read):
            found.append(name)
    read_pressure = check.set_pressure_read
    # a nameplate is compared as it is written: half a thousandth covers the conversion between two units only
    if read_pressure is not None and abs(read_pressure.si - valve.set_pressure.si) > 5e-4 * abs(valve.set_pressure.si):
        found.append("set_pressure")
    return tuple(found)
