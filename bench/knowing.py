"""The interval of someone who knows the moment of first lift exactly, and the score of intervals.

That one reads force and line pressure at the true moment without noise. What is left are the errors that the
job sheet states: the gauge's, the cells' and the seat's. Their budget is made with the same rules as ours.
"""

from __future__ import annotations

import math
from collections.abc import Iterator

from firstlift.core.job import Measures
from firstlift.core.uncertainty.budget import Input, make_budget
from firstlift.sim.model import SimulatedTest, TruePull


def knowing_half_width_pa(test: SimulatedTest, pull: TruePull) -> float:
    """Give the expanded uncertainty (95 %) at the true moment of a pull that lifted, [Pa].

    Parameters
    ----------
    test : SimulatedTest
    pull : TruePull
        Lifted.

    Returns
    -------
    float
    """
    return make_budget(list(_lines(test, pull))).expanded_uncertainty_pa


def _lines(test: SimulatedTest, pull: TruePull) -> Iterator[Input]:
    job = test.job
    line_pa, force_n = pull.line_pressure_pa or 0.0, pull.force_n or 0.0
    area = job.seat.area_m2
    for spec in job.of(Measures.LINE_PRESSURE):
        u = math.hypot(spec.relative_standard_uncertainty * line_pa, spec.standard_uncertainty)
        yield Input("gauge", line_pa, "Pa", u, "normal", math.inf, 1.0, "gauge")
    whole = force_n + job.weight_on_spindle_n
    for spec, cell in zip(job.of(Measures.PULL_FORCE), test.instruments.cells, strict=True):
        load = cell.share * whole
        u = math.hypot(spec.relative_standard_uncertainty * load, spec.standard_uncertainty)
        yield Input("cell", load, "N", u, "normal", math.inf, 1.0 / area, f"cell:{spec.column}")
    slope = -force_n / area**2
    if job.seat.u_area_m2 > 0.0:
        yield Input("seat", area, "m2", job.seat.u_area_m2, "normal", math.inf, slope, "seat")
    if job.seat.half_width_m2 > 0.0:
        u = job.seat.half_width_m2 / math.sqrt(3.0)
        yield Input("seat edges", area, "m2", u, "rectangular", math.inf, slope, "seat")


def interval_score(value: float, half_width: float, truth: float, alpha: float = 0.05) -> float:
    """Score a central interval: its width, and 2/alpha for every unit by which it misses the truth.

    Gneiting and Raftery, Journal of the American Statistical Association 102 (2007) 359, equation (43).
    """
    miss = max(abs(value - truth) - half_width, 0.0)
    return 2.0 * half_width + 2.0 / alpha * miss
