"""A seat area from the same valve tested on line and on the bench: the area with which on line equals bench.

At every pair ``p_bench = p_l + F / A``, so ``F = A (p_bench - p_l)``: a line through the origin, both sides
uncertain. Here offsets of cell and gauges do move the area, since nothing holds the intercept at 0 but the
instruments.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from firstlift.core.errors import FirstliftError, Problem
from firstlift.core.seat.fit import (
    MOST_RELATIVE_U,
    AreaFit,
    Instrument,
    Role,
    check_instruments,
    combine,
    instrument_contributions,
    own_scatter,
    ties_of,
)
from firstlift.core.seat.line import fit_line
from firstlift.core.seat.reason import Reason
from firstlift.core.seat.record import Source


@dataclass(frozen=True, slots=True)
class BenchPair:
    """One valve, one setting, tested on line and on the bench: SI, gauge.

    ``bench_pressure_pa`` is the opening on the bench by the same definition as on line, brought to the on-line
    temperature and back pressure; ``u_bench_pa`` what this comparison has of its own: reading, repeatability of
    the valve between the two places, and whatever that bringing leaves open.
    """

    line_pressure_pa: float
    u_line_pa: float
    pull_n: float
    u_pull_n: float
    bench_pressure_pa: float
    u_bench_pa: float


def fit_bench(pairs: Sequence[BenchPair], instruments: Sequence[Instrument]) -> AreaFit:
    """Fit a seat area to paired bench and on-line results.

    Parameters
    ----------
    pairs : sequence of BenchPair
        One or more.
    instruments : sequence of Instrument
        The cells and the gauge of the pulls, and the bench's gauge; a gauge used in both places carries one
        tag, and its error largely cancels.

    Returns
    -------
    AreaFit
        Without a set pressure of its own.

    Raises
    ------
    FirstliftError
        SEA-002, SEA-003, SEA-005, SEA-006 as the parts; SEA-007 line pressure so near the bench result that
        the pull says little about the area.

    References
    ----------
    .. [1] Force balance at first lift: `firstlift.core.setpressure`.
    """
    check_instruments(instruments, (Role.CELL, Role.GAUGE, Role.BENCH_GAUGE))
    _check(pairs)
    pull, line_pa, bench_pa = (
        np.array([getattr(pair, name) for pair in pairs])
        for name in ("pull_n", "line_pressure_pa", "bench_pressure_pa")
    )
    u_head = [math.hypot(pair.u_line_pa, pair.u_bench_pa) for pair in pairs]
    line = fit_line(bench_pa - line_pa, pull, u_head, [pair.u_pull_n for pair in pairs], through_origin=True)
    area = line.slope
    turned = np.array([[0.0, 1.0], [0.0, 0.0]])
    common = instrument_contributions(instruments, turned @ line.gain, area, (pull, line_pa, bench_pa))
    scatter = own_scatter(line, turned @ line.covariance @ turned.T)
    whole = combine(scatter, common)
    u_area = math.sqrt(float(whole.covariance[0, 0]))
    _check_head(u_area / area)
    return AreaFit(
        source=Source.BENCH,
        area_m2=area,
        u_area_m2=u_area,
        degrees_of_freedom=whole.degrees_of_freedom[0],
        readings=len(pairs),
        chi_square=line.chi_square,
        spare=line.degrees_of_freedom,
        contributions=tuple(common),
        ties=ties_of(instruments, common),
        reasons=(*scatter.reasons, Reason("friction-taken-as-alike")),
    )


def _check(pairs: Sequence[BenchPair]) -> None:
    problems = [
        Problem(
            "SEA-002",
            f"pull {pair.pull_n:g} N, line pressure {pair.line_pressure_pa:g} Pa, bench {pair.bench_pressure_pa:g} Pa",
            f"pair {number}",
            "a pull above 0, a line pressure of 0 or more, and a bench result above it",
        )
        for number, pair in enumerate(pairs, 1)
        if not (pair.pull_n > 0.0 and 0.0 <= pair.line_pressure_pa < pair.bench_pressure_pa)
    ]
    if problems:
        raise FirstliftError(problems)


def _check_head(relative_u: float) -> None:
    if relative_u > MOST_RELATIVE_U:
        raise FirstliftError(
            Problem(
                "SEA-007",
                f"the pairs leave the area uncertain by {relative_u * 100.0:.2g} % (standard uncertainty)",
                needed=f"{MOST_RELATIVE_U * 100.0:g} % or less",
                next="Take pairs at a lower line pressure, or more of them, or measure the seat",
            )
        )
