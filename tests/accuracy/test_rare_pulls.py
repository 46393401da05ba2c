"""Pulls that a long campaign of the corpus found to be read plainly wrong once: now they are read as others are."""

import pytest
from bench.corpus import run_one

# condition, recording, pull; what was wrong with it
PULLS = [
    ("slip", 267, 1),  # the frame gave way so far that the gear went slack; 15.9 % low
    ("slip", 349, 1),  # the same; 6.7 % low
    ("tilted-seat", 240, 2),  # the seat gave way long before the disc was free; 4.0 % low
    ("tilted-seat", 273, 1),  # the same; 3.0 % low
    ("tilted-seat", 156, 1),  # the same; 1.2 % low
    ("tilted-seat", 401, 2),  # the same, and the place after it only twice as plain; 3.0 % low
    ("ripple", 239, 1),  # a part of the bracket that knew no place was believed; 1.5 % low
    ("hand-pump", 352, 1),  # candidates lay further apart than the lift's bend is wide; 2.2 % low
    ("hand-pump", 64, 2),  # the search went on to where nothing could be learned; 1.2 % low
    ("lost-lift", 402, 2),  # a leak's onset was taken for the lift, then the pull for none
    ("creeping-zero", 186, 1),  # the slack of the whole record crept by more than it scatters; no pull found
]


@pytest.mark.parametrize(("condition", "index", "number"), PULLS)
def test_a_pull_once_read_wrong(condition, index, number):
    row = run_one(condition, index)
    pull = next(pull for pull in row.pulls if pull.number == number)
    assert pull.set_pa is not None
    assert abs(pull.set_pa - pull.ideal_pa) < 0.002 * row.stamped_pa
    assert pull.half_width_pa < 1.3 * pull.knowing_pa


@pytest.mark.parametrize(
    ("condition", "index", "number"),
    [
        ("lost-lift", 36, 2),  # a leak's onset was taken for the lift, then the pull for none
        ("gap-at-lift", 339, 2),  # no line pressure could be read within its gap
    ],
)
def test_a_pull_once_missed_is_found_and_its_interval_holds(condition, index, number):
    row = run_one(condition, index)
    pull = next(pull for pull in row.pulls if pull.number == number)
    assert pull.set_pa is not None
    assert abs(pull.set_pa - pull.ideal_pa) < 0.5 * pull.half_width_pa < 0.01 * row.stamped_pa


def test_a_curve_that_fits_the_middle_of_a_snaps_fall_is_no_lift():
    """The disc left at the force's peak; the joint estimate lay 5 ms later and 3.4 % low."""
    row = run_one("soft-rig", 96)
    pull = row.pulls[0]
    assert abs(pull.set_pa - pull.ideal_pa) < pull.half_width_pa < 1.3 * pull.knowing_pa


@pytest.mark.parametrize(
    ("condition", "index", "number"),
    [
        # the disc left at the end of one stroke of the pump; the mark lay on the next one, 0.2 to 0.5 s later
        ("hand-pump", 1, 1),
        ("hand-pump", 1, 3),
        ("hand-pump", 6, 1),
        ("hand-pump", 37, 3),
        # the line's ripple bent force and lift again soon after; the mark lay between, up to 59 ms late
        ("ripple", 13, 2),
        ("ripple", 54, 1),
    ],
)
def test_the_mark_stands_where_the_disc_first_leaves(condition, index, number):
    row = run_one(condition, index)
    pull = next(pull for pull in row.pulls if pull.number == number)
    assert abs(pull.moment_error_s) < 0.025
    assert abs(pull.set_pa - pull.ideal_pa) < 0.001 * row.stamped_pa
    assert pull.half_width_pa < 1.2 * pull.knowing_pa


@pytest.mark.parametrize("index", [267, 349])
def test_a_frame_that_slackens_the_gear_is_said(index):
    assert any(code == "frame-slip" for code, _, _ in run_one("slip", index).findings)
