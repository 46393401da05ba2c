"""What one turn of the adjusting screw does to the set pressure: from the spring, or learned from this valve."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from firstlift.core.errors import FirstliftError, Problem
from firstlift.core.valve import Seat

# a spring's rate is known to a tenth either way where nobody measured it, a thread's pitch to a hundredth (common
# practice, no source)
_U_RATE = 0.10 / math.sqrt(3.0)
_U_PITCH = 0.01 / math.sqrt(3.0)
# what was learned and what the spring says are two springs beyond this many standard uncertainties
_DISAGREES_AT = 3.0


@dataclass(frozen=True, slots=True)
class Turned:
    """One adjustment of this valve in the past: the turns (right is positive), set pressure before and after.

    Uncertainties are standard and per reading: what both readings share falls out of their difference.
    """

    turns: float
    before_pa: float
    after_pa: float
    u_before_pa: float
    u_after_pa: float


@dataclass(frozen=True, slots=True)
class Effect:
    """Change of set pressure for one turn to the right, [Pa], with standard uncertainty.

    ``source`` is "spring", "learned" or "spring and learned"; ``disagrees``: the two cannot both be right, and
    what was learned holds.
    """

    pa_per_turn: float
    u_pa_per_turn: float
    source: str
    disagrees: bool = False


def effect_of_spring(
    spring_rate_n_m: float, screw_pitch_m: float, seat: Seat, *, relative_u_rate: float | None = None
) -> Effect:
    """Give the effect of a turn from spring rate, pitch and seat area.

    Parameters
    ----------
    spring_rate_n_m : float, [N/m]
    screw_pitch_m : float, [m]
    seat : Seat
    relative_u_rate : float or None
        Relative standard uncertainty of the rate; None: a tenth either way.

    Returns
    -------
    Effect, [Pa]

    Raises
    ------
    FirstliftError
        ADJ-001 a rate or pitch of 0 or less.

    References
    ----------
    .. [1] ``dp = k pitch / A`` for one turn (computed; worked value 0.862 bar a turn for 40.6 N/mm, 1.5 mm,
       706.86 mm2).
    """
    for name, value, unit in (("spring rate", spring_rate_n_m, "N/m"), ("screw pitch", screw_pitch_m, "m")):
        if not (math.isfinite(value) and value > 0.0):
            raise FirstliftError(
                Problem(
                    "ADJ-001",
                    f"a {name} of {value:g} {unit} moves nothing",
                    name,
                    f"a {name} above 0",
                    "Take it from the spring's chart or the maker's sheet, or learn it from adjustments",
                )
            )
    effect = spring_rate_n_m * screw_pitch_m / seat.area_m2
    u_rate = _U_RATE if relative_u_rate is None else relative_u_rate
    relative = math.hypot(u_rate, _U_PITCH, seat.standard_uncertainty_m2 / seat.area_m2)
    return Effect(effect, effect * relative, "spring")


def learn_effect(turned: Sequence[Turned]) -> Effect | None:
    """Learn the effect of a turn from past adjustments of this valve.

    A line through the origin, each adjustment weighted by its readings' uncertainty; where they scatter more
    than that, the scatter counts.

    Parameters
    ----------
    turned : sequence of Turned

    Returns
    -------
    Effect or None, [Pa]
        None where nothing was turned.

    Raises
    ------
    FirstliftError
        ADJ-002 an adjustment without a turn or without uncertainty, or turns that moved the wrong way.

    References
    ----------
    .. [1] Weighted least squares through the origin; the ratio of scatter to uncertainty after Birge (computed).
    """
    if not turned:
        return None
    sums, weighted = 0.0, 0.0
    weights: list[float] = []
    for one in turned:
        variance = one.u_before_pa**2 + one.u_after_pa**2
        numbers = (one.turns, one.before_pa, one.after_pa, variance)
        if not all(math.isfinite(n) for n in numbers) or one.turns == 0.0 or variance <= 0.0:
            raise _cannot_learn("an adjustment without a turn, or readings without uncertainty")
        weights.append(1.0 / variance)
        weighted += weights[-1] * one.turns * (one.after_pa - one.before_pa)
        sums += weights[-1] * one.turns**2
    effect = weighted / sums
    if effect <= 0.0:
        raise _cannot_learn("turns to the right lowered the set pressure")
    misfit = sum(
        weight * (one.after_pa - one.before_pa - effect * one.turns) ** 2
        for weight, one in zip(weights, turned, strict=True)
    )
    birge = math.sqrt(misfit / (len(turned) - 1)) if len(turned) > 1 else 1.0
    return Effect(effect, max(1.0, birge) / math.sqrt(sums), "learned")


def combine_effects(spring: Effect | None, learned: Effect | None) -> Effect | None:
    """Bring together what the spring's data say and what this valve taught.

    Parameters
    ----------
    spring, learned : Effect or None

    Returns
    -------
    Effect or None
        Weighted by their variances where they agree; what was learned where they do not: the spring's data are
        then not this spring's.

    References
    ----------
    .. [1] Inverse-variance mean (JCGM 100:2008, H.3 spirit; computed).
    """
    if spring is None or learned is None:
        return spring or learned
    apart = abs(spring.pa_per_turn - learned.pa_per_turn)
    if apart > _DISAGREES_AT * math.hypot(spring.u_pa_per_turn, learned.u_pa_per_turn):
        return Effect(learned.pa_per_turn, learned.u_pa_per_turn, "learned", disagrees=True)
    weights = (spring.u_pa_per_turn**-2, learned.u_pa_per_turn**-2)
    mean = (weights[0] * spring.pa_per_turn + weights[1] * learned.pa_per_turn) / sum(weights)
    return Effect(mean, 1.0 / math.sqrt(sum(weights)), "spring and learned")


def _cannot_learn(what: str) -> FirstliftError:
    return FirstliftError(
        Problem(
            "ADJ-002",
            f"nothing can be learned from the past adjustments: {what}",
            "past adjustments",
            "turns to the right as positive numbers, with both readings and their uncertainty",
            "Correct the entry, or look for a valve whose screw is slack or whose disc sticks",
        )
    )
