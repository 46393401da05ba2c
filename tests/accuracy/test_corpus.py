"""What every condition of the corpus must show: outcome right, nothing missed, nothing invented, honest intervals."""

import pytest
from bench.corpus import CLEAN, unexpected
from bench.pooling import pool

from firstlift.sim.conditions import CONDITIONS

NAMES = tuple(CONDITIONS)
pytestmark = pytest.mark.slow


def but(*names):
    """All conditions but those in which this is not reached yet: the list may only shrink."""
    assert set(names) <= set(NAMES)
    return tuple(name for name in NAMES if name not in names)


@pytest.mark.parametrize("name", NAMES)
def test_outcome_is_the_true_one(rows, name):
    assert [(row.failure, row.outcome) for row in rows[name]] == [("", row.wanted_outcome) for row in rows[name]]


@pytest.mark.parametrize("name", NAMES)
def test_no_number_without_a_lift(rows, name):
    assert pool(rows[name]).false_numbers == 0


@pytest.mark.parametrize("name", NAMES)
def test_no_lift_is_missed(rows, name):
    assert pool(rows[name]).missed == 0


@pytest.mark.parametrize("name", but("stick-slip"))
def test_the_moment_is_never_confidently_wrong(rows, name):
    """An error of the moment beyond the whole interval, gauge and cells and seat included, says it was too narrow."""
    for row in rows[name]:
        for pull in row.pulls:
            if pull.measurable and pull.set_pa is not None:
                assert abs(pull.set_pa - pull.ideal_pa) <= pull.half_width_pa, (row.index, pull)


@pytest.mark.parametrize("name", but("stick-slip", "already-open"))
def test_what_it_is_about_is_said(rows, name):
    assert all(row.wanted_finding for row in rows[name])


def warned_of(row):
    return set(unexpected(row))


@pytest.mark.parametrize("name", but("already-open", "spindle-play", "stick-slip"))
def test_nothing_is_warned_of_without_cause(rows, name):
    assert [warned_of(row) - {"channels-disagree"} for row in rows[name]] == [set() for _ in rows[name]]


FALSE_ALARM = ("clean-liquid", "creeping-zero", "drift", "eccentric", "simmer", "slip", "spindle-play", "stuck-first",
               "very-fast")  # fmt: skip


@pytest.mark.parametrize("name", but(*FALSE_ALARM))
def test_channels_are_not_said_to_disagree_without_cause(rows, name):
    assert not any("channels-disagree" in warned_of(row) for row in rows[name])


def test_clean_recordings_meet_the_bar(rows):
    """Median at most 0.09 % of set pressure, nine in ten at most 0.3 %, none over 1.5 %."""
    clean = pool([row for name in CLEAN for row in rows[name]])
    assert clean.pulls >= 15
    assert clean.quantile(0.5) <= 0.09
    assert clean.quantile(0.9) <= 0.3
    assert clean.quantile(1.0) <= 1.5


def test_clean_intervals_are_nearly_those_of_one_who_knows_the_moment(rows):
    clean = pool([row for name in CLEAN for row in rows[name]])
    assert clean.score_ratio <= 1.25
    assert clean.covered_pulls >= clean.pulls - 3
