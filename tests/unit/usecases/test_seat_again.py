"""A kept test computed again with the seat record in force for its day: by hand, kept beside the earlier, refused."""

import dataclasses
import datetime as dt
import uuid

import pytest
from tests.unit.usecases.test_register_analyse import case, short, store, work_folder  # noqa: F401

from firstlift.certificate.settings import PaperSettings
from firstlift.core.errors import FirstliftError
from firstlift.core.job import Purpose
from firstlift.core.register.people import Person
from firstlift.core.register.work import Certificate, CertificateState, HowTested, ValveTest
from firstlift.core.seat.record import SeatRecord, seat_of
from firstlift.core.seat.word import Said
from firstlift.store import numbering
from firstlift.store.audit import audit
from firstlift.usecases.papers.life import draft_certificate, issue_certificate, review_certificate
from firstlift.usecases.papers.record import kept_test
from firstlift.usecases.register.analyse import analyse_in_register, keep_test, kept_document, recompute
from firstlift.usecases.register.place import now
from firstlift.usecases.register.reviewing import Word, review_pull
from firstlift.usecases.register.seat_again import (
    all_off_seat,
    compute_with_seat_in_force,
    keep_with_seat_in_force,
    off_seat,
)
from firstlift.usecases.register.seat_draft import SeatStatement
from firstlift.usecases.register.seat_entry import SeatEntry, keep_record
from firstlift.usecases.register.seat_said import overhaul, say_overhaul, say_wrong
from firstlift.usecases.seat_asked import SeatAsked

ANN, BEN = uuid.UUID(int=90), uuid.UUID(int=91)
WHY = "bore and outer edge were swapped with the spare's"
DAY = dt.timedelta(days=1)


@pytest.fixture
def kept(store, short, work_folder):  # noqa: F811
    """A test by Ann, kept with the maker's figure."""
    with store.work(at=now(), who="program:test") as work:
        work.add_all([Person(ANN, "technician"), Person(BEN, "technician")])
    filled = analyse_in_register(store, short, work_folder)
    return keep_test(store, filled, who=str(ANN), people=(ANN,))


def correct(store, kept, larger=1.04, date=None):  # noqa: F811
    """Correct the seat record of a test by one whose area is larger by a factor."""
    with store.read() as reader:
        wrong = reader.get(SeatRecord, kept.seat_record_id)
    area = seat_of(wrong).area_m2 * larger
    asked = SeatAsked(area=f"{area * 1e6!r} mm2", u_dimension="4 mm2", reference="drawing 4711, rev. B")
    entry = SeatEntry(SeatStatement(asked, date or wrong.date), wrong.id, why="digits swapped")
    return wrong, keep_record(store, kept.valve_id, entry, by=BEN)


def again(store, test):  # noqa: F811
    with store.read() as reader:
        return compute_with_seat_in_force(reader, test.id)


def refused(action, *given, **more):
    with pytest.raises(FirstliftError) as caught:
        action(*given, **more)
    return caught.value.problems[0]


def off(store, test):  # noqa: F811
    with store.read() as reader:
        return off_seat(reader, reader.get(ValveTest, test.id))


def test_the_part_that_the_pull_lifted_goes_with_one_over_the_area(store, kept):  # noqa: F811
    wrong, right = correct(store, kept, larger=1.04)
    shown = again(store, kept)
    assert (shown.rests_on, shown.in_force, shown.wrong.note) == (wrong, right, "digits swapped")
    assert (shown.before, shown.after) == (seat_of(wrong), seat_of(right))
    assert shown.after.area_m2 / shown.before.area_m2 == pytest.approx(1.04, rel=1e-12)
    lifted = [pull for pull in kept.result.pulls if pull.set_pressure_pa is not None]
    assert len(lifted) > 1
    for old, new in zip(kept.result.pulls, shown.result.pulls, strict=True):
        assert (new.pull_force_n, new.line_pressure_pa) == (old.pull_force_n, old.line_pressure_pa)
        assert new.first_lift_s == old.first_lift_s
        if old.set_pressure_pa is not None:
            # by hand: line pressure, and the rest of the earlier set pressure over 1.04
            by_hand = old.line_pressure_pa + (old.set_pressure_pa - old.line_pressure_pa) / 1.04
            assert new.set_pressure_pa == pytest.approx(by_hand, rel=1e-9)
            assert new.set_pressure_pa < old.set_pressure_pa
    # and from the recording's own force, net of the gear's weight
    first = shown.result.pulls[0]
    assert first.set_pressure_pa == pytest.approx(
        first.line_pressure_pa + first.pull_force_n / seat_of(right).area_m2, rel=1e-9
    )
    seat_line = next(line for line in shown.result.budget if line.common_to == "seat")
    assert seat_line.value == pytest.approx(seat_of(right).area_m2, rel=1e-12)
    assert seat_line.standard_uncertainty == pytest.approx(4e-6, rel=1e-9)


