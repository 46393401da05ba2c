"""What is warned of has happened, and what has happened is said, in recordings that once got it wrong."""

import pytest
from bench.corpus import make_test

from firstlift.core.analysis import analyse
from firstlift.usecases.analyse import limits_of, worded


def result_of(condition, index):
    test = make_test(condition, index)
    return test, analyse(test.recording, test.job, limits_of(test.job), worded(test.job)).result


@pytest.mark.parametrize(("condition", "index"), [("late-start", 21), ("stick-slip", 3), ("stick-slip", 22)])
def test_a_disc_on_its_way_up_is_no_frame_that_slips(condition, index):
    """The first rises steadily in noise, the others by fits and starts that the sound follows."""
    test, result = result_of(condition, index)
    assert "frame-slip" not in {finding.code for finding in result.findings}
    assert [pull.set_pressure_pa is not None for pull in result.pulls] == [true.lifted for true in test.truth.pulls]


@pytest.mark.parametrize(("index", "channel"), [(0, "acoustic"), (1, "pull force"), (2, "lift")])
def test_a_gap_of_any_channel_at_first_lift_is_said(index, channel):
    test, result = result_of("gap-at-lift", index)
    said = [finding for finding in result.findings if finding.code == "gap-at-first-lift"]
    assert len(said) == len(test.truth.pulls)
    for finding, true in zip(said, test.truth.pulls, strict=True):
        assert finding.parameters["channel"] == channel
        assert finding.parameters["from_s"] < true.first_lift_s < finding.parameters["to_s"]


def test_a_gap_of_one_cell_does_not_make_the_pull_eccentric():
    test, result = result_of("gap-at-lift", 1)
    assert "eccentric-pull" not in {finding.code for finding in result.findings}
    for pull in result.pulls:
        assert sum(pull.signature.load_share) == pytest.approx(1.0)
        assert pull.signature.load_share == pytest.approx([cell.share for cell in test.instruments.cells], abs=0.02)
