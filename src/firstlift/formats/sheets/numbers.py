"""Numbers as people write them: decimal comma or point, thousands, a unit behind them or above the column."""

from __future__ import annotations

import re
from collections.abc import Iterable
from decimal import Decimal, InvalidOperation
from enum import StrEnum

from firstlift.core.errors import FirstliftError
from firstlift.core.units import parse_number
from firstlift.formats.sheets.reason import CannotBeTaken, Why

_NUMBER = re.compile(r"([+\-]?[\d.,'’\u00a0\u202f ]*\d(?:[eE][+\-]?\d+)?)\s*(.*)", re.DOTALL)
_GROUPS = {mark: re.compile(rf"[+\-]?\d{{1,3}}(?:{re.escape(mark)}\d{{3}})+") for mark in ".,"}
_SIGNS = str.maketrans({"\u2212": "-", "\u2013": "-", "٫": ".", "\u00a0": " ", "\u202f": " ", "’": "'"})


class DecimalMark(StrEnum):
    """Which sign parts whole and decimals."""

    POINT = "point"
    COMMA = "comma"


class NotANumber(CannotBeTaken):
    """Why a text is no number."""


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
            raise NotANumber(Why.NUMBER_NOT_ONE)
        number = number.replace("'", "").replace(" ", "")
    if "," in number and "." in number:
        decimal = "," if number.rfind(",") > number.rfind(".") else "."
    elif mark is not None:
        decimal = "," if mark is DecimalMark.COMMA else "."
    elif _GROUPS[","].fullmatch(number) and number.count(",") == 1 and not number.lstrip("+-").startswith("0"):
        raise NotANumber(Why.DECIMAL_TWO_WAYS)
    else:
        decimal = "," if number.count(",") == 1 else "."
    return _read(number, decimal)


def _read(number: str, decimal: str) -> Decimal:
    other = "." if decimal == "," else ","
    if other in number:
        whole = re.split(rf"[{re.escape(decimal)}eE]", number)[0]
        if _GROUPS[other].fullmatch(whole) is None:
            mark = DecimalMark.COMMA if decimal == "," else DecimalMark.POINT
            raise NotANumber(Why.DECIMAL_OTHER_MARK, mark=mark)
        number = number.replace(other, "")
    number = number.replace(",", ".")
    try:
        return parse_number(number)
    except FirstliftError:
        raise NotANumber(Why.NUMBER_BEYOND if _is_decimal(number) else Why.NUMBER_NOT_ONE) from None


def _is_decimal(number: str) -> bool:
    try:
        Decimal(number)
    except InvalidOperation:
        return False
    return True


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
        raise NotANumber(Why.NUMBER_BEYOND)
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
