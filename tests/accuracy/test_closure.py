"""A valve that shut has shut, whatever is heard later; one that stayed open is never said to have shut."""

import pytest
from bench.corpus import make_test

from firstlift.core.analysis import analyse
from firstlift.usecases.analyse import limits_of, worded


def result_of(condition, index):
    test = make_test(condition, index)
    return test, analyse(test.recording, test.job, limits_of(test.job), worded(test.job)).result


@pytest.mark.parametrize("index", [3, 10, 15])
def test_a_burst_after_closure_is_no_flow(index):
    """Bursts lie on the sound just before the next pull of 10 and 15, seconds after closure in 3."""
    test, result = result_of("bursts", index)
    assert "stayed-open" not in {finding.code for finding in result.findings}
    for true, pull in zip(test.truth.pulls, result.pulls, strict=True):
        assert pull.closure_s == pytest.approx(true.closure_s, abs=0.4)


@pytest.mark.parametrize("index", [0, 1, 2])
def test_a_valve_that_stays_open_has_no_closure(index):
    _, result = result_of("soft-rig", index)
    assert "stayed-open" in {finding.code for finding in result.findings}
    assert any(pull.closure_s is None for pull in result.pulls)


@pytest.mark.parametrize("index", [18, 25])
def test_a_frame_that_gives_way_and_slackens_the_gear_is_no_lift(index):
    _, result = result_of("slip", index)
    codes = {finding.code for finding in result.findings}
    assert "frame-slip" in codes
    assert not codes & {"stayed-open", "already-open"}
    assert result.pulls[0].set_pressure_pa is None
    assert [str(pull.outcome) for pull in result.pulls[1:]] == ["measured"] * (len(result.pulls) - 1)
