"""The rules of a job sheet: which code judges, how, and an owner's own limits."""

from __future__ import annotations

import math
from collections.abc import Mapping
from decimal import Decimal

from firstlift.core.job import Decision, OwnerLimit, OwnerLimits, Rules
from firstlift.core.tolerance import KNOWN_CODES
from firstlift.core.units import UNITS, Kind, Quantity
from firstlift.formats.sheet_table import Table, did_you_mean, shown

OWNER = "owner"
LIMIT_KEYS = ("as_found_lower", "as_found_upper", "as_left_lower", "as_left_upper", "lower", "upper")
_LBF_N = Decimal("0.45359237") * Decimal("9.80665")
_PSI_PA = _LBF_N / Decimal("0.0254") ** 2


def read_rules(table: Table, set_pressure: Quantity | None, purpose: str) -> Rules | None:
    """Read [rules].

    Parameters
    ----------
    table : Table
    set_pressure : Quantity or None
        The nameplate's: an owner's limits are turned into its unit.
    purpose : str
        "as-found" or "as-left": the pair of an owner's limits that must be there.

    Returns
    -------
    Rules or None
        None where a problem was noted.
    """
    code = _read_code(table)
    edition = table.text("edition")
    decision = table.choice("decision", Decision, Decision.GUARDED)
    probability = table.number("decision_probability", 0.5, 0.9999)
    pulls = table.whole("agreeing_pulls", 1, 100)
    spread = table.si("agreement_spread", Kind.RATIO, above=0.0)
    limits = _read_limits(table, code, set_pressure, purpose)
    if code is None or decision is None:
        return None
    return Rules(
        code=code,
        edition=edition,
        decision=decision,
        decision_probability=0.95 if probability is None else probability,
        agreeing_pulls=3 if pulls is None else pulls,
        agreement_spread=0.03 if spread is None else spread,
        owner_limits=limits,
    )


def _read_code(table: Table) -> str | None:
    needed = "one of " + ", ".join(KNOWN_CODES)
    if not table.has("code"):
        table.missing("code", needed)
        return None
    value = table.data["code"]
    if isinstance(value, str) and value in KNOWN_CODES:
        return value
    hint = did_you_mean(str(value), KNOWN_CODES)
    table.note("JOB-012", f"code '{shown(value)}' is not known", "code", needed, hint)
    return None


def _read_limits(table: Table, code: str | None, set_pressure: Quantity | None, purpose: str) -> OwnerLimits:
    given = [key for key in LIMIT_KEYS if table.has(key)]
    if code != OWNER:
        if given and code is not None:
            table.note(
                "JOB-008", f"'{given[0]}' is given but code '{code}' brings its own limits", given[0],
                'limits only with code = "owner"', "Remove the limits, or set the code",
            )  # fmt: skip
        return OwnerLimits()
    if set_pressure is None:
        return OwnerLimits()
    read = {key: limit for key in given if (limit := read_limit(table, key, set_pressure)) is not None}
    state = purpose.replace("-", "_")
    for side in ("lower", "upper"):
        if side not in given and f"{state}_{side}" not in given:
            table.missing(f"{state}_{side}", f"the owner's {side} limit for '{purpose}' (or '{side}' for both)")
    limits: dict[str, OwnerLimit | None] = {}
    crossed: dict[str, str] = {}
    for half in ("as_found", "as_left"):
        lower = limits[f"{half}_lower"] = read.get(f"{half}_lower", read.get("lower"))
        upper = limits[f"{half}_upper"] = read.get(f"{half}_upper", read.get("upper"))
        if lower and upper and limit_pressure(lower, set_pressure) >= limit_pressure(upper, set_pressure):
            crossed.setdefault(f"{half}_lower" if table.has(f"{half}_lower") else "lower", half)
    for key, half in crossed.items():
        table.note("JOB-008", f"the owner's lower limit for {half} is not below the upper one", key)
    return OwnerLimits(**limits)


def read_limit(table: Table, key: str, set_pressure: Quantity) -> OwnerLimit | None:
    """Read one owner's limit: a signed share, a signed pressure (deviation) or a plain pressure (the limit).

    Parameters
    ----------
    table : Table
    key : str
    set_pressure : Quantity
        The nameplate's.

    Returns
    -------
    OwnerLimit or None
        None where a problem was noted.
    """
    text = table.data[key]
    words = text.strip() if isinstance(text, str) else ""
    signed = words[:1] in ("+", "-", "\u2212")
    if words.endswith("%"):
        share = table.quantity(key, Kind.RATIO, above=-1.0)
        if share is None:
            return None
        if share.number != 0 and not signed:
            table.note(
                "JOB-008", f"'{shown(words)}' has no sign", key, "a signed share such as '-3 %' or '+1 %'",
                f"Write '+{shown(words)}' or '-{shown(words)}'",
            )  # fmt: skip
            return None
        return OwnerLimit(share.number / 100, None, is_deviation=True)
    pressure = table.quantity(key, Kind.PRESSURE, above=-math.inf if signed else 0.0)
    if pressure is None:
        return None
    number = in_unit(pressure.number, pressure.unit, set_pressure.unit)
    limit = OwnerLimit(None, number, is_deviation=signed)
    if limit_pressure(limit, set_pressure) <= 0:
        table.note("JOB-008", f"'{shown(words)}' leaves no pressure above 0", key, "a limit above 0")
        return None
    return limit


def limit_pressure(limit: OwnerLimit, set_pressure: Quantity) -> Decimal:
    """Give the limiting pressure in the nameplate's unit.

    Parameters
    ----------
    limit : OwnerLimit
    set_pressure : Quantity

    Returns
    -------
    Decimal
    """
    if limit.relative is not None:
        return set_pressure.number * (1 + limit.relative)
    absolute = limit.absolute if limit.absolute is not None else Decimal(0)
    return set_pressure.number + absolute if limit.is_deviation else absolute


def in_unit(number: Decimal, unit: str, wanted: str) -> Decimal:
    """Turn a pressure into another unit of pressure in decimals, as exactly as the units are defined.

    Parameters
    ----------
    number : Decimal
    unit, wanted : str
        Symbols of units of pressure.

    Returns
    -------
    Decimal
    """
    return number if unit == wanted else number * _exact_pa(unit) / _exact_pa(wanted)


def _exact_pa(symbol: str) -> Decimal:
    exact: Mapping[str, Decimal] = {"psi": _PSI_PA, "ksi": 1000 * _PSI_PA}
    # every other factor is a decimal of at most 13 digits, so 15 digits of its binary form give it back
    return exact.get(symbol, Decimal(f"{UNITS[symbol].factor:.15g}"))
