"""The budget a pull would have: the same lines and the same force balance as a pull that was made."""

from __future__ import annotations

import math

from firstlift.core.job import Job, Measures
from firstlift.core.measure import COVERAGE, back_pressure_lines, seat_lines, stated_back_pressure
from firstlift.core.measure import uses_cold_test_pressure as is_cold
from firstlift.core.setpressure import Balance, back_pressure_terms
from firstlift.core.uncertainty.budget import Budget, Input, make_budget, make_spread
from firstlift.core.uncertainty.coverage import Spread
from firstlift.core.uncertainty.instruments import cell_lines, gauge_lines, shared_correlations

MOMENT = "moment of first lift and noise"


def balance_at(job: Job, line_pa: float, set_pa: float) -> Balance:
    """Give the force balance of a valve that opens at a set pressure, [Pa gauge]: it holds the pull needed.

    Parameters
    ----------
    job : Job
    line_pa : float, [Pa gauge]
    set_pa : float, [Pa gauge]

    Returns
    -------
    Balance
        ``pull_force_n`` is negative where the line alone opens the valve.
    """
    area = job.seat.area_m2
    at_test, _ = stated_back_pressure(job.valve)
    in_service = 0.0 if is_cold(job) else job.valve.superimposed_back_pressure_pa
    terms = back_pressure_terms(job.valve, area)
    slack = Balance(line_pa, 0.0, area, at_test, in_service, terms)
    # the balance is a straight line in the pull: what is missing to the set pressure is the pull over the area
    pull = (set_pa - slack.set_pressure_pa) * area
    return Balance(line_pa, pull, area, at_test, in_service, terms)


def expected_pull_n(job: Job, line_pa: float, set_pa: float) -> float:
    """Give the pull at first lift of a valve that opens at a set pressure, [N].

    Parameters
    ----------
    job : Job
    line_pa, set_pa : float, [Pa gauge]

    Returns
    -------
    float, [N]
        Without the gear's own weight on the spindle.
    """
    return balance_at(job, line_pa, set_pa).pull_force_n


def forecast_lines(job: Job, line_pa: float, set_pa: float, u_moment_pa: float) -> list[Input]:
    """Give the budget lines that a pull would have, [Pa].

    Parameters
    ----------
    job : Job
    line_pa, set_pa : float, [Pa gauge]
        Line pressure, and the set pressure that is read.
    u_moment_pa : float, [Pa]
        Standard uncertainty of finding first lift, each pull's own.

    Returns
    -------
    list of Input
        The cells share the pull evenly.
    """
    balance = balance_at(job, line_pa, set_pa)
    cells = job.of(Measures.PULL_FORCE)
    lines = gauge_lines(job, line_pa)
    for cell in cells:
        lines.extend(cell_lines(cell, balance.pull_force_n / len(cells), 1.0 / balance.area_m2, job.seat))
    lines.extend(seat_lines(job.seat, balance, leaking=False))
    lines.append(Input(MOMENT, set_pa, "Pa", u_moment_pa, "normal", math.inf, 1.0, "pull"))
    lines.extend(back_pressure_lines(balance, stated_back_pressure(job.valve)[1]))
    return [line for line in lines if line.standard_uncertainty > 0.0 or line.quantity == MOMENT]


def forecast_budget(job: Job, line_pa: float, set_pa: float, u_moment_pa: float) -> Budget:
    """Give the whole budget that a pull would have, [Pa].

    Parameters
    ----------
    job : Job
    line_pa, set_pa : float, [Pa gauge]
    u_moment_pa : float, [Pa]

    Returns
    -------
    Budget
    """
    lines = forecast_lines(job, line_pa, set_pa, u_moment_pa)
    return make_budget(lines, shared_correlations(lines), COVERAGE)


def forecast_spread(job: Job, line_pa: float, set_pa: float, u_moment_pa: float) -> Spread:
    """Give the distribution alone that a pull's set pressure would have, [Pa].

    Parameters
    ----------
    job : Job
    line_pa, set_pa : float, [Pa gauge]
    u_moment_pa : float, [Pa]

    Returns
    -------
    Spread
    """
    lines = forecast_lines(job, line_pa, set_pa, u_moment_pa)
    return make_spread(lines, shared_correlations(lines))