def test_a_preview_keeps_nothing(store, kept):  # noqa: F811
    correct(store, kept)
    with store.read() as reader:
        before = audit(reader).entries
    again(store, kept)
    with store.read() as reader:
        assert (audit(reader).entries, reader.count(ValveTest)) == (before, 1)


def test_it_is_kept_beside_the_earlier_one_with_who_when_and_why(store, kept):  # noqa: F811
    _, right = correct(store, kept)
    shown = again(store, kept)
    made = keep_with_seat_in_force(store, kept.id, f" {WHY} ", by=BEN, seen=right.id)
    assert (made.supersedes, made.seat_record_id, made.people) == (kept.id, right.id, (ANN, BEN))
    assert (made.at, made.day, made.recording_sha256) == (kept.at, kept.day, kept.recording_sha256)
    assert made.sheet_sha256 != kept.sheet_sha256
    assert made.result == shown.result
    assert made.set_pressure_pa == shown.result.as_found.set_pressure_pa != kept.set_pressure_pa
    assert made.note.endswith(f": {WHY}")
    assert "in place of" in made.note
    with store.read() as reader:
        assert reader.get(ValveTest, kept.id) == kept
        assert recompute(reader, made) == made.result
        with kept_test(reader, made) as analysed:
            assert analysed.analysis.result == made.result
        sheet = kept_document(reader, made)
        assert float(sheet["seat"]["area"].split()[0]) == pytest.approx(seat_of(right).area_m2 * 1e6, rel=1e-12)
        assert audit(reader).faults == ()
        assert all_off_seat(reader, kept.valve_id) == []
    assert off(store, made) is None


def test_what_was_said_of_a_pull_stays_said(store, kept):  # noqa: F811
    reviewed = review_pull(store, kept.id, Word(2, "reject", "the rig was knocked"), by=BEN)
    correct(store, kept)
    made = keep_with_seat_in_force(store, reviewed.id, WHY, by=BEN)
    assert [pull.accepted for pull in made.result.pulls][:2] == [True, False]
    assert made.note.startswith("pull 2 rejected: the rig was knocked; computed again with seat area")


def test_the_list_tells_which_tests_and_why(store, kept):  # noqa: F811
    with store.read() as reader:
        assert all_off_seat(reader, kept.valve_id) == []
    wrong, right = correct(store, kept)
    with store.read() as reader:
        (one,) = all_off_seat(reader, kept.valve_id)
    assert (one.test, one.rests_on, one.in_force, one.reason.code, one.kept) == (kept, wrong, right, "said-wrong", True)
    assert one.wrong.replaced_by == right.id


def test_a_later_lap_is_another_seat_and_does_not_touch_the_test(store, kept):  # noqa: F811
    later = kept.day + 10 * DAY
    say_overhaul(store, overhaul(kept.valve_id, Said.RELAPPED, later, "leaked"), by=BEN)
    asked = SeatAsked(mean="31 mm", u_dimension="0.01 mm")
    keep_record(store, kept.valve_id, SeatEntry(SeatStatement(asked, later, ("CAL-3",))), by=BEN)
    assert off(store, kept) is None
    assert refused(again, store, kept).code == "SEA-026"
    _, right = correct(store, kept)
    assert again(store, kept).in_force == right


