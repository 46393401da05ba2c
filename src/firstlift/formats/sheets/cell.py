"""One cell to one value of the register: a text, a choice, a quantity with its unit, a date, a number of months."""

from __future__ import annotations

import datetime as dt
import unicodedata
from collections.abc import Mapping as Map
from decimal import Decimal
from typing import Any

from firstlift.core.errors import FirstliftError
from firstlift.core.units import UNITS, Kind, Quantity, find_unit, to_si
from firstlift.formats.sheets.dates import day_of_number, in_range, read_date
from firstlift.formats.sheets.fields import QUANTITY_KINDS, FieldKind, choices_of, plain
from firstlift.formats.sheets.numbers import exact, read_number, split_number
from firstlift.formats.sheets.plan import Column
from firstlift.formats.sheets.reason import CannotBeTaken, Why
from firstlift.formats.sheets.seam import Unreadable, Value, as_text

_LONGEST_EXACT = 1e15
# marks without shape: they steer the direction of Arabic and Hebrew, or nothing; what they mark is the same text
_SHAPELESS = dict.fromkeys(map(ord, "\u00ad\u061c\u200b\u200c\u200d\u200e\u200f\u2060\ufeff"))
# marks that turn other text around can make a tag read as another one
_TURNING = {*map(chr, range(0x202A, 0x202F)), *map(chr, range(0x2066, 0x206A))}
# by field: least value allowed (exclusive unless the flag says so), in SI; all others must be above 0
_LEAST = {"operating_pressure": -101_325.0, "superimposed_back_pressure": 0.0}
_MOST = {Kind.PRESSURE: 1e9, Kind.LENGTH: 10.0, Kind.FORCE: 1e8, Kind.STIFFNESS: 1e11, Kind.RATIO: 1.0}
_MOST_MONTHS = 600


_UNIT_REASONS = {"UNI-001": Why.UNIT_UNKNOWN, "UNI-002": Why.UNIT_OF_ANOTHER, "UNI-003": Why.UNIT_ABSOLUTE}


def read_cell(column: Column, value: Value, words: Map[str, str], unit: str) -> Any:
    """Read a cell that holds something.

    Parameters
    ----------
    column : Column
    value : Value
    words : mapping of str to str
        A choice's own words, by their plain form.
    unit : str
        For bare numbers where the column has no unit of its own.

    Returns
    -------
    str, bool, int, float, date, Quantity or (Decimal, str)
        By the field's kind; None where the cell turns out blank.

    Raises
    ------
    CannotBeTaken
    """
    if isinstance(value, Unreadable):
        raise CannotBeTaken(value.reason.why, **dict(value.reason.values))
    kind = column.field.kind
    if kind in (FieldKind.TEXT, FieldKind.UNIT):
        return read_text(value, column.field.longest, dates=column.field.key == "note")
    if kind in (FieldKind.CHOICE, FieldKind.FLAG):
        return _choice(column, value, words)
    if kind is FieldKind.DATE:
        return _date(column, value)
    number, said = _number(column, value)
    if number is None:
        return None
    if kind is FieldKind.MONTHS:
        return _months(number, said or column.unit)
    if kind is FieldKind.NUMBER:
        if said:
            raise CannotBeTaken(Why.NUMBER_WITH_UNIT, unit=said[:20])
        return float(number)
    if kind is FieldKind.MEASURED:
        return number, said or column.unit
    return quantity(column, number, _one_unit(column, said, unit))


def read_text(value: Value, longest: int, *, dates: bool = False) -> str | None:
    """Read a cell as text: one line, composed letters, no hidden marks.

    Parameters
    ----------
    value : Value
    longest : int
    dates : bool
        Whether a date may stand there; elsewhere the spreadsheet made it of something like "3-12".

    Returns
    -------
    str or None

    Raises
    ------
    CannotBeTaken
    """
    if isinstance(value, float) and abs(value) >= _LONGEST_EXACT:
        raise CannotBeTaken(Why.DIGITS_LOST)
    if isinstance(value, dt.date) and not dates:
        raise CannotBeTaken(Why.TEXT_BECAME_DATE)
    text = as_text(value)
    if not text.isascii():
        text = unicodedata.normalize("NFC", text.translate(_SHAPELESS))
        if not _TURNING.isdisjoint(text):
            raise CannotBeTaken(Why.TEXT_TURNED)
    text = " ".join(text.split())
    if not text.isprintable() and any(unicodedata.category(c) in ("Cc", "Cs", "Co", "Cn") for c in text):
        raise CannotBeTaken(Why.TEXT_CONTROLS)
    if len(text) > longest:
        raise CannotBeTaken(Why.TEXT_TOO_LONG, found=len(text), most=longest)
    return text or None


