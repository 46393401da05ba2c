"""The jet from an open outlet: how cold or hot, and how far it stays fast, hot or harmful.

On the axis of a free round jet speed and mass share fall with one over the distance, whatever the jet was at
its mouth; only its thrust, its mass flow and the density of the air around count. Wind, buoyancy, walls and
drops of liquid are not in it: the distances say where nobody stands, not where it is safe.

References
----------
.. [1] S. B. Pope, Turbulent Flows (2000), section 5.1: axial decay of a round jet, ``u/u0 = 6 d/x`` (memory).
.. [2] Decay of the mass share of a round jet, ``5 d/x`` (common value, memory).
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from firstlift.core.errors import FirstliftError, Problem
from firstlift.core.hazard.inputs import ATMOSPHERE_PA, GAS_CONSTANT_J_MOL_K

_SPEED_DECAY = 6.0
_SHARE_DECAY = 5.0
AIR_MOLAR_MASS_KG_MOL = 0.0289652


@dataclass(frozen=True, slots=True)
class Discharged:
    """The fluid after throttling to the atmosphere without heat or work: ``temperature_k``, and vapour share.

    ``vapour_share`` is 1 where all is vapour, None where the library does not say.
    """

    temperature_k: float
    vapour_share: float | None


def discharge_state(name: str, inlet_pa_abs: float, temperature_k: float | None) -> Discharged:
    """Give the state of a fluid throttled from before the valve to the atmosphere.

    Parameters
    ----------
    name : str
        CoolProp's name of the fluid.
    inlet_pa_abs : float, [Pa absolute]
    temperature_k : float or None, [K]
        None for saturated vapour.

    Returns
    -------
    Discharged

    Raises
    ------
    FirstliftError
        HAZ-007 the fluid is not known, or not at that state.

    References
    ----------
    .. [1] Equal enthalpy before and after; properties by CoolProp (computed).
    """
    from CoolProp.CoolProp import PropsSI

    try:
        known = ("Q", 1.0) if temperature_k is None else ("T", temperature_k)
        enthalpy = float(PropsSI("H", "P", inlet_pa_abs, *known, name))
        temperature = float(PropsSI("T", "P", ATMOSPHERE_PA, "H", enthalpy, name))
        quality = float(PropsSI("Q", "P", ATMOSPHERE_PA, "H", enthalpy, name))
    except ValueError as error:
        raise _unknown(name, inlet_pa_abs, temperature_k) from error
    return Discharged(temperature, quality if 0.0 <= quality <= 1.0 else None)


def _unknown(name: str, inlet_pa_abs: float, temperature_k: float | None) -> FirstliftError:
    at = "saturated" if temperature_k is None else f"{temperature_k - 273.15:.1f} degC"
    return FirstliftError(
        Problem(
            "HAZ-007",
            f"no properties of fluid '{name[:60]}' at {inlet_pa_abs / 1e5:.4g} bar absolute, {at}",
            "fluid",
            "a pure fluid that CoolProp knows, at a state it covers",
            "Check name and temperature, or enter molar mass and ratio of specific heats",
        )
    )


def known_properties(name: str, inlet_pa_abs: float, temperature_k: float) -> tuple[float, float, float, float]:
    """Give molar mass, ratio of specific heats, compressibility and sound speed of a gas before the valve.

    Parameters
    ----------
    name : str
        CoolProp's name of the fluid.
    inlet_pa_abs : float, [Pa absolute]
    temperature_k : float, [K]

    Returns
    -------
    molar_mass_kg_mol, heat_ratio, compressibility, sound_speed_m_s : float
        The ratio is the ideal gas's at that temperature, as the relations of API 520 ask for.

    Raises
    ------
    FirstliftError
        HAZ-007 the fluid is not known, not at that state, or not a gas there.

    References
    ----------
    .. [1] CoolProp (computed); API 520-I on the choice of k (memory).
    """
    from CoolProp.CoolProp import PhaseSI, PropsSI

    at = ("P", inlet_pa_abs, "T", temperature_k, name)
    try:
        phase = str(PhaseSI(*at))
        molar_mass = float(PropsSI("M", name))
        ideal = float(PropsSI("CP0MOLAR", *at))
        values = molar_mass, ideal / (ideal - GAS_CONSTANT_J_MOL_K), float(PropsSI("Z", *at)), float(PropsSI("A", *at))
    except ValueError as error:
        raise _unknown(name, inlet_pa_abs, temperature_k) from error
    if phase not in ("gas", "supercritical_gas", "supercritical"):
        raise FirstliftError(
            Problem(
                "HAZ-007",
                f"'{name[:60]}' is {phase.replace('_', ' ')} at {inlet_pa_abs / 1e5:.4g} bar absolute and "
                f"{temperature_k - 273.15:.1f} degC",
                "fluid",
                "a gas",
                "Correct the temperature, or enter the medium as liquid",
            )
        )
    return values


def liquid_properties(name: str, inlet_pa_abs: float, temperature_k: float) -> tuple[float, float | None]:
    """Give density and vapour pressure of a liquid before the valve.

    Parameters
    ----------
    name : str
        CoolProp's name of the fluid.
    inlet_pa_abs : float, [Pa absolute]
    temperature_k : float, [K]

    Returns
    -------
    density_kg_m3 : float
    vapour_pressure_pa_abs : float or None
        None above the critical temperature.

    Raises
    ------
    FirstliftError
        HAZ-007 the fluid is not known, or not at that state.

    References
    ----------
    .. [1] CoolProp (computed).
    """
    from CoolProp.CoolProp import PropsSI

    try:
        density = float(PropsSI("D", "P", inlet_pa_abs, "T", temperature_k, name))
        if temperature_k >= float(PropsSI("Tcrit", name)):
            return density, None
        return density, float(PropsSI("P", "T", temperature_k, "Q", 0, name))
    except ValueError as error:
        raise _unknown(name, inlet_pa_abs, temperature_k) from error


def air_density_kg_m3(ambient_temperature_k: float) -> float:
    """Give the density of air at the atmosphere's pressure.

    Parameters
    ----------
    ambient_temperature_k : float, [K]

    Returns
    -------
    float, [kg/m3]
    """
    return ATMOSPHERE_PA * AIR_MOLAR_MASS_KG_MOL / (GAS_CONSTANT_J_MOL_K * ambient_temperature_k)


def distance_for_speed_m(thrust_n: float, speed_m_s: float, air_kg_m3: float) -> float:
    """Give the distance along the axis at which the jet has slowed to a speed.

    Parameters
    ----------
    thrust_n : float, [N]
        Momentum flux of the expanded jet: the reaction force.
    speed_m_s : float, [m/s]
    air_kg_m3 : float, [kg/m3]

    Returns
    -------
    float, [m]

    References
    ----------
    .. [1] Pope 2000, 5.1, with the mouth's diameter written as ``sqrt(4 J / (pi rho_air u0^2))``.
    """
    return _SPEED_DECAY * math.sqrt(4.0 * thrust_n / (math.pi * air_kg_m3)) / speed_m_s


def distance_for_share_m(flow_kg_s: float, thrust_n: float, mass_share: float, air_kg_m3: float) -> float:
    """Give the distance along the axis at which the released fluid is diluted to a mass share.

    Parameters
    ----------
    flow_kg_s : float, [kg/s]
    thrust_n : float, [N]
    mass_share : float
        Above 0, below 1.
    air_kg_m3 : float, [kg/m3]

    Returns
    -------
    float, [m]

    References
    ----------
    .. [1] Decay of the mass share by 5 equivalent diameters over distance (memory).
    """
    diameter = 2.0 * flow_kg_s / math.sqrt(math.pi * air_kg_m3 * thrust_n)
    return _SHARE_DECAY * diameter / mass_share


def mass_share(volume_share: float, molar_mass_kg_mol: float) -> float:
    """Turn a volume share in air into a mass share.

    Parameters
    ----------
    volume_share : float
        Above 0, up to 1.
    molar_mass_kg_mol : float, [kg/mol]

    Returns
    -------
    float
    """
    mixed = volume_share * molar_mass_kg_mol + (1.0 - volume_share) * AIR_MOLAR_MASS_KG_MOL
    return volume_share * molar_mass_kg_mol / mixed
