"""Static friction lets go at the top of a pump's stroke: the force stands there for some milliseconds only."""

import pytest
from bench.corpus import make_test

from firstlift.core.analysis import analyse
from firstlift.usecases.analyse import limits_of, worded


@pytest.mark.parametrize("index", [35, 43])
def test_a_short_peak_of_force_is_read_at_its_top(index):
    test = make_test("stick-slip", index)
    result = analyse(test.recording, test.job, limits_of(test.job), worded(test.job)).result
    for true, pull in zip(test.truth.pulls, result.pulls, strict=True):
        assert pull.first_lift_s == pytest.approx(true.first_lift_s, abs=2.5e-3)
        assert abs(pull.set_pressure_pa - true.opening_pressure_pa) < pull.expanded_uncertainty_pa
