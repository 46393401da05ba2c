"""Noise of a discharge to atmosphere at a distance, and the limits for hearing.

References
----------
.. [1] API Standard 521, noise of a vent: level at 30 m from the power of the flow and a chart over the pressure
   ratio (form looked up through a general-purpose library, whose two straight lines through the chart are
   taken as data: the `fluids` library, version 1.3.1).
"""

from __future__ import annotations

import math
from dataclasses import dataclass

_REFERENCE_M = 30.0
# level = slope * log10(pressure ratio) + level at 1; the lower of the two lines holds (their kink lies at 2.93)
_CHART = ((87.9084, 12.7647), (4.8239, 51.6217))


@dataclass(frozen=True, slots=True)
class HearingLimit:
    """One limit for hearing, [dB(A)]; ``code`` names its sentence, ``status`` where the number comes from."""

    code: str
    level_db: float
    source: str
    status: str


# The whole day's limits are held against the discharge's own level: whoever stays is covered whatever the time.
HEARING_LIMITS = (
    HearingLimit("hearing-lower-action", 80.0, "Directive 2003/10/EC, article 3", "memory"),
    HearingLimit("hearing-upper-action", 85.0, "Directive 2003/10/EC, article 3", "memory"),
    HearingLimit("hearing-day", 90.0, "29 CFR 1910.95, 8 h", "memory"),
    HearingLimit("hearing-quarter-hour", 115.0, "29 CFR 1910.95, 15 min", "memory"),
    HearingLimit("hearing-peak", 140.0, "29 CFR 1910.95, peak", "memory"),
)


def chart_level_db(pressure_ratio: float) -> float:
    """Give the chart's level for a pressure ratio.

    Parameters
    ----------
    pressure_ratio : float
        Inlet over outlet pressure, absolute, above 1.

    Returns
    -------
    float, [dB]

    References
    ----------
    .. [1] API 521, chart, by two straight lines (`fluids` 1.3.1, looked up).
    """
    decades = math.log10(pressure_ratio)
    return min(slope * decades + offset for slope, offset in _CHART)


def noise_db(
    flow_kg_s: float, inlet_pa_abs: float, outlet_pa_abs: float, sound_speed_m_s: float, distance_m: float
) -> float:
    """Give the sound level at a distance from an open discharge, in the open, without reflections.

    Parameters
    ----------
    flow_kg_s : float, [kg/s]
    inlet_pa_abs, outlet_pa_abs : float, [Pa absolute]
    sound_speed_m_s : float, [m/s]
        Of the gas at the valve.
    distance_m : float, [m]
        From the outlet; the relation does not hold within a few metres.

    Returns
    -------
    float, [dB]

    References
    ----------
    .. [1] API 521: ``L30 = L(PR) + 10 log10(W c^2 / 2)``, less ``20 log10(r / 30 m)``.
    """
    power = 0.5 * flow_kg_s * sound_speed_m_s**2
    level = chart_level_db(inlet_pa_abs / outlet_pa_abs) + 10.0 * math.log10(power)
    return level - 20.0 * math.log10(distance_m / _REFERENCE_M)


def distance_for_level_m(level_at_30_m_db: float, level_db: float) -> float:
    """Give the distance at which the level has fallen to a limit.

    Parameters
    ----------
    level_at_30_m_db, level_db : float, [dB]

    Returns
    -------
    float, [m]
        Spherical spreading, no damping by the air: on the safe side far away.

    References
    ----------
    .. [1] ``L(r) = L30 - 20 log10(r / 30 m)`` solved for r (computed).
    """
    return float(_REFERENCE_M * 10.0 ** ((level_at_30_m_db - level_db) / 20.0))


def longest_stay_s(level_db: float) -> float:
    """Give the longest daily stay without hearing protection at a level.

    Parameters
    ----------
    level_db : float, [dB(A)]

    Returns
    -------
    float, [s]
        8 h at 90 dB(A), halved for every 5 dB; 0 above 115 dB(A).

    References
    ----------
    .. [1] 29 CFR 1910.95, table G-16 (memory): 90 dB(A), exchange of 5 dB, 115 dB(A) at most.
    """
    return 0.0 if level_db > 115.0 else 8.0 * 3600.0 / 2.0 ** ((level_db - 90.0) / 5.0)
