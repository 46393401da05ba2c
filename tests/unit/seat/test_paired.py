"""Pairs of on-line and bench results: normalised error, and the chart that shows a drifting rig."""

import datetime as dt
import math
from dataclasses import replace

import numpy as np
import pytest

from firstlift.core.errors import FirstliftError
from firstlift.core.seat.paired import PairedResult, agreements, control_chart, normalised_error

DAY = dt.date(2026, 1, 1)
PLAIN = PairedResult(DAY, 10.1e5, 0.06e5, 10.0e5, 0.08e5, "rig 1", "conventional", "north")


def series(deviations, **named):
    return [
        replace(PLAIN, date=DAY + dt.timedelta(days=i), on_line_pa=10e5 * (1.0 + d), **named)
        for i, d in enumerate(deviations)
    ]


def test_normalised_error_is_the_difference_over_both_uncertainties():
    assert normalised_error(PLAIN) == pytest.approx(1.0)
    assert normalised_error(replace(PLAIN, on_line_pa=9.95e5)) == pytest.approx(-0.5)


@pytest.mark.parametrize(
    "changed", [{"expanded_bench_pa": 0.0}, {"on_line_pa": math.nan}, {"bench_pa": 0.0}, {"expanded_on_line_pa": -1.0}]
)
def test_a_pair_that_cannot_be_is_refused(changed):
    with pytest.raises(FirstliftError, match="SEA-011"):
        normalised_error(replace(PLAIN, **changed))


def test_a_steady_series_is_in_control():
    values = list(np.random.default_rng(4).normal(0.002, 0.005, 30))
    chart = control_chart(values)
    assert chart.in_control
    assert not chart.provisional
    assert chart.upper - chart.middle == pytest.approx(3.0 * chart.mean_range / 1.128379, rel=1e-6)
    # the estimate from moving ranges is near the true deviation
    assert (chart.upper - chart.middle) / 3.0 == pytest.approx(0.005, rel=0.35)


def test_a_value_outside_is_seen_and_so_is_the_jump_to_it():
    values = [0.0, 0.1, -0.1, 0.05, -0.05, 0.1, 0.0, 2.0, 0.0, -0.1, 0.1]
    assert [point.signals for point in control_chart(values).points][7] == ("outside", "range")


def test_a_shift_is_seen_as_a_run():
    values = [0.6, -0.6] * 6 + [0.35, 0.3] * 5
    chart = control_chart(values)
    assert "run" not in {s for point in chart.points[:12] for s in point.signals}
    assert [("run" in point.signals) for point in chart.points[12:]] == [False] * 7 + [True] * 3


def test_the_same_value_again_and_again_is_in_control():
    assert control_chart([0.3] * 12).in_control


@pytest.mark.parametrize("values", [[], [0.1], [0.1, math.inf]])
def test_too_little_for_a_chart(values):
    with pytest.raises(FirstliftError, match="SEA-012"):
        control_chart(values)


def test_pairs_are_summed_up_by_rig_type_and_team():
    pairs = [*series([0.01, 0.02, 0.0]), *series([0.05], rig="rig 2"), *series([0.0, 0.0], team="south")]
    found = agreements(pairs[::-1])
    assert [(a.rig, a.team, len(a.normalised_errors)) for a in found] == [
        ("rig 1", "north", 3), ("rig 1", "south", 2), ("rig 2", "north", 1),
    ]  # fmt: skip
    north, _, single = found
    assert north.bias == pytest.approx(0.01)
    # t of 2 degrees of freedom 4.3027, s 0.01, three of them
    assert north.expanded_bias == pytest.approx(4.3027 * 0.01 / math.sqrt(3.0), rel=1e-4)
    assert [round(e, 6) for e in north.normalised_errors] == [1.0, 2.0, 0.0]
    assert (north.agreeing, north.chart.provisional) == (2, True)
    assert (single.chart, single.expanded_bias) == (None, None)


def test_a_pair_that_made_its_own_area_proves_nothing():
    found = agreements([*series([0.01, 0.02]), *series([0.0], in_area=True), *series([0.0], in_area=True, rig="x")])
    assert [(a.rig, len(a.normalised_errors), a.left_out) for a in found] == [("rig 1", 2, 1)]
