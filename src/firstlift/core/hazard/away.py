"""How far people keep away: from the noise, from the jet, and from what it carries."""

from __future__ import annotations

import math
from dataclasses import dataclass

from firstlift.core.hazard.inputs import HazardInputs
from firstlift.core.hazard.jet import (
    Discharged,
    air_density_kg_m3,
    distance_for_share_m,
    distance_for_speed_m,
    mass_share,
)
from firstlift.core.hazard.noise import HEARING_LIMITS, distance_for_level_m, longest_stay_s
from firstlift.core.hazard.reaction import Reaction
from firstlift.core.valve import Medium

# a gust that makes people stumble, and what skin bears for a moment (common practice, no source)
_GUST_M_S = 10.0
BURN_K = 333.15
_STEAM_CP_OVER_AIR = 2.0


@dataclass(frozen=True, slots=True)
class NoiseAt:
    """Sound level at one distance, and how long anyone may stay there without protection, [s]."""

    distance_m: float
    level_db: float
    longest_stay_s: float


@dataclass(frozen=True, slots=True)
class KeepAway:
    """A distance from the outlet and why: ``reason`` is the code of its sentence."""

    reason: str
    distance_m: float
    source: str
    status: str


def noise_at(level_at_30_m_db: float, distance_m: float) -> NoiseAt:
    """Give the sound level at a distance.

    Parameters
    ----------
    level_at_30_m_db : float, [dB]
    distance_m : float, [m]

    Returns
    -------
    NoiseAt
    """
    level = level_at_30_m_db - 20.0 * math.log10(distance_m / 30.0)
    return NoiseAt(distance_m, level, longest_stay_s(level))


def hearing_distances(level_at_30_m_db: float | None) -> list[KeepAway]:
    """Give the distances at which the noise has fallen to the limits for hearing.

    Parameters
    ----------
    level_at_30_m_db : float or None, [dB]

    Returns
    -------
    list of KeepAway
    """
    if level_at_30_m_db is None:
        return []
    return [
        KeepAway(limit.code, distance_for_level_m(level_at_30_m_db, limit.level_db), limit.source, limit.status)
        for limit in HEARING_LIMITS
    ]


def jet_distances(
    inputs: HazardInputs, flow: float, reaction: Reaction | None, state: Discharged | None
) -> list[KeepAway]:
    """Give the distances at which the jet has slowed, cooled and thinned.

    Parameters
    ----------
    inputs : HazardInputs
    flow : float, [kg/s]
    reaction : Reaction or None
    state : Discharged or None

    Returns
    -------
    list of KeepAway
        Empty for a liquid, or where the outlet is not known.

    References
    ----------
    .. [1] Free round jet (`firstlift.core.hazard.jet`); a share y of the jet warms the air by y times its excess
       temperature, weighed by the heat capacities.
    """
    fluid = inputs.fluid
    if reaction is None or fluid.medium is Medium.LIQUID:
        return []
    ambient = inputs.ambient_temperature_k
    air = air_density_kg_m3(ambient)
    thrust = reaction.total_n
    source = "free round jet, Pope 2000, section 5.1"
    away = [KeepAway("jet-gust", distance_for_speed_m(thrust, _GUST_M_S, air), source, "memory")]
    hottest = state.temperature_k if state else fluid.temperature_k
    if hottest is not None and hottest > BURN_K > ambient:
        # a share y of the jet warms the air by y times its excess temperature (steam holds twice the heat of air)
        heat = _STEAM_CP_OVER_AIR if fluid.medium is Medium.STEAM else 1.0
        share = (BURN_K - ambient) / (heat * (hottest - BURN_K) + BURN_K - ambient)
        away.append(KeepAway("jet-burn", distance_for_share_m(flow, thrust, share, air), source, "memory"))
    if inputs.harmful_share is not None and fluid.molar_mass_kg_mol is not None:
        share = mass_share(inputs.harmful_share, fluid.molar_mass_kg_mol)
        away.append(KeepAway("jet-harmful", distance_for_share_m(flow, thrust, share, air), source, "memory"))
    return away
