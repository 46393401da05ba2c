"""Which pulls are judged, and what follows for the valve."""

import datetime as dt
import math
from dataclasses import replace

import pytest

from firstlift.core.errors import Finding, Severity
from firstlift.core.job import Decision, Purpose
from firstlift.core.judgement import Reading, dispose, judge_test, last_openings
from firstlift.core.result import DispositionOutcome, PullOutcome, VerdictOutcome
from firstlift.core.uncertainty.budget import Input, make_budget
from firstlift.usecases.analyse import limits_of

BAR = 1e5


def budget(u_bar=0.03, own=0.01, seat=0.0):
    parts = [("gauge", u_bar, "gauge:1"), ("moment", own, "pull"), ("seat area", seat, "seat")]
    return make_budget([Input(n, 0.0, "Pa", u * BAR, "normal", math.inf, 1.0, tag) for n, u, tag in parts if u > 0])


def opened(number, bar, **parts):
    return Reading(number, PullOutcome.MEASURED, bar * BAR, budget(**parts), None)


def held(number, bar, **parts):
    return Reading(number, PullOutcome.NOT_LIFTED, None, budget(**parts), bar * BAR)


def open_already(number):
    return Reading(number, PullOutcome.ALREADY_OPEN, None, None, None)


@pytest.fixture
def judged(by_hand):
    """Judge readings of a valve stamped 10 bar by iso-4126-1: 9.7 to 10.3 bar."""

    def judge(readings, purpose=Purpose.AS_FOUND, **rules):
        job = by_hand.job(purpose=purpose)
        job = replace(job, rules=replace(job.rules, **rules))
        return judge_test(readings, limits_of(job), job)

    return judge


def codes(findings):
    return [finding.code for finding in findings]


def test_as_found_judges_the_first_loading_and_no_other(judged):
    verdict, findings = judged([opened(1, 11.0), opened(2, 10.0), opened(3, 10.0)])
    assert (verdict.judged, verdict.outcome) == ((1,), VerdictOutcome.OUTSIDE)
    assert (verdict.lower_pa, verdict.upper_pa) == pytest.approx((9.7 * BAR, 10.3 * BAR))
    assert findings == ()


def test_a_first_pull_without_lift_is_outside_where_it_proves_more_than_the_limit(judged):
    verdict, findings = judged([held(1, 10.5), opened(2, 10.0)])
    assert (verdict.judged, verdict.outcome) == ((1,), VerdictOutcome.OUTSIDE)
    assert verdict.probability_within is None
    assert codes(findings) == ["lower-bound-high"]
    assert findings[0].severity is Severity.SEVERE


# U = 1.96 * 0.0316 bar = 0.062 bar: above 10.362 bar the bound proves it
@pytest.mark.parametrize(("bar", "proves"), [(9.0, False), (10.30, False), (10.35, False), (10.37, True)])
def test_a_bound_proves_only_beyond_its_uncertainty(judged, bar, proves):
    verdict, _ = judged([held(1, bar)])
    assert (verdict is not None) == proves


def test_a_first_pull_that_shows_nothing_is_not_replaced_by_a_later_one(judged):
    verdict, findings = judged([open_already(1), opened(2, 10.0)])
    assert (verdict, findings) == (None, ())


def test_no_pull_no_verdict(judged):
    assert judged([]) == (None, ())
    assert judged([], Purpose.AS_LEFT) == (None, ())


def test_as_left_judges_the_last_consecutive_openings(judged):
    readings = [opened(1, 11.5), opened(2, 10.02), opened(3, 9.98), opened(4, 10.0)]
    verdict, findings = judged(readings, Purpose.AS_LEFT)
    assert (verdict.judged, verdict.outcome, findings) == ((2, 3, 4), VerdictOutcome.WITHIN, ())


def test_as_left_a_pull_without_lift_breaks_the_row(judged):
    readings = [opened(1, 10.0), opened(2, 10.0), held(3, 9.0), opened(4, 10.0)]
    assert [r.number for r in last_openings(readings)] == [4]
    verdict, findings = judged(readings, Purpose.AS_LEFT)
    assert (verdict.judged, verdict.outcome) == ((4,), VerdictOutcome.UNDECIDED)
    assert codes(findings) == ["too-few-openings"]
    assert findings[0].parameters == {"count": 1, "needed": 3}


def test_as_left_a_last_pull_without_lift_leaves_nothing_to_judge(judged):
    assert judged([opened(1, 10.0), held(2, 9.0)], Purpose.AS_LEFT) == (None, ())


def test_as_left_one_opening_outside_is_outside(judged):
    verdict, _ = judged([opened(1, 10.0), opened(2, 10.6), opened(3, 10.0)], Purpose.AS_LEFT)
    assert verdict.outcome is VerdictOutcome.OUTSIDE


