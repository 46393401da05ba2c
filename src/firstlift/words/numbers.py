"""How numbers are printed: rounded once, by their uncertainty, in the nameplate's unit.

Judging is done on unrounded numbers; only what is shown passes through here. The decimal mark is the place's.

References
----------
.. [1] JCGM 100:2008, 7.2.6: at most two significant digits of uncertainty, the value to the same digit.
.. [2] ISO 80000-1, annex B, rule A: in one step, an exact tie to the even digit.
"""

from __future__ import annotations

import math
from decimal import ROUND_HALF_EVEN, Context, Decimal

from firstlift.core.units import UNITS
from firstlift.words.place import local

_CONTEXT = Context(prec=40, rounding=ROUND_HALF_EVEN)
_SHOWN = {
    "um": "µm",
    "us": "µs",
    "uV": "µV",
    "degC": "°C",
    "degF": "°F",
    "kgf/cm2": "kgf/cm²",
    "m2": "m²",
    "cm2": "cm²",
    "mm2": "mm²",
    "in2": "in²",
    "1": "",
}


def show_unit(symbol: str) -> str:
    """Give a unit's symbol as it is printed ("um" becomes "µm").

    Parameters
    ----------
    symbol : str
        A key of `firstlift.core.units.UNITS`; anything else comes back as it is.

    Returns
    -------
    str
    """
    return _SHOWN.get(symbol, symbol)


def in_unit(si: float, unit: str) -> Decimal:
    """Turn an SI value into ``unit`` without binary noise, so that a tie stays a tie.

    Parameters
    ----------
    si : float
        Finite.
    unit : str
        A key of UNITS.

    Returns
    -------
    Decimal
    """
    entry = UNITS[unit]
    shifted = _CONTEXT.subtract(Decimal(repr(float(si))), Decimal(repr(entry.offset)))
    return _CONTEXT.divide(shifted, Decimal(repr(entry.factor)))


def round_significant(number: Decimal, digits: int) -> Decimal:
    """Round to significant digits, half to even; the digits asked for also where the rounding carries.

    Parameters
    ----------
    number : Decimal
    digits : int
        1 or more.

    Returns
    -------
    Decimal
        Its exponent says which digit was the last.
    """
    if number == 0:
        return Decimal(0)
    exponent = number.adjusted() - digits + 1
    rounded = _at(number, exponent)
    if rounded.adjusted() > number.adjusted():
        rounded = _at(number, exponent + 1)
    return rounded


def _at(number: Decimal, exponent: int) -> Decimal:
    return number.quantize(Decimal(1).scaleb(exponent), context=_CONTEXT)


def _plain(number: Decimal) -> str:
    return local(_point(number))


def _point(number: Decimal) -> str:
    text = format(number, "f")
    return text.lstrip("-") if number == 0 else text


def round_with_uncertainty(value: Decimal, uncertainty: Decimal) -> tuple[str, str]:
    """Round an uncertainty to two significant digits and its value to the same digit.

    Parameters
    ----------
    value, uncertainty : Decimal
        In one unit; uncertainty above 0.

    Returns
    -------
    value, uncertainty : str
    """
    rounded = round_significant(uncertainty, 2)
    exponent = rounded.as_tuple().exponent
    assert isinstance(exponent, int)
    return _plain(_at(value, exponent)), _plain(rounded)


def format_value(si: float | None, unit: str, *, digits: int = 4) -> str:
    """Print a value that carries no uncertainty of its own, to significant digits.

    Parameters
    ----------
    si : float or None
        SI value; None or not finite prints as a dash.
    unit : str
        A key of UNITS.
    digits : int

    Returns
    -------
    str
    """
    if si is None or not math.isfinite(si):
        return "–"
    return f"{_plain(round_significant(in_unit(si, unit), digits))} {show_unit(unit)}".rstrip()


def format_short(si: float, unit: str, *, digits: int = 3) -> str:
    """Print a value inside a sentence: few significant digits, no zeros at its end.

    Parameters
    ----------
    si : float
    unit : str
        A key of UNITS.
    digits : int

    Returns
    -------
    str
    """
    if not math.isfinite(si):
        return "–"
    return f"{_stripped(round_significant(in_unit(si, unit), digits))} {show_unit(unit)}".rstrip()