def test_as_found_on_the_very_day_of_the_lap_is_of_the_seat_before_it(store, kept):  # noqa: F811
    assert kept.purpose is Purpose.AS_FOUND
    asked = SeatAsked(mean="31 mm", u_dimension="0.01 mm")
    entry = SeatEntry(SeatStatement(asked, kept.day, ("CAL-3",)), worked_on=Said.RELAPPED, why="leaked as found")
    made_new = keep_record(store, kept.valve_id, entry, by=BEN)
    assert off(store, kept) is None
    _, right = correct(store, kept)
    assert again(store, kept).in_force == right
    as_left = dataclasses.replace(
        kept, id=uuid.uuid4(), purpose=Purpose.AS_LEFT, recording_sha256="", sheet_sha256="", result=None
    )
    with store.work(at=now(), who="program:test") as work:
        work.add(as_left)
    found = off(store, as_left)
    assert (found.in_force, found.kept) == (made_new, False)


def test_a_correction_that_counts_from_a_later_day_does_not_serve(store, kept):  # noqa: F811
    later = kept.day + DAY
    correct(store, kept, date=later)
    problem = refused(again, store, kept)
    assert (problem.code, later.isoformat() in problem.needed) == ("SEA-018", True)
    found = off(store, kept)
    assert (found.in_force, found.reason.code) == (None, "said-wrong")


def test_a_record_with_nothing_in_its_place_leaves_nothing_to_compute_with(store, kept):  # noqa: F811
    say_wrong(store, kept.valve_id, kept.seat_record_id, "of another valve", by=BEN)
    problem = refused(keep_with_seat_in_force, store, kept.id, WHY, by=BEN)
    assert (problem.code, "counts from" in problem.needed) == ("SEA-018", False)


def test_the_same_area_written_in_another_way_changes_nothing(store, kept):  # noqa: F811
    with store.read() as reader:
        wrong = reader.get(SeatRecord, kept.seat_record_id)
    asked = SeatAsked(
        area=f"{wrong.area_m2 * 1e4!r} cm2", u_dimension=f"{wrong.u_area_m2 * 1e6!r} mm2", reference="letter of May"
    )
    entry = SeatEntry(SeatStatement(asked, wrong.date), wrong.id, why="the paper was another one")
    keep_record(store, kept.valve_id, entry, by=BEN)
    assert refused(again, store, kept).code == "SEA-026"
    # a wider uncertainty of the same area changes the result, and is no such case
    wider = SeatAsked(area=asked.area, u_dimension=f"{wrong.u_area_m2 * 2e6!r} mm2", reference="letter of June")
    with store.read() as reader:
        named = reader.list(SeatRecord, reference="letter of May")[0]
    keep_record(store, kept.valve_id, SeatEntry(SeatStatement(wider, wrong.date), named.id, why="wider"), by=BEN)
    shown = again(store, kept)
    assert shown.result.as_found.set_pressure_pa == pytest.approx(kept.set_pressure_pa, rel=1e-12)
    assert shown.result.as_found.expanded_uncertainty_pa > kept.expanded_uncertainty_pa


def test_no_reason_no_recording_and_no_record_are_refused_and_nothing_is_kept(store, kept):  # noqa: F811
    correct(store, kept)
    bare = dataclasses.replace(kept, id=uuid.uuid4(), recording_sha256="")
    own_seat = dataclasses.replace(kept, id=uuid.uuid4(), seat_record_id=None)
    bench = ValveTest(
        uuid.uuid4(), kept.valve_id, HowTested.BENCH, Purpose.AS_FOUND, kept.at, kept.zone, kept.day
    )  # fmt: skip
    with store.work(at=now(), who="program:test") as work:
        work.add_all([bare, own_seat, bench])
    wanted = {(kept.id, "  "): "SEA-021", (bare.id, WHY): "REG-026", (bench.id, WHY): "REG-026"}
    wanted |= {(own_seat.id, WHY): "SEA-027", (uuid.uuid4(), WHY): "REG-010"}
    for (test_id, why), code in wanted.items():
        assert refused(keep_with_seat_in_force, store, test_id, why, by=BEN).code == code
    assert off(store, own_seat) is None
    with store.read() as reader:
        assert reader.count(ValveTest) == 4


