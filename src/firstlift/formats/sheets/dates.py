"""Dates in the local habit: ISO, with points or slashes, with names of months, or a spreadsheet's day numbers."""

from __future__ import annotations

import datetime as dt
import re
from collections.abc import Iterable
from enum import StrEnum

from firstlift.formats.sheets.fields import plain
from firstlift.formats.sheets.reason import CannotBeTaken, Why

FIRST_YEAR, LAST_YEAR = 1940, 2200
_ISO = re.compile(r"(\d{4})[-/.](\d{1,2})[-/.](\d{1,2})(?:[T ].*)?")
_THREE = re.compile(r"(\d{1,2})([-/. ])(\d{1,2})\2(\d{4}|\d{2})(?:[T ,].*)?")
_NAMED = re.compile(r"(?:(\d{1,2}) (\w+)|(\w+) (\d{1,2})) (\d{4})")
_SERIAL = re.compile(r"\d{5}(?:\.\d+)?")
_MONTHS = {
    name: number
    for number, names in enumerate(
        (
            "january jan januar janvier janv enero ene gennaio gen januari",
            "february feb februar fevrier fevr febrero febbraio februari",
            "march mar maerz mrz mars marzo maart mrt",
            "april apr avril avr abril abr aprile",
            "may mai mayo maggio mag mei",
            "june jun juni juin junio giugno giu",
            "july jul juli juillet juil julio luglio lug",
            "august aug aout agosto ago augustus",
            "september sep sept septembre septiembre settembre set",
            "october oct oktober okt octobre octubre ottobre ott",
            "november nov novembre noviembre",
            "december dec dezember dez decembre diciembre dic dicembre",
        ),
        start=1,
    )
    for name in names.split()
}


class DateHabit(StrEnum):
    """Which comes first where a date is written in three numbers."""

    DAY_FIRST = "day-first"
    MONTH_FIRST = "month-first"


class NotADate(CannotBeTaken):
    """Why a text is no date."""


def read_date(text: str, habit: DateHabit | None) -> dt.date:
    """Read a date; one that can be read two ways is refused where the column's habit is not known.

    Parameters
    ----------
    text : str
    habit : DateHabit or None

    Returns
    -------
    date

    Raises
    ------
    NotADate
    """
    text = text.strip()
    if match := _ISO.fullmatch(text):
        return _day(int(match[1]), int(match[2]), int(match[3]))
    if match := _THREE.fullmatch(text):
        return _three(int(match[1]), match[2], int(match[3]), match[4], habit)
    if match := _NAMED.fullmatch(plain(text)):
        day, month = (match[1], match[2]) if match[1] else (match[4], match[3])
        if month in _MONTHS:
            return _day(int(match[5]), _MONTHS[month], int(day))
    if _SERIAL.fullmatch(text):
        return day_of_number(float(text))
    if re.fullmatch(r"(?:\d{1,2}[-/. ])?\d{4}|\w+ \d{4}", plain(text)):
        raise NotADate(Why.DATE_WITHOUT_DAY)
    raise NotADate(Why.DATE_IS_NONE)


def _three(first: int, mark: str, second: int, year: str, habit: DateHabit | None) -> dt.date:
    if len(year) == 2:
        raise NotADate(Why.DATE_SHORT_YEAR)
    if mark == ".":
        habit = DateHabit.DAY_FIRST  # with points the day comes first wherever points are used
    if habit is None:
        if first <= 12 and second <= 12 and first != second:
            raise NotADate(Why.DATE_TWO_WAYS)
        habit = DateHabit.MONTH_FIRST if second > 12 else DateHabit.DAY_FIRST
    day, month = (first, second) if habit is DateHabit.DAY_FIRST else (second, first)
    if month > 12 and day <= 12:
        raise NotADate(Why.DATE_OTHER_HABIT, habit=habit)
    return _day(int(year), month, day)


def day_of_number(number: float) -> dt.date:
    """Read a spreadsheet's day number that lost its date format (45292 is 1 January 2024).

    Parameters
    ----------
    number : float

    Returns
    -------
    date

    Raises
    ------
    NotADate
    """
    if not 14_612 <= number < 109_939:
        raise NotADate(Why.DATE_NUMBER)
    return dt.date(1899, 12, 30) + dt.timedelta(days=int(number))


def _day(year: int, month: int, day: int) -> dt.date:
    try:
        date = dt.date(year, month, day)
    except ValueError:
        raise NotADate(Why.DATE_NO_DAY) from None
    return in_range(date)


def in_range(date: dt.date) -> dt.date:
    """Hold a date to the years a valve can have.

    Parameters
    ----------
    date : date

    Returns
    -------
    date

    Raises
    ------
    NotADate
    """
    if not FIRST_YEAR <= date.year <= LAST_YEAR:
        raise NotADate(Why.DATE_OUT_OF_YEARS, first=FIRST_YEAR, last=LAST_YEAR)
    return date


def find_habit(texts: Iterable[str]) -> DateHabit | None:
    """Find a column's habit from dates that can be read one way only; None where they show none, or both.

    Parameters
    ----------
    texts : iterable of str

    Returns
    -------
    DateHabit or None
    """
    seen: set[DateHabit] = set()
    for text in texts:
        match = _THREE.fullmatch(text.strip())
        if match is None or match[2] == ".":
            continue
        if int(match[1]) > 12 >= int(match[3]):
            seen.add(DateHabit.DAY_FIRST)
        elif int(match[3]) > 12 >= int(match[1]):
            seen.add(DateHabit.MONTH_FIRST)
    return seen.pop() if len(seen) == 1 else None
