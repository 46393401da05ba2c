"""Fields of a text table, one by one: numbers, gaps, instants; what is none of them is told by its row."""

from __future__ import annotations

import datetime as dt
import re
from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from firstlift.formats.text_layout import GAP_TEXTS, INSTANT, NUMBER


def numbers_of(texts: Sequence[str | None], decimal: str) -> tuple[NDArray[np.float64], NDArray[np.intp]]:
    """Read numbers field by field.

    Parameters
    ----------
    texts : sequence of str or None
    decimal : "." or ","

    Returns
    -------
    values : ndarray (n,)
        NaN for gaps and for what is no number.
    wrong : ndarray (m,)
        Rows that are neither number nor gap.
    """
    values = np.full(len(texts), np.nan)
    wrong: list[int] = []
    other = "," if decimal == "." else "."
    for row, text in enumerate(texts):
        field = "" if text is None else text.strip().strip('"').strip()
        if field.lower() in GAP_TEXTS:
            continue
        if NUMBER.fullmatch(field) and other not in field:
            number = float(field.replace(",", "."))
            values[row] = number if np.isfinite(number) else np.nan
        else:
            wrong.append(row)
    return values, np.array(wrong, dtype=np.intp)


def instants_of(
    texts: Sequence[str | None],
) -> tuple[NDArray[np.datetime64], NDArray[np.intp]]:
    """Read dates with time of day, or times of day alone (which may pass midnight).

    A date with slashes is read month first, with points day first, unless the numbers forbid it.

    Parameters
    ----------
    texts : sequence of str or None

    Returns
    -------
    instants : ndarray (n,), datetime64[ns]
        Not-a-time for gaps and for what is no instant.
    wrong : ndarray (m,)
        Rows that are neither instant nor gap.
    """
    instants = np.full(len(texts), np.datetime64("NaT", "ns"))
    wrong: list[int] = []
    days, before = 0, -1
    dates: dict[tuple[str | None, ...], int] = {}
    for row, text in enumerate(texts):
        field = "" if text is None else text.strip().strip('"').strip()
        if field.lower() in GAP_TEXTS:
            continue
        match = INSTANT.fullmatch(field)
        key = match.group("y", "m", "d", "a", "sep", "b", "y2") if match else ()
        day = dates.setdefault(key, _day(*key)) if match else -1
        if match is None or day < 0 or int(match["H"]) > 23 or int(match["M"]) > 59:
            wrong.append(row)
            continue
        of_day = _ns_of_day(match)
        if day == 0 and before - of_day > 43_200_000_000_000:
            days += 1  # time of day alone: it passed midnight
        before = of_day
        instants[row] = np.datetime64((day + days) * 86_400_000_000_000 + of_day, "ns")
    return instants, np.array(wrong, dtype=np.intp)


def _day(
    y: str | None, m: str | None, d: str | None, a: str | None, sep: str | None, b: str | None, y2: str | None
) -> int:
    """Give the day number from 1970 (0 where there is no date, -1 where there is no such day)."""
    if y is None and y2 is None:
        return 0
    if y is not None:
        year, month, day = int(y), int(m or 0), int(d or 0)
    else:
        first, second = int(a or 0), int(b or 0)
        month_first = (sep == "/" and first <= 12) or second > 12
        year, month, day = int(y2 or 0), *((first, second) if month_first else (second, first))
    try:
        return max(-1, dt.date(year, month, day).toordinal() - 719_163)
    except ValueError:
        return -1


def _ns_of_day(match: re.Match[str]) -> int:
    seconds = int(match["H"]) * 3600 + int(match["M"]) * 60 + int(match["S"] or 0)
    zone = match["z"]
    if zone and zone != "Z":
        digits = zone.replace(":", "")
        shift = int(digits[1:3]) * 3600 + int(digits[3:5]) * 60
        seconds += -shift if digits[0] == "+" else shift
    return seconds * 1_000_000_000 + int((match["f"] or "").ljust(9, "0"))
