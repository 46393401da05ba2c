"""Mass flow of a liquid that stays liquid; one that would flash is refused, for this relation does not hold then.

References
----------
.. [1] API Standard 520, Part I, sizing for liquid relief, valves with certified capacity (memory; worked
   example looked up through a general-purpose library).
"""

from __future__ import annotations

import math

from firstlift.core.errors import FirstliftError, Problem


def flashes(vapour_pressure_pa_abs: float | None, outlet_pa_abs: float) -> bool | None:
    """Say whether a liquid boils on its way out.

    Parameters
    ----------
    vapour_pressure_pa_abs : float or None, [Pa absolute]
        At the temperature before the valve; None where nobody knows.
    outlet_pa_abs : float, [Pa absolute]

    Returns
    -------
    bool or None
        None where it cannot be said.
    """
    return None if vapour_pressure_pa_abs is None else vapour_pressure_pa_abs > outlet_pa_abs


def liquid_flow_kg_s(
    area_m2: float,
    inlet_pa: float,
    outlet_pa: float,
    *,
    density_kg_m3: float,
    coefficient: float = 0.65,
    back_pressure_correction: float = 1.0,
    viscosity_correction: float = 1.0,
    vapour_pressure_pa_abs: float | None = None,
) -> float:
    """Give the mass flow of a liquid through an area.

    Parameters
    ----------
    area_m2 : float, [m2]
        Actual least area of the way.
    inlet_pa, outlet_pa : float, [Pa]
        Absolute; only their difference counts where no vapour pressure is given.
    density_kg_m3 : float, [kg/m3]
    coefficient, back_pressure_correction, viscosity_correction : float
        Kd, Kw and Kv of the source.
    vapour_pressure_pa_abs : float or None, [Pa absolute]
        At the temperature before the valve.

    Returns
    -------
    float, [kg/s]

    Raises
    ------
    FirstliftError
        HAZ-001 no pressure difference drives the flow; HAZ-006 the liquid boils at the outlet's pressure.

    References
    ----------
    .. [1] API 520-I, liquid relief: ``W = Kd Kw Kv A sqrt(2 rho dp)``; the book's 11.78 is this in other units.
    """
    if not inlet_pa > outlet_pa:
        raise FirstliftError(
            Problem("HAZ-001", "no pressure drives the flow", "back pressure", "an inlet pressure above the outlet's")
        )
    if flashes(vapour_pressure_pa_abs, outlet_pa) and vapour_pressure_pa_abs is not None:
        raise FirstliftError(
            Problem(
                "HAZ-006",
                f"the liquid flashes: its vapour pressure of {vapour_pressure_pa_abs / 1e5:.3g} bar absolute is above "
                f"the outlet's {outlet_pa / 1e5:.3g} bar absolute",
                "vapour pressure",
                "a liquid that stays liquid",
                "Have two-phase flow worked out by whoever sized the valve",
            )
        )
    corrections = coefficient * back_pressure_correction * viscosity_correction
    return corrections * area_m2 * math.sqrt(2.0 * density_kg_m3 * (inlet_pa - outlet_pa))
