"""Friction read off whole simulated pulls, against the friction that was put in."""

import pytest
from bench.corpus import make_test

from firstlift.core.analysis import analyse
from firstlift.usecases.analyse import limits_of, worded


def pulls_of(condition, index):
    test = make_test(condition, index)
    result = analyse(test.recording, test.job, limits_of(test.job), worded(test.job)).result
    return test, result, [pull.signature for pull in result.pulls if pull.signature.friction_n is not None]


@pytest.mark.parametrize("index", range(8))
def test_friction_is_read_and_said(index):
    test, result, shown = pulls_of("friction", index)
    assert "friction" in {finding.code for finding in result.findings}
    for signature in shown:
        # damping of the motion counts as friction: some per cent of the opening force more
        assert -0.005 < (signature.friction_n - test.valve.friction_n) / signature.opening_force_n < 0.02


@pytest.mark.parametrize("index", range(3))
@pytest.mark.parametrize("name", ["clean-gas", "clean-liquid", "very-fast", "snap-open", "stuck-first", "leaking"])
def test_no_friction_is_read_where_there_is_none(name, index):
    _, result, shown = pulls_of(name, index)
    assert "friction" not in {finding.code for finding in result.findings}
    assert all(-0.01 < signature.friction_n / signature.opening_force_n < 0.03 for signature in shown)
