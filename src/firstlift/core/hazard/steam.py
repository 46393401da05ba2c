"""Mass flow of steam: Napier's relation with the correction above 10.3 MPa, and superheat.

The tables of superheat factors in the standard are not copied here. The factor is computed: flow of an
isentropic nozzle with the properties of water, at the superheated state, over Napier's flow at the same
pressure. It stays within 0.6 % of the standard's tenth edition up to 15 MPa (see the tests).
"""

from __future__ import annotations

import math

from firstlift.core.errors import FirstliftError, Problem

# 51.5 lb/h through a square inch at 1 psi absolute, in kg/s, m2 and Pa: W = 51.5 A P
_NAPIER_SI = 51.5 * 0.45359237 / 3600.0 / 0.0254**2 / (0.45359237 * 9.80665 / 0.0254**2)
_CORRECTED_FROM_PA = 10.339e6
_CORRECTED_TO_PA = 22.057e6
_HOTTEST_K = 922.15
# saturated within this of the saturation temperature: a thermometer on a valve does not know better
_SATURATED_WITHIN_K = 2.0


def napier_correction(inlet_pa_abs: float) -> float:
    """Give the correction KN of Napier's relation at high pressure.

    Parameters
    ----------
    inlet_pa_abs : float, [Pa absolute]

    Returns
    -------
    float
        1 up to 10.339 MPa.

    Raises
    ------
    FirstliftError
        HAZ-004 a pressure above 22.057 MPa.

    References
    ----------
    .. [1] API 520-I, sizing for steam (memory; value at 10.5 MPa computed with a general-purpose library).
    """
    if inlet_pa_abs > _CORRECTED_TO_PA:
        raise FirstliftError(
            Problem(
                "HAZ-004",
                f"steam at {inlet_pa_abs / 1e6:.2f} MPa absolute is beyond Napier's relation",
                "relieving pressure",
                f"at most {_CORRECTED_TO_PA / 1e6:.3f} MPa absolute",
                "Have the flow worked out by whoever sized the valve",
            )
        )
    if inlet_pa_abs <= _CORRECTED_FROM_PA:
        return 1.0
    kpa = inlet_pa_abs / 1e3
    return (0.02764 * kpa - 1000.0) / (0.03324 * kpa - 1061.0)


def saturation_temperature_k(pressure_pa_abs: float) -> float:
    """Give the saturation temperature of water.

    Parameters
    ----------
    pressure_pa_abs : float, [Pa absolute]

    Returns
    -------
    float, [K]

    References
    ----------
    .. [1] CoolProp, equation of state of IAPWS-95 (computed).
    """
    from CoolProp.CoolProp import PropsSI

    return float(PropsSI("T", "P", pressure_pa_abs, "Q", 1, "Water"))


def superheat_factor(temperature_k: float | None, inlet_pa_abs: float) -> float:
    """Give the factor by which superheat lowers the flow of Napier's relation.

    Parameters
    ----------
    temperature_k : float or None, [K]
        Before the valve; None for saturated steam.
    inlet_pa_abs : float, [Pa absolute]

    Returns
    -------
    float
        1 for saturated steam, else below 1.

    Raises
    ------
    FirstliftError
        HAZ-004 hotter than 649 degC; HAZ-005 below saturation: that is water, not steam.

    References
    ----------
    .. [1] Isentropic nozzle with the properties of water by CoolProp (computed), over Napier's relation.
    """
    if temperature_k is None:
        return 1.0
    saturation = saturation_temperature_k(inlet_pa_abs)
    if temperature_k < saturation - _SATURATED_WITHIN_K:
        raise FirstliftError(
            Problem(
                "HAZ-005",
                f"{temperature_k - 273.15:.1f} degC is below saturation ({saturation - 273.15:.1f} degC)",
                "temperature",
                "steam at or above saturation",
                "Correct the temperature or the pressure, or enter the medium as liquid",
            )
        )
    if temperature_k > _HOTTEST_K:
        raise FirstliftError(
            Problem(
                "HAZ-004",
                f"steam at {temperature_k - 273.15:.0f} degC is beyond the relation",
                "temperature",
                "at most 649 degC",
            )
        )
    if temperature_k <= saturation + _SATURATED_WITHIN_K:
        return 1.0
    napier = _NAPIER_SI * inlet_pa_abs * napier_correction(inlet_pa_abs)
    return min(1.0, nozzle_flux_kg_s_m2(temperature_k, inlet_pa_abs) / napier)


def nozzle_flux_kg_s_m2(temperature_k: float, inlet_pa_abs: float) -> float:
    """Give the largest mass flux of an isentropic nozzle for superheated steam.

    Parameters
    ----------
    temperature_k : float, [K]
    inlet_pa_abs : float, [Pa absolute]

    Returns
    -------
    float, [kg/(s m2)]

    References
    ----------
    .. [1] Energy balance ``u = sqrt(2 (h0 - h))`` along the isentrope, largest ``rho u`` (computed).
    """
    from CoolProp.CoolProp import PropsSI
    from scipy.optimize import minimize_scalar

    enthalpy = float(PropsSI("H", "P", inlet_pa_abs, "T", temperature_k, "Water"))
    entropy = float(PropsSI("S", "P", inlet_pa_abs, "T", temperature_k, "Water"))

    def negative_flux(ratio: float) -> float:
        pressure = ratio * inlet_pa_abs
        drop = enthalpy - float(PropsSI("H", "P", pressure, "S", entropy, "Water"))
        return -float(PropsSI("D", "P", pressure, "S", entropy, "Water")) * math.sqrt(max(0.0, 2.0 * drop))

    found = minimize_scalar(negative_flux, bounds=(0.35, 0.85), method="bounded", options={"xatol": 1e-4})
    return -float(found.fun)


def steam_flow_kg_s(
    area_m2: float, inlet_pa_abs: float, temperature_k: float | None, *, coefficient: float = 0.975
) -> float:
    """Give the mass flow of steam through an area (critical flow).

    Parameters
    ----------
    area_m2 : float, [m2]
        Actual least area of the way.
    inlet_pa_abs : float, [Pa absolute]
    temperature_k : float or None, [K]
        None for saturated steam.
    coefficient : float
        Coefficient of discharge.

    Returns
    -------
    float, [kg/s]

    References
    ----------
    .. [1] Napier's relation ``W = 51.5 A P`` in US units (memory), API 520-I.
    """
    factor = napier_correction(inlet_pa_abs) * superheat_factor(temperature_k, inlet_pa_abs)
    return coefficient * area_m2 * inlet_pa_abs * _NAPIER_SI * factor
