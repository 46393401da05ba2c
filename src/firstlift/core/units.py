"""Units: what a person writes becomes SI inside; gauge and absolute pressure never mix.

A nameplate value keeps its own text, number and unit (`Quantity`), because a code's break points and
limits are judged in the nameplate's own decimal, not in pascals converted back.

References
----------
.. [1] BIPM, The International System of Units, 9th edition, 2019: exact definitions.
.. [2] NIST SP 811 (2008), appendix B: inch, pound-force, psi from exact definitions
   (1 in = 25.4 mm, 1 lb = 0.453 592 37 kg, standard gravity 9.806 65 m/s2).
"""

from __future__ import annotations

import difflib
import re
from dataclasses import dataclass
from decimal import Decimal, InvalidOperation
from enum import StrEnum

from firstlift.core.errors import FirstliftError, Problem

STANDARD_GRAVITY_M_S2 = 9.80665
_LBF = 0.45359237 * STANDARD_GRAVITY_M_S2
_INCH = 0.0254


class Kind(StrEnum):
    """What a unit measures."""

    PRESSURE = "pressure"
    FORCE = "force"
    LENGTH = "length"
    AREA = "area"
    TIME = "time"
    FREQUENCY = "frequency"
    TEMPERATURE = "temperature"
    STIFFNESS = "stiffness"
    RATIO = "ratio"
    MASS = "mass"
    SOUND = "sound"


@dataclass(frozen=True, slots=True)
class Unit:
    """A unit of measure: ``si = number * factor + offset``."""

    symbol: str
    kind: Kind
    factor: float
    offset: float = 0.0


def _table() -> dict[str, Unit]:
    rows: list[tuple[Kind, str, float]] = [
        (Kind.PRESSURE, "Pa", 1.0),
        (Kind.PRESSURE, "hPa", 100.0),
        (Kind.PRESSURE, "mbar", 100.0),
        (Kind.PRESSURE, "kPa", 1e3),
        (Kind.PRESSURE, "MPa", 1e6),
        (Kind.PRESSURE, "bar", 1e5),
        (Kind.PRESSURE, "psi", _LBF / _INCH**2),
        (Kind.PRESSURE, "ksi", 1e3 * _LBF / _INCH**2),
        (Kind.PRESSURE, "kgf/cm2", STANDARD_GRAVITY_M_S2 * 1e4),
        (Kind.PRESSURE, "mmH2O", STANDARD_GRAVITY_M_S2),
        (Kind.PRESSURE, "inH2O", STANDARD_GRAVITY_M_S2 * 25.4),
        (Kind.PRESSURE, "mmHg", 133.322387415),
        (Kind.PRESSURE, "inHg", 3386.388640341),
        (Kind.FORCE, "N", 1.0),
        (Kind.FORCE, "daN", 10.0),
        (Kind.FORCE, "kN", 1e3),
        (Kind.FORCE, "MN", 1e6),
        (Kind.FORCE, "lbf", _LBF),
        (Kind.FORCE, "klbf", 1e3 * _LBF),
        (Kind.FORCE, "kgf", STANDARD_GRAVITY_M_S2),
        (Kind.FORCE, "gf", STANDARD_GRAVITY_M_S2 * 1e-3),
        (Kind.FORCE, "tf", STANDARD_GRAVITY_M_S2 * 1e3),
        (Kind.LENGTH, "m", 1.0),
        (Kind.LENGTH, "cm", 1e-2),
        (Kind.LENGTH, "mm", 1e-3),
        (Kind.LENGTH, "um", 1e-6),
        (Kind.LENGTH, "in", _INCH),
        (Kind.LENGTH, "mil", _INCH * 1e-3),
        (Kind.LENGTH, "ft", 12 * _INCH),
        (Kind.AREA, "m2", 1.0),
        (Kind.AREA, "cm2", 1e-4),
        (Kind.AREA, "mm2", 1e-6),
        (Kind.AREA, "in2", _INCH**2),
        (Kind.TIME, "s", 1.0),
        (Kind.TIME, "ms", 1e-3),
        (Kind.TIME, "us", 1e-6),
        (Kind.TIME, "min", 60.0),
        (Kind.TIME, "h", 3600.0),
        (Kind.FREQUENCY, "Hz", 1.0),
        (Kind.FREQUENCY, "kHz", 1e3),
        (Kind.FREQUENCY, "MHz", 1e6),
        (Kind.STIFFNESS, "N/m", 1.0),
        (Kind.STIFFNESS, "N/mm", 1e3),
        (Kind.STIFFNESS, "kN/mm", 1e6),
        (Kind.STIFFNESS, "kN/m", 1e3),
        (Kind.STIFFNESS, "lbf/in", _LBF / _INCH),
        (Kind.STIFFNESS, "kgf/mm", STANDARD_GRAVITY_M_S2 * 1e3),
        (Kind.RATIO, "%", 1e-2),
        (Kind.RATIO, "1", 1.0),
        (Kind.MASS, "kg", 1.0),
        (Kind.MASS, "g", 1e-3),
        (Kind.MASS, "lb", 0.45359237),
        (Kind.SOUND, "V", 1.0),
        (Kind.SOUND, "mV", 1e-3),
        (Kind.SOUND, "uV", 1e-6),
        (Kind.SOUND, "counts", 1.0),
    ]
    table = {symbol: Unit(symbol, kind, factor) for kind, symbol, factor in rows}
    table["K"] = Unit("K", Kind.TEMPERATURE, 1.0)
    table["degC"] = Unit("degC", Kind.TEMPERATURE, 1.0, 273.15)
    table["degF"] = Unit("degF", Kind.TEMPERATURE, 5.0 / 9.0, 459.67 * 5.0 / 9.0)
    return table


