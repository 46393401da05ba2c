"""What the seat calculation answers, and its form as plain values."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from firstlift.core.seat.bench import BenchPair
from firstlift.core.seat.fit import AreaFit
from firstlift.core.seat.pressures import LinePull
from firstlift.core.uncertainty.coverage import Spread
from firstlift.core.valve import Seat


@dataclass(frozen=True, slots=True)
class SeatAnswer:
    """A seat, the fit it came from (None where it was stated), the uncertainties assumed, the readings fitted."""

    seat: Seat
    fit: AreaFit | None
    assumed: Mapping[str, float]
    readings: tuple[LinePull | BenchPair, ...] = ()

    @property
    def expanded_area_m2(self) -> float:
        """Expanded uncertainty of the area at 95 %, [m2]."""
        if self.fit is not None:
            return self.fit.expanded_area_m2()
        halves = (self.seat.half_width_m2,) if self.seat.half_width_m2 > 0.0 else ()
        return Spread(self.seat.u_area_m2, half_widths=halves).expanded(0.95)

    @property
    def sensitivity(self) -> tuple[tuple[float, float], ...]:
        """Line pressure over set pressure, and what one standard uncertainty of the area adds to the set pressure.

        ``dp_s / p_s = -(1 - p_l / p_s) dA / A``: with the sign left out.
        """
        relative = self.seat.standard_uncertainty_m2 / self.seat.area_m2
        return tuple((share, (1.0 - share) * relative) for share in (0.5, 0.7, 0.8, 0.9))


def answer_to_json(answer: SeatAnswer) -> dict[str, Any]:
    """Give an answer as plain values, SI.

    Parameters
    ----------
    answer : SeatAnswer

    Returns
    -------
    dict
        Format "firstlift-seat-1".
    """
    seat, fit = answer.seat, answer.fit
    data: dict[str, Any] = {
        "format": "firstlift-seat-1",
        "source": str(fit.source) if fit is not None else "stated",
        "stated": seat.stated,
        "area_m2": seat.area_m2,
        "standard_uncertainty_m2": seat.standard_uncertainty_m2,
        "expanded_uncertainty_m2": answer.expanded_area_m2,
        "coverage_probability": 0.95,
        "half_width_m2": seat.half_width_m2,
        "sensitivity": [
            {"line_over_set": share, "relative_u_set_pressure": relative} for share, relative in answer.sensitivity
        ],
        "assumed": dict(answer.assumed),
        "fit": None,
    }
    if fit is not None:
        data["fit"] = _fit_to_json(fit)
    return data


def _fit_to_json(fit: AreaFit) -> dict[str, Any]:
    return {
        "readings": fit.readings,
        "chi_square": fit.chi_square,
        "spare_readings": fit.spare,
        "degrees_of_freedom": fit.degrees_of_freedom if math.isfinite(fit.degrees_of_freedom) else None,
        "set_pressure_pa": fit.set_pressure_pa,
        "set_pressure_standard_uncertainty_pa": fit.u_set_pressure_pa,
        "set_pressure_expanded_uncertainty_pa": fit.expanded_set_pressure_pa(),
        "covariance_m2_pa": fit.covariance_m2_pa,
        "contributions": [
            {"source": c.source, "part": c.part, "area_m2": c.area_m2, "set_pressure_pa": c.set_pressure_pa}
            for c in fit.contributions
        ],
        "tied_to": [
            {
                "instrument": tie.instrument,
                "serials": list(tie.serials),
                "part": tie.part,
                "area_m2": tie.u_area_m2,
                "calibration": tie.calibration,
            }
            for tie in fit.ties
        ],
        "reasons": [{"code": reason.code, "parameters": dict(reason.parameters)} for reason in fit.reasons],
    }
