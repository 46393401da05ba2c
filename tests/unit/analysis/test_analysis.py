"""A whole test from recording to result, on short simulated recordings whose truth is known."""

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from firstlift.core.job import Measures, Purpose
from firstlift.core.recording import frozen
from firstlift.core.result import DispositionOutcome, Outcome, PullOutcome, VerdictOutcome
from firstlift.sim.conditions import CONDITIONS
from firstlift.sim.model import SimulatedTest


def codes(result, *severities):
    return [f.code for f in result.findings if not severities or f.severity in severities]


def with_columns(test, change):
    """The same test with each channel's (spec, values) changed."""
    channels = tuple(replace(c, values=frozen(change(c.spec, c.values))) for c in test.recording.channels)
    return replace(test, recording=replace(test.recording, channels=channels))


def without(test, *measures):
    """The same test with some channels NaN throughout."""
    return with_columns(test, lambda spec, v: np.full(v.size, np.nan) if spec.measures in measures else v)


def no_number(result):
    assert result.mean is None
    assert [pull.set_pressure_pa for pull in result.pulls] == [None] * len(result.pulls)
    assert result.as_found is None or result.as_found.set_pressure_pa is None
    assert result.disposition.outcome is not DispositionOutcome.FIT
    return True


def test_a_clean_test_is_measured_right_without_a_warning(clean):
    test, result = clean
    assert (result.outcome, result.reason) == (Outcome.MEASURED, None)
    assert codes(result, "warning", "severe") == []
    for pull, true in zip(result.pulls, test.truth.pulls, strict=True):
        assert pull.outcome is PullOutcome.MEASURED
        assert abs(pull.first_lift_s - true.first_lift_s) < 4 * pull.first_lift_standard_uncertainty_s + 0.01
        # against one who knows the moment and has these sensors: reading off the moment and noise alone are left
        assert abs(pull.set_pressure_pa - true.ideal_estimate_pa) < 0.5 * pull.expanded_uncertainty_pa
        assert abs(pull.closure_s - true.closure_s) < 0.25
    assert result.as_found.pull == 1
    assert result.as_left is None
    assert result.verdict.judged == (1,)
    assert result.disposition.outcome is DispositionOutcome.FIT


def test_the_budget_is_that_of_the_judged_value(clean):
    _, result = clean
    u = np.sqrt(sum(line.contribution_pa**2 for line in result.budget if line.distribution != "one-sided"))
    assert result.as_found.coverage_factor * u == pytest.approx(result.as_found.expanded_uncertainty_pa, rel=0.02)
    assert sum(line.share for line in result.budget) == pytest.approx(1.0)


def test_as_left_takes_the_last_pulls(short, result_of):
    test = short(pulls=4)
    result = result_of(test, visit=replace(test.job.visit, purpose=Purpose.AS_LEFT))
    assert result.as_found is None
    assert [p.pull for p in result.as_left.pulls] == [2, 3, 4]
    assert result.verdict.judged == (2, 3, 4)
    assert result.verdict.outcome is VerdictOutcome.WITHIN


def test_a_pull_that_stops_short_gives_a_bound_and_no_number(short, result_of):
    test = short(short=0.1, pulls=1)
    assert not test.truth.pulls[0].lifted
    result = result_of(test)
    assert (result.outcome, result.reason) == (Outcome.NOT_LIFTED, "not-lifted")
    assert no_number(result)
    (pull,) = result.pulls
    carried = test.truth.pulls[0].largest_force_n / test.truth.area_m2
    line = pull.line_pressure_pa
    assert pull.lower_bound_pa == pytest.approx(line + carried, abs=pull.expanded_uncertainty_pa)
    assert pull.lower_bound_pa < test.truth.set_pressure_pa + pull.expanded_uncertainty_pa


def test_a_first_pull_that_stuck_is_what_was_found(short, result_of):
    plain = short()
    bond = 0.6 * plain.truth.pulls[0].force_n
    test = short(bond_n=bond)
    result = result_of(test)
    assert "stuck-first-pull" in codes(result)
    first, later = result.pulls
    assert first.set_pressure_pa - later.set_pressure_pa == pytest.approx(
        bond / test.truth.area_m2, abs=later.expanded_uncertainty_pa
    )
    assert result.as_found.set_pressure_pa == first.set_pressure_pa


def test_a_valve_that_stays_open_is_inoperable_and_gives_no_later_number(result_of):
    test = CONDITIONS["soft-rig"](np.random.default_rng(11))
    result = result_of(slow(test))
    assert result.pulls[0].outcome is PullOutcome.MEASURED
    assert result.pulls[0].closure_s is None
    assert "stayed-open" in codes(result, "severe")
    assert {p.outcome for p in result.pulls[1:]} <= {PullOutcome.ALREADY_OPEN}
    assert result.disposition.outcome is DispositionOutcome.INOPERABLE


def slow(test: SimulatedTest, every=10):
    """Keep one sample in ten: quick to analyse."""
    channels = tuple(
        replace(c, time_s=frozen(c.time_s[::every]), values=frozen(c.values[::every]), samples=c.values[::every].size)
        for c in test.recording.channels
    )
    return replace(test, recording=replace(test.recording, channels=channels))


