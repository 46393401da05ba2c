"""A seat that leaks and a gauge in coarse steps are said, however faintly heard; bonds and bursts are no leak."""

import math

import numpy as np
import pytest
from bench.corpus import make_test

from firstlift.core.analysis import analyse
from firstlift.core.job import Measures
from firstlift.core.line import line_pressure
from firstlift.core.signal.condition import condition
from firstlift.usecases.analyse import limits_of, worded

# recordings of the leaking condition that are faint beside their flow
FAINT = (4, 9, 12, 13, 16, 17, 135, 136)
# gauges of the lagging condition whose converter steps by more than two thousandths of the line pressure
COARSE = (2, 8, 10, 11, 16, 25)


def codes_of(condition_name, index):
    test = make_test(condition_name, index)
    return {f.code for f in analyse(test.recording, test.job, limits_of(test.job), worded(test.job)).result.findings}


@pytest.mark.parametrize("index", FAINT)
def test_a_faint_leak_that_grows_as_the_seat_unloads_is_said(index):
    assert "leaking-before-lift" in codes_of("leaking", index)


def test_a_leaking_seat_may_be_pressurised_further_out_so_that_the_set_pressure_is_lower_and_not_higher():
    test = make_test("leaking", 4)
    result = analyse(test.recording, test.job, limits_of(test.job), worded(test.job)).result
    (line,) = [line for line in result.budget if line.quantity == "seat area while leaking"]
    assert (line.distribution, line.share) == ("one-sided", 0.0)
    # by the balance of forces, dp/p = -(1 - line/p) dA/A: four per cent of what the pull added
    pull = next(pull for pull in result.pulls if pull.number == result.as_found.pull)
    added = pull.set_pressure_pa - pull.line_pressure_pa
    reaches = line.sensitivity * line.standard_uncertainty * math.sqrt(12.0)
    assert reaches == pytest.approx(-0.04 * added, rel=1e-3)


@pytest.mark.parametrize(
    ("name", "index"), [("stuck-first", 4), ("stuck-first", 9), ("stuck-first", 26), ("bursts", 14)]
)
def test_a_bond_hisses_evenly_and_a_burst_dies_away(name, index):
    assert "leaking-before-lift" not in codes_of(name, index)


@pytest.mark.parametrize("index", COARSE)
def test_a_gauge_in_coarse_steps_is_said_and_half_a_step_is_allowed_for(index):
    test = make_test("lagging-gauge", index)
    codes = {f.code for f in analyse(test.recording, test.job, limits_of(test.job), worded(test.job)).result.findings}
    assert codes & {"gauge-coarse", "gauge-lag"} == {"gauge-coarse"}
    signals = condition(test.recording, test.job)
    (line,) = test.job.of(Measures.LINE_PRESSURE)
    step = test.instruments.gauge.resolution
    at_s = np.linspace(0.3, 0.7, 9) * float(signals.pressure.time_s[-1])
    u = np.array([line_pressure(signals, test.job, at_s[i : i + 1])[1][0] for i in range(at_s.size)])
    # where the reading does not move through a step, averaging resolves no more than the step
    assert line.column == "line"
    assert np.median(u) == pytest.approx(step / math.sqrt(12.0), rel=0.1)


@pytest.mark.parametrize("index", range(4))
def test_a_fine_gauge_is_not_called_coarse(index):
    assert "gauge-coarse" not in codes_of("clean-steam", index)
