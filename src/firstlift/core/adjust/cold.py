"""Cold differential test pressure from set pressure, back pressure and temperature, both ways."""

from __future__ import annotations

import math
from dataclasses import dataclass

from firstlift.core.errors import FirstliftError, Problem
from firstlift.core.setpressure import back_pressure_terms
from firstlift.core.valve import Valve, ValveType

# a hot valve's spring and body give way: the cold pressure is set higher by this share, up to this temperature
# (closed bonnet; common practice, no source, the maker's own table goes before it)
_ADDED = ((338.15, 0.0), (588.15, 0.01), (700.15, 0.02), (813.15, 0.03))


@dataclass(frozen=True, slots=True)
class ColdPressure:
    """Set pressure in service and the cold pressure that belongs to it, [Pa gauge].

    ``multiplier`` is the temperature's, ``back_pressure_part_pa`` what the back pressure takes off.
    """

    set_pressure_pa: float
    cold_pressure_pa: float
    multiplier: float
    back_pressure_part_pa: float
    multiplier_assumed: bool


def temperature_multiplier(temperature_k: float, valve_type: ValveType) -> float:
    """Give the multiplier of the cold pressure for a temperature before the valve.

    Parameters
    ----------
    temperature_k : float, [K]
        Of the medium at the valve's inlet in service.
    valve_type : ValveType

    Returns
    -------
    float
        1 or more.

    Raises
    ------
    FirstliftError
        ADJ-003 too hot for the table, or a hot vented bonnet: the maker's multiplier is needed.

    References
    ----------
    .. [1] 1 % up to 315 degC, 2 % up to 427 degC, 3 % up to 540 degC for a closed bonnet (common practice).
    """
    added = next((share for up_to, share in _ADDED if temperature_k <= up_to), None)
    vented = valve_type is ValveType.VENTED_BONNET
    if added is None or (vented and added > 0.0) or not temperature_k > 0.0:
        what = "a vented bonnet runs cooler than the table's" if vented else "beyond the table"
        raise FirstliftError(
            Problem(
                "ADJ-003",
                f"no multiplier is known for {temperature_k - 273.15:.0f} degC: {what}",
                "temperature",
                "the maker's multiplier, such as 1.015",
                "Take it from the maker's sheet",
            )
        )
    return 1.0 + added


def cold_pressure(
    valve: Valve,
    area_m2: float,
    *,
    temperature_k: float | None,
    multiplier: float | None = None,
    set_pressure_pa: float | None = None,
    cold_pressure_pa: float | None = None,
) -> ColdPressure:
    """Turn a set pressure into the cold differential test pressure, or back.

    The bench has neither the back pressure nor the temperature of service. The back pressure counts by the
    valve's type, with the same weights as in a test (`firstlift.core.setpressure`).

    Parameters
    ----------
    valve : Valve
        Type and superimposed back pressure.
    area_m2 : float, [m2]
        Seat area.
    temperature_k : float or None, [K]
        In service; None only where a multiplier is given.
    multiplier : float or None
        The maker's; goes before the table.
    set_pressure_pa, cold_pressure_pa : float or None, [Pa gauge]
        Exactly one: the other is given.

    Returns
    -------
    ColdPressure

    Raises
    ------
    FirstliftError
        ADJ-003 the multiplier is not known or makes no sense; ADJ-004 not exactly one pressure, or nothing is
        left of it.

    References
    ----------
    .. [1] ``cold = multiplier (set - weight back pressure)`` (definition of the cold differential test pressure
       in API 520-I and 526, memory).
    """
    if (set_pressure_pa is None) == (cold_pressure_pa is None):
        raise _no_pressure("exactly one of set pressure and cold pressure must be given")
    if multiplier is None:
        if temperature_k is None:
            raise FirstliftError(
                Problem("ADJ-003", "neither temperature nor multiplier is known", "temperature", "one of the two")
            )
        factor = temperature_multiplier(temperature_k, valve.type)
    else:
        factor = multiplier
    if not (math.isfinite(factor) and 0.8 <= factor <= 1.3):
        raise FirstliftError(
            Problem("ADJ-003", f"a multiplier of {factor:g} makes no sense", "multiplier", "0.8 to 1.3")
        )
    part = back_pressure_terms(valve, area_m2).in_service * valve.superimposed_back_pressure_pa
    if set_pressure_pa is not None:
        in_service, cold = set_pressure_pa, factor * (set_pressure_pa - part)
    else:
        cold = cold_pressure_pa or 0.0
        in_service = cold / factor + part
    if not (cold > 0.0 and in_service > 0.0):
        raise _no_pressure("the back pressure leaves nothing of the set pressure")
    return ColdPressure(in_service, cold, factor, part, multiplier is None)


def _no_pressure(what: str) -> FirstliftError:
    return FirstliftError(Problem("ADJ-004", what, "set pressure", "one pressure above the back pressure"))
