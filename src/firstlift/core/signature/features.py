"""The features of a signature that are followed over a valve's visits, and how far each may wander by itself."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from enum import StrEnum
from statistics import median

from firstlift.core.result import Signature


class Feature(StrEnum):
    """What is followed."""

    SPRING_RATE = "spring-rate"
    STIFF_SLOPE = "stiff-slope"
    FRICTION = "friction"
    PLAY = "play"
    SET_PRESSURE = "set-pressure"


@dataclass(frozen=True, slots=True)
class Wander:
    """How a feature is followed.

    ``spread`` is its usual standard deviation from visit to visit of one healthy valve, on the scale it is followed
    on: the logarithm (``by_ratio``), or the plain value. ``least`` is the smallest change that matters in practice,
    on that scale. Both are common practice without a source, and worth as much as ``worth`` visits of the valve.
    """

    by_ratio: bool
    spread: float
    least: float
    worth: float = 4.0


WANDER = {
    # a share of the spring's rate: the slope just after first lift is the rate less what the fluid takes over, so a
    # changed spring changes it by a difference, not by a ratio
    Feature.SPRING_RATE: Wander(by_ratio=False, spread=0.04, least=0.06),
    Feature.STIFF_SLOPE: Wander(by_ratio=True, spread=0.08, least=0.15),
    # a share of the opening force
    Feature.FRICTION: Wander(by_ratio=False, spread=0.006, least=0.02),
    Feature.PLAY: Wander(by_ratio=True, spread=0.20, least=0.40),
    Feature.SET_PRESSURE: Wander(by_ratio=True, spread=0.008, least=0.02),
}


@dataclass(frozen=True, slots=True)
class Visit:
    """What the pulls of one visit showed, taken together.

    ``adjusted`` says that the spring was adjusted, or the valve overhauled, between the visit before and this one:
    its set pressure then says nothing of the spring. ``line_pressure_pa``: what the fluid takes over after first lift
    goes with it.
    """

    years: float
    signature: Signature
    set_pressure_pa: float | None = None
    adjusted: bool = False
    line_pressure_pa: float | None = None


def take_together(signatures: Sequence[Signature]) -> Signature:
    """Give the medians of the signatures of one visit, feature by feature.

    Parameters
    ----------
    signatures : sequence of Signature
        One or more.

    Returns
    -------
    Signature
        Of the features that are followed; the others stay null.
    """

    def middle(name: str) -> float | None:
        known = [value for value in (getattr(signature, name) for signature in signatures) if value is not None]
        return float(median(known)) if known else None

    return Signature(
        stiff_slope_n_per_m=middle("stiff_slope_n_per_m"),
        soft_slope_n_per_m=middle("soft_slope_n_per_m"),
        opening_force_n=middle("opening_force_n"),
        closing_force_n=middle("closing_force_n"),
        friction_n=middle("friction_n"),
        play_m=middle("play_m"),
    )


def value_of(feature: Feature, visit: Visit, rate_n_per_m: float) -> float | None:
    """Give a feature of a visit on the scale it is followed on.

    Parameters
    ----------
    feature : Feature
    visit : Visit
    rate_n_per_m : float, [N/m]
        What the slope after first lift is a share of: the spring's rate.

    Returns
    -------
    float or None
        None where the visit does not show it.
    """
    shown = visit.signature
    if feature is Feature.FRICTION:
        if shown.friction_n is None or not shown.opening_force_n or shown.opening_force_n <= 0.0:
            return None
        return shown.friction_n / shown.opening_force_n
    if feature is Feature.SPRING_RATE:
        return None if shown.soft_slope_n_per_m is None else shown.soft_slope_n_per_m / rate_n_per_m
    plain = {
        Feature.STIFF_SLOPE: shown.stiff_slope_n_per_m,
        Feature.PLAY: shown.play_m,
        Feature.SET_PRESSURE: visit.set_pressure_pa,
    }[feature]
    return math.log(plain) if plain is not None and plain > 0.0 else None
