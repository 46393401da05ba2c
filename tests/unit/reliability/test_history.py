"""From rows of tests to lives: what renews age, what ends a life, and what says nothing."""

import numpy as np
import pytest

from firstlift.core.errors import FirstliftError
from firstlift.core.reliability.history import failed_to_danger, histories_of, lives_of

INF = np.inf


def lives(*rows, danger=1.1):
    found = lives_of(histories_of(rows), danger)
    columns = (found.entry_yr.round(2), found.left_yr.round(2), found.right_yr.round(2), found.count)
    return sorted(zip(*(column.tolist() for column in columns), strict=True))


def test_a_good_valve_lasts_to_its_last_test(row, new):
    assert lives(new("A"), row("A", 2), row("A", 5)) == [(0, 0 + 5, INF, 1)]


def test_a_failure_lies_between_two_tests_and_the_valve_goes_on_at_its_age(row, new):
    found = lives(new("A"), row("A", 2), row("A", 5, "stuck"), row("A", 8))
    assert found == [(0, 2, 5, 1), (5, 8, INF, 1)]


def test_only_an_overhaul_makes_it_young_again(row, new):
    found = lives(new("A"), row("A", 2), row("A", 5, "stuck", overhauled=True), row("A", 8))
    assert found == [(0, 2, 5, 1), (0, 3, INF, 1)]


def test_a_good_valve_that_is_overhauled_ends_its_life_unfailed(row, new):
    assert lives(new("A"), row("A", 4, overhauled=True), row("A", 6)) == [(0, 2, INF, 1), (0, 4, INF, 1)]


def test_a_lower_bound_says_nothing_of_its_day(row, new):
    assert lives(new("A"), row("A", 3), row("A", 6, "lower-bound", 0.9)) == [(0, 3, INF, 1)]
    assert lives(new("A"), row("A", 3), row("A", 6, "lower-bound", 1.2)) == [(0, 3, 6, 1)]


def test_a_start_that_nobody_wrote_down_counts_from_the_first_row(row):
    (history,) = histories_of([row("A", 5), row("A", 1), row("A", 3)])
    assert history.started_unknown
    assert history.age_yr == pytest.approx(4.0, abs=0.01)
    assert lives(row("A", 1), row("A", 3), row("A", 5)) == [(0, 4, INF, 1)]


@pytest.mark.parametrize(
    ("found", "ratio", "failed"),
    [
        ("within", 1.01, False),
        ("within", None, False),
        ("high", 1.05, False),
        ("high", 1.11, True),
        ("high", None, True),
        ("stuck", None, True),
        ("low", 0.9, False),
        ("leaked", None, False),
        ("stayed-open", None, False),
        ("lower-bound", None, None),
        ("lower-bound", 1.05, None),
        ("lower-bound", 1.3, True),
        ("none", None, None),
    ],
)
def test_what_counts_as_failed_to_danger(row, found, ratio, failed):
    assert failed_to_danger(row("A", 1, found, ratio), 1.1) is failed


def test_rows_that_contradict_each_other_are_refused_all_at_once(row):
    rows = [row("A", 1), row("A", 1, "stuck"), row("B", 1, group="x"), row("B", 2, group="y")]
    with pytest.raises(FirstliftError) as caught:
        histories_of(rows)
    assert [problem.code for problem in caught.value.problems] == ["REL-005", "REL-006"]