@pytest.mark.parametrize("sign", [1.0, -1.0])
def test_as_left_a_trend_blocks_acceptance(judged, sign):
    readings = [opened(i + 1, 10.0 + sign * step) for i, step in enumerate((-0.08, 0.0, 0.08))]
    verdict, findings = judged(readings, Purpose.AS_LEFT)
    assert verdict.outcome is VerdictOutcome.UNDECIDED
    assert codes(findings) == ["trend"]
    assert findings[0].parameters["change_pa"] == pytest.approx(sign * 0.16 * BAR)


def test_as_left_the_same_values_out_of_order_are_no_trend(judged):
    readings = [opened(i + 1, 10.0 + step) for i, step in enumerate((0.0, -0.08, 0.08))]
    verdict, findings = judged(readings, Purpose.AS_LEFT)
    assert (verdict.outcome, findings) == (VerdictOutcome.WITHIN, ())


def test_as_left_openings_must_agree(judged):
    readings = [opened(1, 9.85, u_bar=0.005), opened(2, 10.2, u_bar=0.005), opened(3, 9.9, u_bar=0.005)]
    verdict, findings = judged(readings, Purpose.AS_LEFT)
    assert verdict.outcome is VerdictOutcome.UNDECIDED
    assert codes(findings) == ["openings-disagree"]
    assert findings[0].parameters["spread_share"] == pytest.approx(0.035)


@pytest.mark.parametrize(
    ("seat", "gauge", "code"),
    [(0.3, 0.03, "line-too-low-to-decide"), (0.0, 0.3, "uncertainty-too-large-to-decide")],
)
def test_an_open_verdict_says_why(judged, seat, gauge, code):
    verdict, findings = judged([opened(1, 10.1, u_bar=gauge, seat=seat)])
    assert verdict.outcome is VerdictOutcome.UNDECIDED
    assert codes(findings) == [code]


def test_the_simple_rule_decides_by_the_value_and_shows_the_probability(judged):
    verdict, _ = judged([opened(1, 10.29, u_bar=0.1)], decision=Decision.SIMPLE)
    assert verdict.outcome is VerdictOutcome.WITHIN
    assert 0.5 < verdict.probability_within < 0.6


FIT, RESTRICTED = DispositionOutcome.FIT, DispositionOutcome.FIT_WITH_RESTRICTION
UNFIT, INOPERABLE = DispositionOutcome.UNFIT, DispositionOutcome.INOPERABLE


@pytest.mark.parametrize(
    ("bar", "finding", "severity", "expected", "reasons"),
    [
        (10.0, None, None, FIT, ()),
        (10.0, "stayed-open", Severity.SEVERE, INOPERABLE, ("stayed-open",)),
        (11.0, "stayed-open", Severity.SEVERE, INOPERABLE, ("stayed-open", "set-pressure-outside")),
        (10.0, "already-open", Severity.SEVERE, INOPERABLE, ("already-open",)),
        (11.0, None, None, UNFIT, ("set-pressure-outside",)),
        (10.0, "leaking-before-lift", Severity.WARNING, UNFIT, ("leaking-before-lift",)),
        (10.0, "stuck-first-pull", Severity.SEVERE, UNFIT, ("stuck-first-pull",)),
        (10.0, "stuck-first-pull", Severity.WARNING, FIT, ()),
        (10.0, "spring-setting-only", Severity.WARNING, RESTRICTED, ("spring-setting-only",)),
        (10.28, None, None, RESTRICTED, ("set-pressure-undecided",)),
        (10.0, "zero-shift", Severity.WARNING, FIT, ()),
    ],
)
def test_disposition(judged, bar, finding, severity, expected, reasons):
    verdict, _ = judged([opened(1, bar)])
    found = dispose(verdict, [Finding(finding, severity)] if finding else [], None)
    assert (found.outcome, found.reasons) == (expected, reasons)


def test_nothing_shown_is_unfit_with_its_reason():
    found = dispose(None, [], "no-usable-force")
    assert (found.outcome, found.reasons) == (UNFIT, ("no-usable-force",))


def test_a_reason_is_said_once():
    found = dispose(None, [Finding("not-lifted", Severity.SEVERE)], "not-lifted")
    assert found.reasons == ("not-lifted",)


def test_the_date_of_the_visit_does_not_matter_to_the_verdict(by_hand):
    job = by_hand.job()
    later = replace(job, visit=replace(job.visit, date=dt.date(2031, 1, 1)))
    first = judge_test([opened(1, 10.0)], limits_of(job), job)
    assert judge_test([opened(1, 10.0)], limits_of(later), later) == first
