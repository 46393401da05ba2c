"""Mass flow of a gas through an open valve, by the relations of API 520-I in SI form.

References
----------
.. [1] API Standard 520, Part I, sizing for critical and subcritical gas flow (relations from memory, worked
   examples looked up through a general-purpose library): ideal-gas nozzle flow times a coefficient.
"""

from __future__ import annotations

import math

from firstlift.core.hazard.inputs import GAS_CONSTANT_J_MOL_K


def critical_pressure_ratio(heat_ratio: float) -> float:
    """Give the share of the inlet pressure below which the outlet no longer matters.

    Parameters
    ----------
    heat_ratio : float
        Ratio of specific heats k, above 1.

    Returns
    -------
    float
        ``(2/(k+1))^(k/(k-1))``, of absolute pressures.

    References
    ----------
    .. [1] Ideal-gas choked flow; API 520-I (memory).
    """
    k = heat_ratio
    return (2.0 / (k + 1.0)) ** (k / (k - 1.0))


def subcritical_factor(heat_ratio: float, ratio: float) -> float:
    """Give the factor F2 of subcritical flow.

    Parameters
    ----------
    heat_ratio : float
    ratio : float
        Outlet over inlet pressure, absolute, from the critical ratio to below 1.

    Returns
    -------
    float

    References
    ----------
    .. [1] API 520-I, subcritical gas flow (memory).
    """
    k, r = heat_ratio, ratio
    return math.sqrt(k / (k - 1.0) * r ** (2.0 / k) * (1.0 - r ** ((k - 1.0) / k)) / (1.0 - r))


def gas_flow_kg_s(
    area_m2: float,
    inlet_pa_abs: float,
    outlet_pa_abs: float,
    *,
    temperature_k: float,
    molar_mass_kg_mol: float,
    heat_ratio: float,
    compressibility: float = 1.0,
    coefficient: float = 0.975,
) -> float:
    """Give the mass flow of a gas through an area, choked or not.

    Parameters
    ----------
    area_m2 : float, [m2]
        Actual least area of the way.
    inlet_pa_abs, outlet_pa_abs : float, [Pa absolute]
    temperature_k : float, [K]
        Before the valve.
    molar_mass_kg_mol : float, [kg/mol]
    heat_ratio : float
    compressibility : float
        Z before the valve.
    coefficient : float
        Coefficient of discharge.

    Returns
    -------
    float, [kg/s]

    References
    ----------
    .. [1] API 520-I, critical and subcritical gas flow; the book's constants are these in other units.
    """
    k = heat_ratio
    density_term = molar_mass_kg_mol / (compressibility * GAS_CONSTANT_J_MOL_K * temperature_k)
    ratio = outlet_pa_abs / inlet_pa_abs
    if ratio <= critical_pressure_ratio(k):
        choked = k * (2.0 / (k + 1.0)) ** ((k + 1.0) / (k - 1.0))
        return coefficient * area_m2 * inlet_pa_abs * math.sqrt(choked * density_term)
    pressure_term = 2.0 * inlet_pa_abs * (inlet_pa_abs - outlet_pa_abs)
    return coefficient * area_m2 * subcritical_factor(k, ratio) * math.sqrt(pressure_term * density_term)


def sound_speed_m_s(temperature_k: float, molar_mass_kg_mol: float, heat_ratio: float) -> float:
    """Give the speed of sound of an ideal gas.

    Parameters
    ----------
    temperature_k : float, [K]
    molar_mass_kg_mol : float, [kg/mol]
    heat_ratio : float

    Returns
    -------
    float, [m/s]

    References
    ----------
    .. [1] ``sqrt(k R T / M)`` (computed).
    """
    return math.sqrt(heat_ratio * GAS_CONSTANT_J_MOL_K * temperature_k / molar_mass_kg_mol)