def _choice(column: Column, value: Value, words: Map[str, str]) -> Any:
    key = "flag" if column.field.kind is FieldKind.FLAG else column.field.key
    text = read_text(value, 200)
    if text is None:
        return None
    known = choices_of(key)
    found = words.get(plain(text)) or known.get(plain(text)) or known.get(text)
    if found is None or found not in known.values():
        choices = ", ".join(dict.fromkeys(known.values()))
        raise CannotBeTaken(Why.NO_CHOICE, choices=choices, field=column.field.key)
    return found == "true" if key == "flag" else found


def _date(column: Column, value: Value) -> dt.date | None:
    if isinstance(value, dt.datetime):
        return in_range(value.date())
    if isinstance(value, dt.date):
        return in_range(value)
    if isinstance(value, float) and not isinstance(value, bool):
        return day_of_number(value)
    text = as_text(value).strip()
    return read_date(text, column.dates) if text not in ("", "-") else None


def _number(column: Column, value: Value) -> tuple[Decimal | None, str]:
    """Give a cell's number and the unit that stands in the cell itself."""
    if isinstance(value, dt.date):
        raise CannotBeTaken(Why.NUMBER_BECAME_DATE)
    if isinstance(value, bool):
        raise CannotBeTaken(Why.NUMBER_IS_TRUTH)
    if isinstance(value, float):
        return exact(value), ""
    text = as_text(value).translate(_SHAPELESS).strip()
    if text in ("", "-", "–", "n/a", "N/A", "na", "NA"):
        return None, ""
    parts = split_number(text)
    if parts is None:
        raise CannotBeTaken(Why.NUMBER_NOT_ONE)
    return read_number(parts[0], column.decimal), parts[1]


def _one_unit(column: Column, said: str, other: str) -> str:
    """Hold the cell's own unit against the heading's: two that differ are a contradiction, not a choice."""
    kind, headed = QUANTITY_KINDS[column.field.kind], column.unit
    if not said:
        text = headed or other
        if not text:
            raise CannotBeTaken(Why.UNIT_MISSING, field=column.field.key)
        # a heading's unit was found when the columns were matched, and is a symbol already
        return text if text is headed and text in UNITS else known_unit(text, kind)
    own = known_unit(said, kind)
    if headed and own != headed:
        raise CannotBeTaken(Why.UNIT_CONTRADICTS, own=own, headed=headed)
    return own


def known_unit(text: str, kind: Kind) -> str:
    """Find the unit that a cell names.

    Parameters
    ----------
    text : str
    kind : Kind
        What it must measure.

    Returns
    -------
    str
        A symbol of `firstlift.core.units.UNITS`.

    Raises
    ------
    CannotBeTaken
    """
    try:
        return find_unit(text, kind).symbol
    except FirstliftError as error:
        raise CannotBeTaken(_UNIT_REASONS[error.problems[0].code], unit=text[:20], kind=kind) from None


def quantity(column: Column, number: Decimal, unit: str) -> Quantity:
    """Make a quantity and hold it to what is possible.

    Parameters
    ----------
    column : Column
    number : Decimal
    unit : str
        A symbol of `firstlift.core.units.UNITS`.

    Returns
    -------
    Quantity

    Raises
    ------
    CannotBeTaken
    """
    si = to_si(float(number), unit)
    kind = UNITS[unit].kind
    least = _LEAST.get(column.field.key)
    if least is None and si <= 0.0:
        raise CannotBeTaken(Why.NOT_ABOVE_ZERO)
    if least is not None and si < least:
        raise CannotBeTaken(Why.BELOW_LEAST, least=f"{least:g} Pa")
    if abs(si) > _MOST[kind]:
        raise CannotBeTaken(Why.BEYOND_ANY, field=column.field.shown)
    return Quantity(f"{number:f} {unit}", number, unit, kind, si)


def _months(number: Decimal, unit: str) -> int:
    word = plain(unit)
    if word in ("y", "yr", "yrs", "year", "years", "a", "jahr", "jahre", "an", "ans", "annee", "annees", "ano", "anos"):
        number *= 12
    elif word not in ("", "m", "mo", "mon", "month", "months", "monat", "monate", "mois", "mes", "meses", "mesi"):
        raise CannotBeTaken(Why.MONTHS_OTHER_UNIT, unit=unit[:20])
    elif not word:
        raise CannotBeTaken(Why.MONTHS_OR_YEARS)
    if number != int(number) or not 1 <= number <= _MOST_MONTHS:
        raise CannotBeTaken(Why.MONTHS_OUT_OF_RANGE, most=_MOST_MONTHS)
    return int(number)
