"""The budget of a pull that is only planned is that of a pull that was made."""

from dataclasses import replace

import numpy as np
import pytest
from tests.made_plans import BAR, EDGES, make_job

from firstlift.core.analysis import analyse
from firstlift.core.measure import pull_by_hand
from firstlift.core.plan.forecast import balance_at, expected_pull_n, forecast_budget, forecast_spread
from firstlift.sim.conditions import CONDITIONS
from firstlift.usecases.analyse import limits_of, worded


def test_the_budget_is_that_of_a_pull_read_off_by_hand():
    job = make_job()
    pull = expected_pull_n(job, 8 * BAR, 10.1 * BAR)
    value, by_hand = pull_by_hand(8 * BAR, 0.002 * 8 * BAR, pull, 0.003 * pull, job.seat)
    ours = forecast_budget(job, 8 * BAR, 10.1 * BAR, 0.0)
    assert value == pytest.approx(10.1 * BAR)
    assert ours.standard_uncertainty_pa == pytest.approx(by_hand.standard_uncertainty_pa, rel=1e-12)


def test_two_cells_of_one_calibration_share_their_error():
    cell = make_job().channels[0]
    pair = (replace(cell, column="a", calibrated_with="ref"), replace(cell, column="b", calibrated_with="ref"))
    apart = tuple(replace(one, calibrated_with="") for one in pair)
    rest = make_job().channels[1:]
    together, separate = (
        forecast_budget(replace(make_job(), channels=(*cells, *rest)), 8 * BAR, 10 * BAR, 0.0)
        for cells in (pair, apart)
    )
    one = forecast_budget(make_job(), 8 * BAR, 10 * BAR, 0.0)
    assert together.standard_uncertainty_pa == pytest.approx(one.standard_uncertainty_pa, rel=1e-12)
    assert separate.standard_uncertainty_pa < one.standard_uncertainty_pa


def test_the_distribution_alone_is_that_of_the_budget():
    job = make_job(seat=EDGES)
    assert forecast_spread(job, 7 * BAR, 10 * BAR, 4e3) == forecast_budget(job, 7 * BAR, 10 * BAR, 4e3).spread


@pytest.mark.parametrize("valve", ["", 'superimposed_back_pressure = "1 bar"\nback_pressure_at_test = "0.4 bar"'])
def test_the_balance_gives_the_set_pressure_back(valve):
    balance = balance_at(make_job(valve=valve), 7.5 * BAR, 9.9 * BAR)
    assert balance.set_pressure_pa == pytest.approx(9.9 * BAR, rel=1e-12)


def test_the_back_pressure_of_service_takes_off_the_pull():
    plain, loaded = make_job(), make_job(valve='superimposed_back_pressure = "1 bar"')
    less = expected_pull_n(plain, 8 * BAR, 10 * BAR) - expected_pull_n(loaded, 8 * BAR, 10 * BAR)
    # the preload of a conventional valve is smaller by the back pressure that helps it shut in service
    assert less == pytest.approx(1 * BAR * plain.seat.area_m2)


def test_the_budget_of_a_planned_pull_is_that_of_the_pull_once_made():
    """Instruments, seat and set-up of a simulated test add what the plan said they would."""
    case = CONDITIONS["clean-gas"](np.random.default_rng(4))
    result = analyse(case.recording, case.job, limits_of(case.job), worded(case.job)).result
    pull = next(one for one in result.pulls if one.number == result.as_found.pull)
    ours = forecast_budget(case.job, pull.line_pressure_pa, pull.set_pressure_pa, 0.0)
    shared = {line.quantity: line.contribution_pa for line in result.budget if line.common_to != "pull"}
    planned = {line.quantity: line.contribution_pa for line in ours.lines if line.common_to != "pull"}
    assert planned.keys() == shared.keys()
    for name, contribution in shared.items():
        # the plan shares the pull evenly between the cells; the rig's cells carry a few per cent more or less
        assert planned[name] == pytest.approx(contribution, rel=0.08)
