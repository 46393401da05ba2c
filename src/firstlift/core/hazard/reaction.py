"""Reaction force on the outlet of an open valve: steady flow, open discharge.

A sudden opening loads the pipe up to twice as hard for an instant (dynamic load factor, memory): the sheet
says so beside the number.

References
----------
.. [1] API Standard 520, Part II, reaction force of an open discharge, steady gas or vapour flow (form from
   memory, constants derived again from ideal-gas flow).
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from firstlift.core.hazard.inputs import ATMOSPHERE_PA, GAS_CONSTANT_J_MOL_K


@dataclass(frozen=True, slots=True)
class Reaction:
    """Force on the outlet, [N]: what the flow's momentum and what the pressure at the exit bring.

    ``exit_pressure_pa_abs`` is the static pressure that choked flow needs at the exit; below atmosphere the
    flow is not choked there and the pressure part is 0.
    """

    momentum_n: float
    pressure_n: float
    exit_pressure_pa_abs: float

    @property
    def total_n(self) -> float:
        """Both parts, [N]."""
        return self.momentum_n + self.pressure_n


def gas_reaction(
    flow_kg_s: float,
    outlet_area_m2: float,
    *,
    temperature_k: float,
    molar_mass_kg_mol: float,
    heat_ratio: float,
    atmosphere_pa: float = ATMOSPHERE_PA,
) -> Reaction:
    """Give the reaction of a gas or vapour leaving an open outlet.

    Parameters
    ----------
    flow_kg_s : float, [kg/s]
    outlet_area_m2 : float, [m2]
        Inside of the pipe at its end.
    temperature_k : float, [K]
        Of the gas at rest: throttling an ideal gas leaves it unchanged.
    molar_mass_kg_mol : float, [kg/mol]
    heat_ratio : float
    atmosphere_pa : float, [Pa absolute]

    Returns
    -------
    Reaction, [N]

    Notes
    -----
    The momentum part takes sonic speed at the exit. Where the flow is not choked there the true speed is lower,
    so the force is on the safe side.

    References
    ----------
    .. [1] API 520-II; ``W sqrt(2 k R T / ((k+1) M)) + A (P2 - P_atm)``, the book's 129 is ``sqrt(2 R)`` rounded.
    .. [2] Choked exit pressure ``(W/A) sqrt(2 R T / (k (k+1) M))`` (ideal gas, computed).
    """
    k = heat_ratio
    energy = 2.0 * GAS_CONSTANT_J_MOL_K * temperature_k / molar_mass_kg_mol
    exit_pressure = flow_kg_s / outlet_area_m2 * math.sqrt(energy / (k * (k + 1.0)))
    pressure_n = max(0.0, exit_pressure - atmosphere_pa) * outlet_area_m2
    return Reaction(flow_kg_s * math.sqrt(k / (k + 1.0) * energy), pressure_n, exit_pressure)


def liquid_reaction(flow_kg_s: float, outlet_area_m2: float, density_kg_m3: float) -> Reaction:
    """Give the reaction of a liquid leaving an open outlet that it fills.

    Parameters
    ----------
    flow_kg_s : float, [kg/s]
    outlet_area_m2 : float, [m2]
    density_kg_m3 : float, [kg/m3]

    Returns
    -------
    Reaction, [N]

    References
    ----------
    .. [1] Momentum flux ``W^2 / (rho A)`` (computed).
    """
    return Reaction(flow_kg_s**2 / (density_kg_m3 * outlet_area_m2), 0.0, ATMOSPHERE_PA)