def test_a_valve_open_before_the_first_pull_gives_no_number(result_of):
    result = result_of(slow(CONDITIONS["already-open"](np.random.default_rng(12))))
    assert result.outcome is Outcome.UNUSABLE
    assert no_number(result)


def test_a_cell_at_its_stop_before_first_lift_gives_a_bound_only(clean, result_of):
    test, _ = clean
    cells = [c for c in test.recording.channels if c.spec.measures is Measures.PULL_FORCE]
    tops = {c.spec.column: c.values.min() + 0.6 * np.ptp(c.values) for c in cells}
    result = result_of(with_columns(test, lambda spec, v: np.minimum(v, tops.get(spec.column, np.inf))))
    assert (result.outcome, result.reason) == (Outcome.UNUSABLE, "force-saturated")
    assert no_number(result)
    assert "force-saturated" in codes(result, "severe")
    for pull in result.pulls:
        assert pull.lower_bound_pa < test.truth.set_pressure_pa


def test_nothing_but_nan_is_unusable_with_a_reason(clean, result_of):
    result = result_of(without(clean[0], *Measures))
    assert (result.outcome, result.reason) == (Outcome.UNUSABLE, "no-usable-force")
    assert result.pulls == ()
    assert result.verdict is None
    assert no_number(result)


@pytest.mark.parametrize(
    ("lost", "reason"),
    [
        ((Measures.PULL_FORCE,), "no-usable-force"),
        ((Measures.SPINDLE_LIFT, Measures.ACOUSTIC), "lift-signal-lost"),
        ((Measures.LINE_PRESSURE,), "no-line-pressure"),
    ],
)
def test_without_what_is_needed_the_recording_is_unusable(clean, result_of, lost, reason):
    result = result_of(without(clean[0], *lost))
    assert (result.outcome, result.reason) == (Outcome.UNUSABLE, reason)
    assert no_number(result)


@pytest.mark.parametrize(
    ("lost", "code"), [(Measures.SPINDLE_LIFT, "lift-signal-lost"), (Measures.ACOUSTIC, "acoustic-signal-lost")]
)
def test_one_channel_of_two_is_enough_and_its_loss_is_said(clean, result_of, lost, code):
    test, plain = clean
    result = result_of(without(test, lost))
    assert result.outcome is Outcome.MEASURED
    assert code in codes(result, "warning")
    for pull, before in zip(result.pulls, plain.pulls, strict=True):
        assert abs(pull.set_pressure_pa - before.set_pressure_pa) < before.expanded_uncertainty_pa


def test_a_record_without_a_pull_is_unusable(clean, result_of):
    test, _ = clean
    rest = np.random.default_rng(0)

    def slack(spec, values):
        return values[0] + 0.003 * rest.standard_normal(values.size) if spec.measures is Measures.PULL_FORCE else values

    result = result_of(with_columns(test, slack))
    assert (result.outcome, result.reason) == (Outcome.UNUSABLE, "no-pull-found")


def test_a_calibration_that_is_overdue_is_said(clean, result_of):
    test, _ = clean
    due = test.job.visit.date.replace(year=test.job.visit.date.year - 1)
    channels = (replace(test.job.channels[0], calibration_due=due), *test.job.channels[1:])
    assert "calibration-overdue" in codes(result_of(test, channels=channels), "warning")


@settings(derandomize=True, max_examples=6, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(st.sampled_from([0.25, 1.0, 8.0]), st.sampled_from([0.0, -0.5, 0.3]), st.sampled_from([0.0, 1000.25, -37.5]))
def test_the_result_does_not_change_with_scale_zero_and_clock(clean, result_of, scale, offset_kn, shift_s):
    """Powers of two scale exactly, so the numbers are the same; zero and clock cost a rounding."""
    test, plain = clean

    def change(spec, values):
        return values + offset_kn if spec.measures is Measures.PULL_FORCE else values

    moved = with_columns(test, change)
    channels = tuple(
        replace(c, time_s=frozen(c.time_s + shift_s), values=frozen(c.values * scale), spec=rescaled(c.spec, scale))
        for c in moved.recording.channels
    )
    moved = replace(moved, recording=replace(moved.recording, channels=channels))
    result = result_of(moved, channels=tuple(c.spec for c in channels))
    assert codes(result) == codes(plain)
    for pull, before in zip(result.pulls, plain.pulls, strict=True):
        u = before.expanded_uncertainty_pa
        # windows are cut at samples: a bound that falls on one may take it or leave it, worth a hundredth of U
        assert pull.set_pressure_pa == pytest.approx(before.set_pressure_pa, abs=0.01 * u)
        assert pull.expanded_uncertainty_pa == pytest.approx(u, rel=0.01)
        u_s = before.first_lift_standard_uncertainty_s
        assert pull.first_lift_s - shift_s == pytest.approx(before.first_lift_s, abs=0.2 * u_s)


def rescaled(spec, scale):
    """The same channel in a unit ``scale`` times smaller; sound has no unit that counts."""
    return spec if spec.measures is Measures.ACOUSTIC else replace(spec, factor=spec.factor / scale)
