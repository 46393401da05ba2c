"""Planning a pull against the arithmetic of the method and the limits of the codes."""

import math
from dataclasses import replace

import pytest
from tests.made_plans import make_job

from firstlift.core.plan.closing import blowdown_range
from firstlift.core.plan.forecast import balance_at, expected_pull_n
from firstlift.core.plan.inputs import DEFAULT_STOP_SHARE, NEVER_STOP_SHARE
from firstlift.core.units import to_si
from firstlift.core.valve import Medium, Seat, circle_area_m2

SOURCES = ("planning.toml",)
SET = 10e5
AREA = circle_area_m2(0.030)


def job_of(area_m2=AREA):
    return replace(make_job(), seat=Seat(area_m2, 0.0, 0.0, "", ""))


def area(given):
    """Give the first-order error in per cent of set, by the balance's own sensitivity."""
    balance = balance_at(job_of(), given["line_ratio"] * SET, SET)
    return balance.area_sensitivity_pa_per_m2 * (given["area_err_pct"] / 100.0) * AREA / SET * 100.0


def blowdown(given):
    pressure = given["set_psi"]
    found = blowdown_range(given["code"], Medium(given["medium"]), to_si(pressure, "psi"))
    return [found.least_pa / to_si(1.0, "psi"), found.greatest_pa / to_si(1.0, "psi")]


COMPUTE = {
    "area": area,
    "pull": lambda given: expected_pull_n(job_of(), given["line_ratio"] * SET, SET),
    "stop": lambda _: [DEFAULT_STOP_SHARE, NEVER_STOP_SHARE],
    "blowdown": blowdown,
    "greatest": lambda given: (
        blowdown_range(given["code"], Medium(given["medium"]), given["set_bar"] * 1e5).greatest_pa / 1e5
    ),
}


def test_row_agrees(check, agree):
    agree(check, COMPUTE[check["id"].split("-", 1)[0]](check["given"]))


@pytest.mark.parametrize("line_ratio", [0.5, 0.7, 0.8, 0.9])
def test_the_table_is_also_what_a_wrong_area_does(line_ratio):
    """A pull made on the true area, read with one 10 % too large: the finite error holds the first-order one."""
    true_pull = expected_pull_n(job_of(), line_ratio * SET, SET)
    read = replace(balance_at(job_of(1.1 * AREA), line_ratio * SET, SET), pull_force_n=true_pull).set_pressure_pa
    assert math.isclose((read - SET) / SET, -(1.0 - line_ratio) * 0.1 / 1.1, rel_tol=1e-9)