UNITS = _table()

_SPELLINGS = {
    "barg": "bar",
    "bar(g)": "bar",
    "bar g": "bar",
    "psig": "psi",
    "psi(g)": "psi",
    "psi g": "psi",
    "lbf/in2": "psi",
    "kpag": "kPa",
    "kpa(g)": "kPa",
    "mpag": "MPa",
    "mpa(g)": "MPa",
    "kg/cm2": "kgf/cm2",
    "kg/cm2g": "kgf/cm2",
    "kg/cm2(g)": "kgf/cm2",
    "at": "kgf/cm2",
    "n/mm2": "MPa",
    "newton": "N",
    "lb/in": "lbf/in",
    "lbs": "lb",
    "inch": "in",
    "inches": "in",
    '"': "in",
    "sq in": "in2",
    "sqin": "in2",
    "sec": "s",
    "c": "degC",
    "°c": "degC",
    "f": "degF",
    "°f": "degF",
    "percent": "%",
    "-": "1",
    "count": "counts",
    "volt": "V",
    "volts": "V",
}
_ABSOLUTE = {"bara", "bar(a)", "bar a", "psia", "psi(a)", "psi a", "kpaa", "kpa(a)", "mpaa", "mpa(a)", "ata", "atm"}
_LOWERED: dict[str, list[str]] = {}
for _symbol in UNITS:
    _LOWERED.setdefault(_symbol.lower(), []).append(_symbol)


def _normalise(text: str) -> str:
    text = text.strip().replace("µ", "u").replace("μ", "u").replace("²", "2").replace("^2", "2")
    return re.sub(r"\s*([/()])\s*", r"\1", text)


def find_unit(text: str, kind: Kind, *, where: str = "") -> Unit:
    """Find the unit that ``text`` names, and hold it to the kind of quantity it must measure.

    Parameters
    ----------
    text : str
        As a person writes it: "bar", "psig", "kg/cm2", "N/mm".
    kind : Kind
        What it must measure.
    where : str
        Said in the message: file, key.

    Returns
    -------
    Unit

    Raises
    ------
    FirstliftError
        UNI-001 unknown unit, UNI-002 unit of another kind, UNI-003 absolute pressure.
    """
    plain = _normalise(text)
    lowered = plain.lower()
    if lowered in _ABSOLUTE:
        raise FirstliftError(
            Problem(
                "UNI-003",
                f"'{text}' is an absolute pressure",
                where,
                "a gauge pressure (bar, kPa, MPa, psi, kgf/cm2)",
                "Subtract the local atmospheric pressure and write the gauge value",
            )
        )
    symbol: str | None = None
    if plain in UNITS:
        symbol = plain
    elif lowered in _SPELLINGS:
        symbol = _SPELLINGS[lowered]
    elif len(_LOWERED.get(lowered, [])) == 1:
        # "KPA", "Bar", "nm"-like slips of case are safe only where no other unit differs by case alone
        symbol = _LOWERED[lowered][0]
    if symbol is not None and UNITS[symbol].kind is kind:
        return UNITS[symbol]
    of_kind = [unit.symbol for unit in UNITS.values() if unit.kind is kind]
    if symbol is None:
        near = difflib.get_close_matches(plain, of_kind, n=1)
        hint = f"Did you mean '{near[0]}'" if near else f"Write one of: {', '.join(of_kind)}"
        raise FirstliftError(Problem("UNI-001", f"unit '{text}' is not known", where, f"a unit of {kind}", hint))
    raise FirstliftError(
        Problem(
            "UNI-002",
            f"'{text}' is a unit of {UNITS[symbol].kind}",
            where,
            f"a unit of {kind} ({', '.join(of_kind[:8])})",
            "Correct the unit or the key it stands under",
        )
    )


