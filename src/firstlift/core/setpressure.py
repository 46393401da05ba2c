"""The force balance at first lift, with back pressure by valve type.

At first lift the contact load is zero (design of the method; the formula ``set = line + pull / area`` is
also in API RP 576, 4th edition 2017, clause 6.3, looked up as a public copy). With S0 the spring preload at
closed, A the seat area, A_D the disc's back side, A_sp the spindle, p_b back pressure:

    closed bonnet:     p_l A + F = S0 + p_b (A - A_sp), cap off;   in service  S0 + p_b A
    vented bonnet:     p_l A + F = S0 - p_b (A_D - A)
    balanced bellows:  p_l A + F = S0 + p_b (A - A_bellows)

so that in every case ``p_s = p_l + F / A + at_test * p_b,test + in_service * p_b,service``.
"""

from __future__ import annotations

from dataclasses import dataclass

from firstlift.core.valve import Valve, ValveType, circle_area_m2


@dataclass(frozen=True, slots=True)
class BackPressureTerms:
    """Weights of the back pressures in the force balance, and how far an unknown dimension may move them.

    ``half_width`` is half the range of the weights' common geometry factor where a dimension is missing (0
    where everything is known); ``missing`` names the job sheet's key that would settle it.
    """

    at_test: float
    in_service: float
    half_width: float = 0.0
    missing: str = ""


# where a dimension is not stated: spindle up to 0.4 of the seat's area; guide between 1 and 1.7 times it; bellows
# within a fifth of it (common practice, no source)
_SPINDLE_SHARE = 0.4
_GUIDE_EXCESS = 0.7
_BELLOWS_MISFIT = 0.2


def back_pressure_terms(valve: Valve, area_m2: float) -> BackPressureTerms:
    """Give the weights of the back pressures for this valve.

    Parameters
    ----------
    valve : Valve
    area_m2 : float, [m2]
        Seat area.

    Returns
    -------
    BackPressureTerms
    """
    if valve.type is ValveType.CONVENTIONAL:
        if valve.cap_on:
            return BackPressureTerms(-1.0, 1.0)
        if valve.spindle_diameter_m is None:
            middle = 0.5 * _SPINDLE_SHARE
            return BackPressureTerms(-(1.0 - middle), 1.0, middle, "spindle_diameter")
        return BackPressureTerms(-(1.0 - circle_area_m2(valve.spindle_diameter_m) / area_m2), 1.0)
    if valve.type is ValveType.VENTED_BONNET:
        if valve.disc_guide_diameter_m is None:
            middle = 0.5 * _GUIDE_EXCESS
            return BackPressureTerms(middle, -middle, middle, "disc_guide_diameter")
        excess = circle_area_m2(valve.disc_guide_diameter_m) / area_m2 - 1.0
        return BackPressureTerms(excess, -excess)
    if valve.bellows_diameter_m is None:
        return BackPressureTerms(0.0, 0.0, _BELLOWS_MISFIT, "bellows_diameter")
    residual = 1.0 - circle_area_m2(valve.bellows_diameter_m) / area_m2
    return BackPressureTerms(-residual, residual)


@dataclass(frozen=True, slots=True)
class Balance:
    """Everything that enters one set pressure: SI, pressures gauge."""

    line_pressure_pa: float
    pull_force_n: float
    area_m2: float
    back_pressure_at_test_pa: float = 0.0
    back_pressure_in_service_pa: float = 0.0
    terms: BackPressureTerms = BackPressureTerms(-1.0, 1.0)

    @property
    def set_pressure_pa(self) -> float:
        """Set pressure by the force balance, [Pa gauge]."""
        return (
            self.line_pressure_pa
            + self.pull_force_n / self.area_m2
            + self.terms.at_test * self.back_pressure_at_test_pa
            + self.terms.in_service * self.back_pressure_in_service_pa
        )

    @property
    def area_sensitivity_pa_per_m2(self) -> float:
        """Change of set pressure with seat area, [Pa/m2]: ``-F / A^2``.

        The back-pressure weights' own dependence on A is smaller by p_b / p_s times a geometry ratio and is
        covered by their own line where back pressure is not zero.
        """
        return -self.pull_force_n / self.area_m2**2


def lower_bound_pa(line_pressure_pa: float, largest_pull_n: float, area_m2: float) -> float:
    """Give the pressure that a pull without lift proves the valve to open above, [Pa gauge].

    Parameters
    ----------
    line_pressure_pa : float, [Pa gauge]
    largest_pull_n : float, [N]
        Tare and resting weight taken off.
    area_m2 : float, [m2]

    Returns
    -------
    float, [Pa gauge]
    """
    return line_pressure_pa + largest_pull_n / area_m2
