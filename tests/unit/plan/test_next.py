"""What next after each pull: the worth of each action against simulated actions, and the one line."""

import math
from dataclasses import replace

import numpy as np
import pytest
from tests.made_plans import BAR, EDGES, make_job

from firstlift.core.plan.decide import find_edges
from firstlift.core.plan.forecast import forecast_spread
from firstlift.core.plan.help import with_better_area
from firstlift.core.plan.next import what_next
from firstlift.usecases.analyse import limits_of

TRIALS = 100_000


def following(readings_bar, line_bar=8.0, u_moment_pa=4e3, highest_bar=9.5, **sheet):
    job = make_job(**sheet)
    readings = [reading * BAR for reading in readings_bar]
    top = highest_bar * BAR
    return what_next(job, limits_of(job), readings, line_bar * BAR, u_moment_pa=u_moment_pa, highest_pa=top)


def value(found, action):
    return next(one for one in found.actions if one.action == action)


@pytest.mark.parametrize(("reading", "outcome"), [(10.0, "within"), (11.0, "outside")])
def test_a_decided_verdict_ends_it(reading, outcome):
    found = following([reading])
    assert (found.outcome, found.advice, found.chosen) == (outcome, "next-decided-stop", None)


def test_a_wide_seat_is_to_be_measured_where_the_line_cannot_rise():
    found = following([10.15], 6.5, highest_bar=6.5, seat=EDGES)
    assert found.outcome == "undecided"
    assert found.advice == "next-better-area"
    assert found.chosen.changes_verdict
    # the area is common to all pulls: no number of them does what measuring it does
    assert found.chosen.worth_pulls is None
    assert "more-line" not in {one.action for one in found.actions}


def test_more_line_is_weighed_where_it_may_rise():
    found = following([10.15], 6.5, seat=EDGES)
    line = value(found, "more-line")
    assert 0.0 < line.raise_pa <= 3.0 * BAR
    assert line.u_after_pa < line.u_before_pa
    assert not line.changes_verdict


def test_another_pull_leaves_the_as_found_verdict_and_may_settle_as_left():
    noisy = {"u_moment_pa": 12e3}
    found, left = (following([10.21], purpose=purpose, **noisy) for purpose in ("as-found", "as-left"))
    assert not value(found, "one-more-pull").changes_verdict
    assert value(left, "one-more-pull").changes_verdict
    assert value(left, "one-more-pull").probability_decided > 0.1


def test_more_pulls_shrink_only_what_is_each_pulls_own():
    one, five = (following([10.2] * n, u_moment_pa=12e3) for n in (1, 5))
    first, later = value(one, "one-more-pull"), value(five, "one-more-pull")
    assert first.u_after_pa < first.u_before_pa
    assert later.u_before_pa - later.u_after_pa < first.u_before_pa - first.u_after_pa
    shared = math.sqrt(first.u_before_pa**2 - 12e3**2)
    assert later.u_after_pa > shared


def test_what_an_action_is_worth_in_pulls():
    """A better gauge that saves little is worth a fraction of a pull."""
    found = following([10.2], u_moment_pa=12e3)
    gauge = value(found, "better-gauge")
    n = 1.0 + gauge.worth_pulls
    shared = math.sqrt(gauge.u_before_pa**2 - 12e3**2)
    assert math.hypot(shared, 12e3 / math.sqrt(n)) == pytest.approx(gauge.u_after_pa, rel=1e-6)


def test_nothing_helps_a_reading_on_the_limit_itself():
    found = following([10.3], 9.0, highest_bar=9.0)
    assert found.advice == "next-nothing-helps"
    assert all(one.probability_decided < 0.5 for one in found.actions)


def test_the_worth_of_measuring_the_seat_is_what_measuring_it_brings():
    """Draw the truth about the reading, measure the area better, read again, judge: as often decided as was said."""
    generator = np.random.default_rng(3)
    job = make_job(seat='mean_diameter = "30 mm"\nstandard_uncertainty = "0.4 mm"')
    better, limits = with_better_area(job), limits_of(job)
    line, reading = 6.0 * BAR, 10.12 * BAR
    found = what_next(job, limits, [reading], line, u_moment_pa=3e3, highest_pa=line)
    spread, after = (forecast_spread(one, line, reading, 3e3).standard_uncertainty for one in (job, better))
    truth = reading + spread * generator.standard_normal(TRIALS)
    # the best value after: the reading and a second look of the remaining uncertainty, weighed by their variances
    look = 1.0 / (after**-2 - spread**-2)
    second = truth + math.sqrt(look) * generator.standard_normal(TRIALS)
    best = after**2 * (reading / spread**2 + second / look)
    edges = find_edges(better, limits, line, 3e3)
    decided = (best >= edges.within_low_pa) & (best <= edges.within_high_pa)
    decided |= (best <= edges.outside_low_pa) | (best >= edges.outside_high_pa)
    assert value(found, "better-area").probability_decided == pytest.approx(float(decided.mean()), abs=0.01)


def test_a_simple_rule_is_always_decided():
    job = replace(make_job(decision="simple"))
    found = what_next(job, limits_of(job), [10.29 * BAR], 6 * BAR, u_moment_pa=3e3, highest_pa=9 * BAR)
    assert found.advice == "next-decided-stop"