def test_a_test_that_was_corrected_names_the_one_that_counts(store, kept):  # noqa: F811
    correct(store, kept)
    first = keep_with_seat_in_force(store, kept.id, WHY, by=BEN)
    last = review_pull(store, first.id, Word(2, "reject", "the rig was knocked"), by=BEN)
    for test in (kept, first):
        problem = refused(keep_with_seat_in_force, store, test.id, WHY, by=BEN)
        assert (problem.code, str(last.id) in problem.needed) == ("REV-004", True)
    assert refused(again, store, last).code == "SEA-026"


def test_what_was_looked_at_is_what_is_kept(store, kept):  # noqa: F811
    _, right = correct(store, kept)
    assert refused(keep_with_seat_in_force, store, kept.id, WHY, by=BEN, seen=uuid.uuid4()).code == "SEA-023"
    looked = again(store, kept)
    entry = SeatEntry(
        SeatStatement(SeatAsked(area="700 mm2", reference="drawing 9"), right.date), right.id, why="not that either"
    )
    keep_record(store, kept.valve_id, entry, by=BEN)
    problem = refused(keep_with_seat_in_force, store, kept.id, WHY, by=BEN, seen=looked.in_force.id)
    assert problem.code == "SEA-023"


def issue(store, test):  # noqa: F811
    with store.read() as reader:
        (paper,) = reader.list(Certificate, test_id=test.id)
    with store.work(at=now(), who=str(BEN)) as work:
        numbering.review_certificate(work, paper.id, reviewer_id=BEN)
        return numbering.issue_certificate(
            work, paper.id, unsigned_sha256="a" * 64, signed_sha256="b" * 64, signer_id=BEN
        )


def test_a_test_on_a_wrong_seat_record_is_not_certified_at_any_step(store, kept):  # noqa: F811
    early, late = (draft_certificate(store, kept, by=str(ANN)).text for _ in range(2))
    review_certificate(store, late, by=str(BEN))
    correct(store, kept)
    problems = [
        refused(draft_certificate, store, kept, by=str(ANN)),
        refused(review_certificate, store, early, by=str(BEN)),
        refused(issue_certificate, store, late, by=str(BEN), key=None, settings=PaperSettings()),
    ]
    assert {problem.code for problem in problems} == {"CRT-012"}
    assert all("digits swapped" in problem.what and str(kept.id) in problem.where for problem in problems)
    made = keep_with_seat_in_force(store, kept.id, WHY, by=BEN)
    assert draft_certificate(store, made, by=str(ANN)).state is CertificateState.DRAFT


def test_a_draft_is_withdrawn_and_an_issued_certificate_has_to_be_known_of(store, kept):  # noqa: F811
    draft = draft_certificate(store, kept, by=str(ANN))
    correct(store, kept)
    assert [paper.text for paper in again(store, kept).drafts] == [draft.text]
    made = keep_with_seat_in_force(store, kept.id, WHY, by=BEN)
    with store.read() as reader:
        gone = reader.get(Certificate, draft.id)
    assert (gone.state, gone.reason.endswith(WHY)) == (CertificateState.WITHDRAWN, True)

    draft_certificate(store, made, by=str(ANN))
    paper = issue(store, made)
    with store.read() as reader:
        second = reader.get(SeatRecord, made.seat_record_id)
    entry = SeatEntry(
        SeatStatement(SeatAsked(area="700 mm2", reference="drawing 9"), second.date), second.id, why="not that either"
    )
    keep_record(store, kept.valve_id, entry, by=BEN)
    assert [one.text for one in again(store, made).issued] == [paper.text]
    problem = refused(keep_with_seat_in_force, store, made.id, WHY, by=BEN)
    assert problem.code == "SEA-028"
    assert paper.text in problem.what
    assert "superseded or withdrawn" in problem.needed
    with store.read() as reader:
        assert reader.count(ValveTest) == 2
    last = keep_with_seat_in_force(store, made.id, WHY, by=BEN, despite_certificate=True)
    with store.read() as reader:
        assert reader.get(Certificate, paper.id).state is CertificateState.ISSUED
    # the certificate of the corrected test takes its place, as after a review
    new = draft_certificate(store, last, by=str(ANN), supersedes=paper.text, reason="seat area corrected")
    assert new.supersedes == paper.id
