"""A person's word on a pull: rejected or moved, what then counts, and what stays visible."""

import datetime as dt
import math
from dataclasses import replace

import pytest

from firstlift.certificate.glance import lower_bound_of
from firstlift.core.errors import FirstliftError
from firstlift.core.job import PullReview, Purpose, ReviewAction
from firstlift.core.observe import move_first_lift
from firstlift.core.result import (
    REJECTED,
    DispositionOutcome,
    Outcome,
    PullOutcome,
    VerdictOutcome,
    from_json,
    to_json,
)

AT = dt.datetime(2026, 5, 4, 15, 10, tzinfo=dt.UTC)


def reject(pull):
    return PullReview(pull, ReviewAction.REJECT, "the rig was knocked", "Ada Quillfeather", AT)


def move(pull, to_s):
    return PullReview(pull, ReviewAction.MOVE, "the sound began here", "Ada Quillfeather", AT, to_s)


def finding(result, code):
    (found,) = [f for f in result.findings if f.code == code]
    return found


def as_left(job):
    return replace(job.visit, purpose=Purpose.AS_LEFT)


def test_a_rejected_pull_keeps_its_number_in_sight_but_counts_nowhere(clean, result_of):
    test, plain = clean
    result = result_of(test, reviews=(reject(2),))
    second = result.pulls[1]
    assert not second.accepted
    assert second.set_pressure_pa == plain.pulls[1].set_pressure_pa
    assert second.evidence == plain.pulls[1].evidence
    assert result.mean.pulls == (1,)
    assert result.verdict == plain.verdict
    assert result.as_found == plain.as_found
    said = finding(result, "pull-rejected")
    assert said.pull == 2
    assert said.parameters["read_set_pressure_pa"] == second.set_pressure_pa
    assert "the rig was knocked (Ada Quillfeather, 2026-05-04T15:10+00:00)" in said.message
    assert from_json(to_json(result)) == result


def test_no_later_pull_takes_the_place_of_a_rejected_first_loading(clean, result_of):
    test, plain = clean
    result = result_of(test, reviews=(reject(1),))
    assert result.outcome is Outcome.MEASURED
    assert (result.as_found.pull, result.as_found.outcome) == (1, PullOutcome.UNUSABLE)
    assert result.as_found.set_pressure_pa is None
    assert result.verdict is None
    assert plain.disposition.outcome is DispositionOutcome.FIT
    assert result.disposition.outcome is DispositionOutcome.FIT_WITH_RESTRICTION
    assert "first-loading-rejected" in result.disposition.reasons


def test_rejecting_a_first_loading_read_as_outside_does_not_make_the_valve_fit(short, result_of):
    test = short()
    stamped = test.job.valve.set_pressure
    low = replace(stamped, si=stamped.si * 0.9, number=stamped.number * type(stamped.number)("0.9"))
    job = replace(test.job, valve=replace(test.job.valve, set_pressure=low))
    high = replace(test, job=job)
    assert result_of(high).verdict.outcome is VerdictOutcome.OUTSIDE
    result = result_of(high, reviews=(reject(1),))
    assert result.verdict is None
    assert result.disposition.outcome is DispositionOutcome.UNFIT
    assert result.disposition.reasons == ("first-loading-rejected",)


def test_where_every_pull_is_rejected_nothing_is_proved(clean, result_of):
    test, _ = clean
    result = result_of(test, reviews=(reject(1), reject(2)))
    assert (result.outcome, result.reason) == (Outcome.UNUSABLE, "pull-rejected")
    assert result.verdict is None
    assert result.mean is None
    assert result.budget == ()
    assert result.disposition.outcome is DispositionOutcome.UNFIT


