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


@pytest.mark.parametrize(("condition", "index", "pull"), [("soft-rig", 142, 0), ("snap-open", 168, 1)])
def test_a_disc_that_snaps_open_left_before_the_force_fell(condition, index, pull):
    """Every channel shows the snap some milliseconds late, when half of the force is gone already."""
    test = make_test(condition, index)
    result = analyse(test.recording, test.job, limits_of(test.job), worded(test.job)).result
    found, true = result.pulls[pull], test.truth.pulls[pull]
    assert abs(found.set_pressure_pa - true.opening_pressure_pa) < found.expanded_uncertainty_pa
    assert found.expanded_uncertainty_pa < 0.01 * true.opening_pressure_pa


def test_what_is_left_of_a_spike_is_no_pull():
    """One spike of the sum of cells is wider than a spike may be."""
    test = make_test("spikes", 155)
    result = analyse(test.recording, test.job, limits_of(test.job), worded(test.job)).result
    assert [pull.set_pressure_pa is not None for pull in result.pulls] == [true.lifted for true in test.truth.pulls]


@pytest.mark.parametrize(("index", "pull"), [(142, 1), (153, 1)])
def test_a_tilted_seat_that_gives_way_is_not_yet_a_lift(index, pull):
    """The contact fades for most of a second before the disc leaves, which then shows many times sharper."""
    test = make_test("tilted-seat", index)
    result = analyse(test.recording, test.job, limits_of(test.job), worded(test.job)).result
    assert result.pulls[pull].first_lift_s == pytest.approx(test.truth.pulls[pull].first_lift_s, abs=0.03)