@dataclass(frozen=True, slots=True)
class Quantity:
    """A value as it was written, with its SI value beside it.

    ``text`` is what stood there, ``number`` its decimal in ``unit``, ``si`` the value in SI
    (pascals gauge, newtons, metres, square metres, seconds, kelvins, newtons per metre, ratio as 1).
    """

    text: str
    number: Decimal
    unit: str
    kind: Kind
    si: float


_NUMBER = re.compile(r"^\s*([+-]?(?:\d+(?:[.,]\d*)?|[.,]\d+)(?:[eE][+-]?\d+)?)\s*(.*?)\s*$", re.DOTALL)


def parse_number(text: str, *, where: str = "") -> Decimal:
    """Read a decimal number, point or comma; a comma before exactly three digits is refused as unclear.

    Parameters
    ----------
    text : str
    where : str
        Said in the message.

    Returns
    -------
    Decimal

    Raises
    ------
    FirstliftError
        UNI-004 not a number; UNI-005 a comma that may mean thousands.
    """
    if re.fullmatch(r"[+-]?[1-9]\d{0,2},\d{3}", text):
        raise FirstliftError(
            Problem(
                "UNI-005",
                f"'{text}' may mean a decimal comma or thousands",
                where,
                "a number that can be read one way only",
                f"Write '{text.replace(',', '.')}' or '{text.replace(',', '')}'",
            )
        )
    try:
        number = Decimal(text.replace(",", "."))
    except InvalidOperation:
        raise FirstliftError(Problem("UNI-004", f"'{text}' is not a number", where, "a number such as 12.5")) from None
    # the exponent is looked at first: arithmetic on a decimal such as 1e9999999 overflows by itself
    if not number.is_finite() or not -30 <= number.adjusted() <= 15:
        raise FirstliftError(Problem("UNI-004", f"'{text}' is not a usable number", where, "a finite number"))
    return number


def parse_quantity(text: str, kind: Kind, *, where: str = "") -> Quantity:
    """Read a value with its unit, such as "12.5 bar", "0.2 %" or "30 mm".

    Parameters
    ----------
    text : str
    kind : Kind
        What it must measure. There is no default unit: a bare number is refused.
    where : str
        Said in the message: file, table, key.

    Returns
    -------
    Quantity

    Raises
    ------
    FirstliftError
        UNI-001 to UNI-003 for the unit, UNI-004, UNI-005 for the number, UNI-006 no unit.
    """
    match = _NUMBER.match(text)
    if match is None:
        raise FirstliftError(
            Problem("UNI-004", f"'{text}' is not a number with a unit", where, f"a {kind} such as {_example(kind)}")
        )
    number = parse_number(match.group(1), where=where)
    if not match.group(2):
        raise FirstliftError(
            Problem("UNI-006", f"'{text}' has no unit", where, f"a {kind} with its unit, such as {_example(kind)}")
        )
    unit = find_unit(match.group(2), kind, where=where)
    return Quantity(text.strip(), number, unit.symbol, kind, to_si(float(number), unit.symbol))


def _example(kind: Kind) -> str:
    symbol = {Kind.PRESSURE: "bar", Kind.FORCE: "N", Kind.LENGTH: "mm", Kind.AREA: "mm2", Kind.RATIO: "%"}.get(
        kind, next(unit.symbol for unit in UNITS.values() if unit.kind is kind)
    )
    return f"'12.5 {symbol}'"


def to_si(number: float, symbol: str) -> float:
    """Turn a number in the unit ``symbol`` into SI.

    Parameters
    ----------
    number : float
    symbol : str
        A key of UNITS.

    Returns
    -------
    float
    """
    unit = UNITS[symbol]
    return number * unit.factor + unit.offset


def from_si(si: float, symbol: str) -> float:
    """Turn an SI value into the unit ``symbol``.

    Parameters
    ----------
    si : float
    symbol : str
        A key of UNITS.

    Returns
    -------
    float
    """
    unit = UNITS[symbol]
    return (si - unit.offset) / unit.factor