def test_a_rejected_pull_breaks_the_row_of_consecutive_openings(short, result_of):
    test = short(pulls=4)
    visit = as_left(test.job)
    plain = result_of(test, visit=visit)
    assert plain.verdict.judged == (2, 3, 4)
    broken = result_of(test, visit=visit, reviews=(reject(3),))
    assert broken.verdict.judged == (4,)
    assert broken.verdict.outcome is VerdictOutcome.UNDECIDED
    assert [pull.pull for pull in broken.as_left.pulls] == [4]
    assert result_of(test, visit=visit, reviews=(reject(1),)).verdict == plain.verdict
    assert result_of(test, visit=visit, reviews=(reject(4),)).verdict is None


@pytest.mark.parametrize("share", [-0.3, -0.05, 0.01])
def test_a_moved_first_lift_gives_the_opening_load_there_and_takes_in_both_moments(clean, result_of, share):
    test, plain = clean
    was = plain.pulls[0]
    to_s = was.first_lift_s + share * (was.first_lift_s - was.start_s)
    result = result_of(test, reviews=(move(1, to_s),))
    now = result.pulls[0]
    assert now.accepted
    assert now.first_lift_s == to_s
    assert now.evidence == was.evidence
    assert now.expanded_uncertainty_pa >= was.expanded_uncertainty_pa
    assert abs(now.set_pressure_pa - was.set_pressure_pa) < now.expanded_uncertainty_pa
    if share < 0:
        # the force rose steadily up to first lift
        assert now.set_pressure_pa < was.set_pressure_pa
        assert now.pull_force_n == pytest.approx((1 + share) * was.pull_force_n, rel=0.25)
    (line,) = [line for line in result.budget if line.quantity == "moment moved by hand"]
    assert line.distribution == "rectangular"
    assert abs(now.set_pressure_pa - was.set_pressure_pa) <= 0.95 * math.sqrt(3.0) * line.standard_uncertainty * 1.001
    apart = (to_s - was.first_lift_s) / math.sqrt(3.0)
    assert now.first_lift_standard_uncertainty_s == pytest.approx(
        math.hypot(was.first_lift_standard_uncertainty_s, apart)
    )
    assert result.as_found.set_pressure_pa == now.set_pressure_pa
    said = finding(result, "first-lift-moved").parameters
    assert (said["read_first_lift_s"], said["moved_first_lift_s"]) == (was.first_lift_s, to_s)
    assert (said["read_set_pressure_pa"], said["set_pressure_pa"]) == (was.set_pressure_pa, now.set_pressure_pa)
    assert result.pulls[1] == plain.pulls[1]


def test_what_cannot_be_is_refused_with_its_reason(clean, short, result_of):
    test, plain = clean
    one = plain.pulls[0]
    for review, code in (
        (reject(3), "REV-001"),
        (move(1, one.start_s - 0.1), "REV-003"),
        (move(1, one.closure_s + 0.1), "REV-003"),
        (move(1, float(one.end_s) + 5.0), "REV-003"),
    ):
        with pytest.raises(FirstliftError) as refused:
            result_of(test, reviews=(review,))
        assert refused.value.problems[0].code == code


def test_no_bound_is_printed_of_a_pull_that_was_rejected(clean, result_of):
    test, plain = clean
    bound = replace(plain.pulls[0], outcome=PullOutcome.NOT_LIFTED, set_pressure_pa=None, lower_bound_pa=2e6)
    assert lower_bound_of(replace(plain, as_found=None, pulls=(bound,))) == 2e6
    assert lower_bound_of(replace(plain, as_found=None, pulls=(replace(bound, flags=(REJECTED,)),))) is None
    assert [REJECTED in pull.flags for pull in result_of(test, reviews=(reject(2),)).pulls] == [False, True]


def test_where_no_first_lift_was_found_there_is_none_to_move(by_hand):
    pull = by_hand.pull([500.0])
    with pytest.raises(FirstliftError) as refused:
        move_first_lift(pull.signals, by_hand.job(pull.specs), replace(pull.find, joint=None), None, move(1, 3.0))
    assert refused.value.problems[0].code == "REV-002"