def _stripped(number: Decimal) -> str:
    text = _point(number)
    return local(text.rstrip("0").rstrip(".") if "." in text else text)


def format_exact(si: float, unit: str) -> str:
    """Print a limit or a nameplate value: up to seven significant digits, no trailing zeros.

    Parameters
    ----------
    si : float
    unit : str
        A key of UNITS.

    Returns
    -------
    str
    """
    return format_short(si, unit, digits=7)


def format_pressure(pa: float | None, unit: str, u_pa: float | None = None) -> str:
    """Print a gauge pressure, with its uncertainty where there is one.

    Parameters
    ----------
    pa : float or None, [Pa gauge]
        None prints as a dash.
    unit : str
        Pressure unit of the nameplate, a key of UNITS.
    u_pa : float or None, [Pa]
        Uncertainty, standard or expanded; None or 0 where none is known.

    Returns
    -------
    str
        "10.020 ± 0.056 bar"; without uncertainty four significant digits.
    """
    if pa is None or not math.isfinite(pa):
        return "–"
    if u_pa is None or not math.isfinite(u_pa) or u_pa <= 0.0:
        return format_value(pa, unit)
    value, uncertainty = pressure_pair(pa, unit, u_pa)
    return f"{value} ± {uncertainty} {show_unit(unit)}"


def pressure_pair(pa: float, unit: str, u_pa: float) -> tuple[str, str]:
    """Give a pressure and its uncertainty as two strings without unit, for a table.

    Parameters
    ----------
    pa, u_pa : float, [Pa]
        Uncertainty above 0.
    unit : str
        A key of UNITS.

    Returns
    -------
    value, uncertainty : str
    """
    factor = Decimal(repr(UNITS[unit].factor))
    return round_with_uncertainty(in_unit(pa, unit), _CONTEXT.divide(Decimal(repr(float(u_pa))), factor))


def format_force(n: float | None) -> str:
    """Print a force ([N]; None: a dash) in newtons, from 10 kN on in kilonewtons."""
    return "–" if n is None else format_short(n, "kN" if abs(n) >= 1e4 else "N", digits=4)


def format_length(m: float | None) -> str:
    """Print a small length: micrometres under 0.1 mm, else millimetres.

    Parameters
    ----------
    m : float or None, [m]

    Returns
    -------
    str
    """
    return "–" if m is None else format_short(m, "um" if 0.0 < abs(m) < 1e-4 else "mm")


def format_time(s: float | None, u_s: float | None = None) -> str:
    """Print an instant of the recording's clock, with its standard uncertainty where known.

    Parameters
    ----------
    s : float or None, [s]
    u_s : float or None, [s]

    Returns
    -------
    str
    """
    if s is None or not math.isfinite(s):
        return "–"
    if u_s is None or not math.isfinite(u_s) or u_s <= 0.0:
        return f"{_plain(_at(in_unit(s, 's'), -3))} s"
    value, uncertainty = round_with_uncertainty(in_unit(s, "s"), in_unit(u_s, "s"))
    return f"{value} ± {uncertainty} s"


def format_share(ratio: float | None) -> str:
    """Print a ratio (None: a dash) in per cent, one decimal; what rounds to nothing is printed as less than 0.1 %."""
    if ratio is None or not math.isfinite(ratio):
        return "–"
    if 0.0 < ratio < 0.0005:
        return local("< 0.1 %")
    return f"{_plain(_at(in_unit(ratio, '%'), -1))} %"


def format_probability(probability: float | None) -> str:
    """Print a probability in per cent; never as certainty, which no measurement gives, whatever arithmetic rounds to.

    Parameters
    ----------
    probability : float or None

    Returns
    -------
    str
    """
    if probability is None or not math.isfinite(probability):
        return "–"
    if probability >= 0.9995:
        return local("> 99.9 %")
    return format_share(max(probability, 1e-9))
