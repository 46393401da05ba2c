"""Numbers as people write them: decimal comma or point, thousands, a unit behind them or above the column."""

from __future__ import annotations

import re
from collections.abc import Iterable
from decimal import Decimal
from enum import StrEnum

from firstlift.core.errors import FirstliftError
from firstlift.core.units import parse_number

_NUMBER = re.compile(r"([+\-]?[\d.,'’\u00a0\u202f ]*\d(?:[eE][+\-]?\d+)?)\s*(.*)", re.DOTALL)
_GROUPS = {mark: re.compile(rf"[+\-]?\d{{1,3}}(?:{re.escape(mark)}\d{{3}})+") for mark in ".,"}
_SIGNS = str.maketrans({"\u2212": "-", "\u2013": "-", "٫": ".", "\u00a0": " ", "\u202f": " ", "’": "'"})


class DecimalMark(StrEnum):
    """Which sign parts whole and decimals."""

    POINT = "point"
    COMMA = "comma"


class NotANumber(Exception):  # noqa: N818  a reason, told beside the cell
    """Why a text is no number; the text of the error is said to the user."""


def split_number(text: str) -> tuple[str, str] | None:
    """Part a text into number and what follows it: "12,5 bar" gives ("12,5", "bar").

    Parameters
    ----------
    text : str

    Returns
    -------
    number, rest : str, or None where the text does not begin with a number
    """
    match = _NUMBER.fullmatch(text.strip().translate(_SIGNS))
    return None if match is None else (match[1].strip(), match[2].strip())


def read_number(text: str, mark: DecimalMark | None) -> Decimal:
    """Read a number; what can be read two ways is refused where the column's habit is not known.

    Parameters
    ----------
    text : str
    mark : DecimalMark or None

    Returns
    -------
    Decimal

    Raises
    ------
    NotANumber
    """
    number = text.strip().translate(_SIGNS)
    if not number.isascii():
        number = "".join(str(int(c)) if c.isdecimal() else c for c in number)
    if "'" in number or " " in number:
        if re.fullmatch(r"[+\-]?\d{1,3}(?:[' ]\d{3})+(?:[.,]\d+)?", number) is None:
            raise NotANumber("is not a number")
        number = number.replace("'", "").replace(" ", "")
    if "," in number and "." in number:
        decimal = "," if number.rfind(",") > number.rfind(".") else "."
    elif mark is not None:
        decimal = "," if mark is DecimalMark.COMMA else "."
    elif _GROUPS[","].fullmatch(number) and number.count(",") == 1 and not number.lstrip("+-").startswith("0"):
        raise NotANumber("may have a decimal comma or thousands: say --decimal comma or --decimal point")
    else:
        decimal = "," if number.count(",") == 1 else "."
    return _read(number, decimal)


def _read(number: str, decimal: str) -> Decimal:
    other = "." if decimal == "," else ","
    if other in number:
        whole = re.split(rf"[{re.escape(decimal)}eE]", number)[0]
        if _GROUPS[other].fullmatch(whole) is None:
            name = "comma" if decimal == "," else "point"
            raise NotANumber(f"does not fit the decimal {name} of its column")
        number = number.replace(other, "")
    try:
        return parse_number(number.replace(",", "."))
    except FirstliftError as error:
        raise NotANumber(error.problems[0].what.partition("' ")[2] or "is not a number") from None


def exact(number: float) -> Decimal:
    """Give a spreadsheet's number by its shortest decimal; huge and infinite ones are refused.

    Parameters
    ----------
    number : float

    Returns
    -------
    Decimal

    Raises
    ------
    NotANumber
    """
    if not abs(number) < 1e15 or 0.0 < abs(number) < 1e-30:
        raise NotANumber("is beyond any quantity here")
    return Decimal(repr(number)).normalize() + 0


def find_mark(texts: Iterable[str]) -> DecimalMark | None:
    """Find which decimal sign a column's texts use; None where they show none, or both.

    Parameters
    ----------
    texts : iterable of str

    Returns
    -------
    DecimalMark or None
    """
    seen: set[DecimalMark] = set()
    for text in texts:
        parts = split_number(text)
        if parts is None:
            continue
        number = parts[0]
        comma, point = number.rfind(","), number.rfind(".")
        last = max(comma, point)
        if last < 0:
            continue
        decimals = len(number) - last - 1
        if (comma >= 0 and point >= 0) or decimals != 3 or number.lstrip("+-").startswith(("0,", "0.")):
            seen.add(DecimalMark.COMMA if last == comma else DecimalMark.POINT)
    return seen.pop() if len(seen) == 1 else None
