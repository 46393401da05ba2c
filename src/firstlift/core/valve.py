"""The valve and its seat, as the job sheet or the register states them."""

from __future__ import annotations

import math
from dataclasses import dataclass
from enum import StrEnum

from firstlift.core.units import Quantity


class Medium(StrEnum):
    """What the valve holds back; steam and gas pop, liquid opens in proportion."""

    GAS = "gas"
    STEAM = "steam"
    LIQUID = "liquid"


class ValveType(StrEnum):
    """How back pressure reaches the disc (force balance: firstlift.core.setpressure)."""

    CONVENTIONAL = "conventional"
    VENTED_BONNET = "vented-bonnet"
    BALANCED_BELLOWS = "balanced-bellows"


class Definition(StrEnum):
    """Which event a rule calls the set pressure."""

    FIRST_LIFT = "first-lift"
    POP = "pop"


@dataclass(frozen=True, slots=True)
class SeatShare:
    """The part of a seat area's uncertainty that one instrument of the test brings with it.

    An area that was found from pulls holds the errors of the instruments that found it. ``instrument`` is the
    budget's tag of what is shared ("cell:<group>", "gauge:<name>"), ``part`` which error of it: "scale" (in
    proportion to the reading) or "offset". ``u_area_m2`` is the signed change of the area for one standard
    uncertainty of that error.
    """

    instrument: str
    part: str
    u_area_m2: float


@dataclass(frozen=True, slots=True)
class Seat:
    """The area the line pressure acts on while the valve is closed.

    ``area_m2`` with the standard uncertainty ``u_area_m2`` (normal part) and ``half_width_m2``: half the
    distance between the areas of bore and outer contact edge, every area between equally likely; 0 where
    a mean diameter or an area was stated. ``shares``: what the area has in common with the instruments of the
    test, apart from ``u_area_m2`` and each independent of it. ``degrees_of_freedom`` are those of ``u_area_m2``.
    """

    area_m2: float
    u_area_m2: float
    half_width_m2: float
    source: str
    stated: str
    shares: tuple[SeatShare, ...] = ()
    degrees_of_freedom: float = math.inf

    @property
    def standard_uncertainty_m2(self) -> float:
        """Standard uncertainty of the area, rectangular and shared parts included, [m2] (JCGM 100:2008, 4.3.7)."""
        shared = (share.u_area_m2 for share in self.shares)
        return math.hypot(self.u_area_m2, self.half_width_m2 / math.sqrt(3.0), *shared)


@dataclass(frozen=True, slots=True)
class Valve:
    """Nameplate and build of the valve. Pressures are gauge; None where the sheet does not say."""

    tag: str
    serial: str
    set_pressure: Quantity
    medium: Medium
    type: ValveType = ValveType.CONVENTIONAL
    superimposed_back_pressure_pa: float = 0.0
    back_pressure_at_test_pa: float = 0.0
    u_back_pressure_pa: float | None = None
    cap_on: bool = False
    spindle_diameter_m: float | None = None
    disc_guide_diameter_m: float | None = None
    bellows_diameter_m: float | None = None
    cold_differential_test_pressure: Quantity | None = None
    maker: str = ""
    model: str = ""
    inlet_size: str = ""
    outlet_size: str = ""
    spring_rate_n_m: float | None = None
    spring_range_low_pa: float | None = None
    spring_range_high_pa: float | None = None
    screw_pitch_m: float | None = None
    max_pull_n: float | None = None
    opening_definition: Definition | None = None
    fire_case: bool = False


def circle_area_m2(diameter_m: float) -> float:
    """Area of a circle, [m2].

    Parameters
    ----------
    diameter_m : float, [m]

    Returns
    -------
    float, [m2]
    """
    return math.pi / 4.0 * diameter_m**2


def land_area_m2(inner_m: float, outer_m: float) -> float:
    """Effective area of a seat whose pressure falls linearly across the contact land, [m2].

    ``A = pi/12 (Di^2 + Di Do + Do^2)``: the integral of a pressure that is full at the bore Di and none at
    the outer edge Do (derivation: cone frustum; computed).

    Parameters
    ----------
    inner_m, outer_m : float, [m]
        Bore and outer diameter of the contact.

    Returns
    -------
    float, [m2]
    """
    return math.pi / 12.0 * (inner_m**2 + inner_m * outer_m + outer_m**2)
