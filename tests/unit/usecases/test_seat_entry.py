"""Seat records entered in the app: what each would do is told first, nothing is edited, every word has its reason."""

import dataclasses
import datetime as dt
import uuid

import pytest
from tests.unit.usecases.test_register_seats import DAY, VALVE, add, code, sheet, store  # noqa: F401

from firstlift.core.errors import FirstliftError
from firstlift.core.job import Purpose
from firstlift.core.register.people import Person
from firstlift.core.register.work import HowTested, ValveTest
from firstlift.core.seat.record import SeatRecord
from firstlift.core.seat.word import Said, SeatWord, check_word
from firstlift.store.audit import audit
from firstlift.usecases.register.place import now
from firstlift.usecases.register.seat_draft import SeatStatement
from firstlift.usecases.register.seat_entry import SeatEntry, keep_record, preview_overhaul, preview_record
from firstlift.usecases.register.seat_said import overhaul, say_overhaul, say_wrong, take_back, worked_on
from firstlift.usecases.register.seats import list_seats, with_seat_in_force
from firstlift.usecases.seat_asked import SeatAsked
from firstlift.usecases.seat_rows import read_rows

ANN = uuid.UUID(int=90)
MEASURED = SeatAsked(inner="30 mm", outer="31 mm", u_dimension="0.05 mm")
LATER = dt.date(2026, 9, 1)


@pytest.fixture
def people(store):  # noqa: F811
    with store.work(at=now(), who="program:test") as work:
        work.add(Person(ANN, "technician"))
    return store


def entry(asked=MEASURED, date=DAY, *, by=("CAL-3",), tests=(), **more):
    return SeatEntry(SeatStatement(asked, date, by, tests=tests), **more)


def told(store, wanted):  # noqa: F811
    with store.read() as reader:
        return preview_record(reader, VALVE.id, wanted, ())


def pull_of(store, record, day=DAY):  # noqa: F811
    test = ValveTest(
        uuid.uuid4(), VALVE.id, HowTested.PULL, Purpose.AS_FOUND, dt.datetime.combine(day, dt.time(9), dt.UTC), "UTC",
        day, seat_record_id=record.id,
    )  # fmt: skip
    with store.work(at=now(), who="program:test") as work:
        work.add(test)
    return test


def test_a_preview_keeps_nothing_and_names_what_the_record_would_do(people):
    old = add(people, mean="30.2 mm", reference="drawing 7")
    pull_of(people, old)
    drafted, would = told(people, entry(date=LATER))
    assert (would.before.record, would.after.record) == (old, drafted.record)
    assert ([each.issued for each in would.resting], would.issued, would.later) == ([False], 0, 0)
    with people.read() as reader:
        assert reader.count(SeatRecord) == 1


def test_what_is_kept_is_in_force_and_the_older_tests_keep_their_record(people):
    old = add(people, mean="30.2 mm", reference="drawing 7")
    test = pull_of(people, old)
    record = keep_record(people, VALVE.id, entry(date=LATER), by=ANN)
    assert record.person_id == ANN
    seats = list_seats(people, "PSV-9", LATER)
    assert seats.choice.record == record
    with people.read() as reader:
        assert reader.get(ValveTest, test.id).seat_record_id == old.id
        assert audit(reader).faults == ()


def test_a_correction_takes_the_wrong_ones_place_and_edits_nothing(people):
    wrong = add(people, inner="30 mm", outer="32 mm", u_dimension="0.01 mm", measured_with=("CAL-3",))
    # by the rule alone, the more certain of one day would go before it
    made = keep_record(people, VALVE.id, entry(corrects=wrong.id, why="digits swapped"), by=ANN)
    choice = list_seats(people, "PSV-9", DAY).choice
    assert choice.record == made
    assert {left.record_id: left.reason.code for left in choice.left_out} == {wrong.id: "said-wrong"}
    with people.read() as reader:
        (word,) = reader.list(SeatWord)
        assert reader.get(SeatRecord, wrong.id) == wrong
        assert audit(reader).faults == ()
    assert (word.said, word.record_id, word.replaced_by, word.note, word.person_id, word.zone) == (
        Said.WRONG, wrong.id, made.id, "digits swapped", ANN, "Europe/London",
    )  # fmt: skip
    assert code(keep_record, people, VALVE.id, entry(corrects=wrong.id, why="again"), by=ANN) == "SEA-023"
    assert code(take_back, people, VALVE.id, word.id, "no", by=ANN) == "SEA-023"


@pytest.mark.parametrize("work", [Said.RELAPPED, Said.REMACHINED, Said.RENEWED])
def test_after_work_on_the_seat_no_older_record_serves_until_it_is_measured_again(people, work):
    old = add(people, inner="30 mm", outer="31 mm", u_dimension="0.05 mm", measured_with=("CAL-3",))
    pull_of(people, old, LATER)
    word = overhaul(VALVE.id, work, LATER, "leaked at 90 %")
    with people.read() as reader:
        would = preview_overhaul(reader, word, ())
    assert (would.before.record, would.after.record, would.later) == (old, None, 1)
    said = say_overhaul(people, word, by=ANN)
    choice = list_seats(people, "PSV-9", LATER).choice
    assert choice.record is None
    assert [(left.reason.code, left.reason.parameters) for left in choice.left_out] == [
        ("seat-overhauled-since", {"overhaul_date": "2026-09-01"})
    ]
    with people.read() as reader:
        assert reader.get(SeatRecord, old.id) == old
        assert code(with_seat_in_force, reader, VALVE.id, sheet(date=LATER)) == "SEA-018"
    # a test of the time before still finds it, and so does everyone once the word is taken back
    assert list_seats(people, "PSV-9", LATER - dt.timedelta(days=1)).choice.record == old
    take_back(people, VALVE.id, said.id, "another valve was meant", by=ANN)
    assert list_seats(people, "PSV-9", LATER).choice.record == old
    assert code(take_back, people, VALVE.id, said.id, "twice", by=ANN) == "SEA-023"


def test_a_record_may_come_with_the_work_that_made_its_seat(people):
    old = add(people, inner="30 mm", outer="31 mm", u_dimension="0.01 mm", measured_with=("CAL-3",))
    wanted = entry(SeatAsked(mean="30.4 mm"), LATER, worked_on=Said.RELAPPED, why="leaked")
    made = keep_record(people, VALVE.id, wanted, by=ANN)
    choice = list_seats(people, "PSV-9", LATER).choice
    assert (choice.record, choice.left_out[0].record_id) == (made, old.id)


def test_a_record_that_was_wrong_may_have_nothing_in_its_place(people):
    record = add(people, mean="30 mm", reference="drawing 7")
    word = say_wrong(people, VALVE.id, record.id, "of another valve", by=ANN)
    assert list_seats(people, "PSV-9", DAY).choice.record is None
    assert code(say_wrong, people, VALVE.id, record.id, "again", by=ANN) == "SEA-023"
    take_back(people, VALVE.id, word.id, "it was right", by=ANN)
    assert list_seats(people, "PSV-9", DAY).choice.record == record


def test_what_cannot_be_kept_says_why_and_leaves_nothing(people):
    record = add(people, mean="30 mm", reference="drawing 7")
    ahead = now().date() + dt.timedelta(days=2)
    assert code(told, people, entry(corrects=record.id)) == "SEA-021"
    refused = {
        "SEA-023": entry(corrects=record.id, why="x"),
        "SEA-024": entry(date=ahead),
        "SEA-010": entry(SeatAsked(mean="K"), by=()),
        "SEA-019": entry(tests=(pull_of(people, record).id,)),
    }
    say_wrong(people, VALVE.id, record.id, "of another valve", by=ANN)
    for wanted, each in refused.items():
        assert code(told, people, each) == wanted
        assert code(keep_record, people, VALVE.id, each, by=ANN) == wanted
    assert code(say_wrong, people, VALVE.id, record.id, " ", by=ANN) == "SEA-023"
    assert code(say_overhaul, people, overhaul(VALVE.id, Said.RELAPPED, ahead, "x"), by=ANN) == "SEA-024"
    assert code(say_overhaul, people, overhaul(VALVE.id, Said.RELAPPED, DAY, " "), by=ANN) == "SEA-021"
    assert code(worked_on, "painted") == "SEA-021"
    assert worked_on("") is None
    with people.read() as reader:
        assert (reader.count(SeatRecord), reader.count(SeatWord)) == (1, 1)


def test_a_word_says_what_it_is_of():
    word = overhaul(VALVE.id, Said.RELAPPED, DAY, "leaked")
    check_word(word)
    for wrong in ({"date": None}, {"said": Said.WRONG}, {"record_id": word.id}, {"replaced_by": word.id}):
        assert code(check_word, dataclasses.replace(word, **wrong)) == "SEA-021"


def test_rows_are_read_cell_by_cell_with_everything_that_is_wrong_at_once():
    rows = read_rows(
        [
            {"line_pressure": "8 bar", "line_uncertainty": "0,5 %", "pull": "141 N", "pull_uncertainty": "2 N"},
            {"line_pressure": "", "line_uncertainty": " ", "pull": "", "pull_uncertainty": ""},
            {"line_pressure": "58 psi", "line_uncertainty": "", "pull": "0.424 kN", "pull_uncertainty": ""},
        ],
        "Pull",
    )
    assert [sorted(row) for row in rows] == [
        ["line_pressure", "line_uncertainty", "pull", "pull_uncertainty"],
        ["line_pressure", "pull"],
    ]
    assert rows[0]["line_uncertainty"].si == pytest.approx(4e3)
    assert rows[1]["pull"].si == pytest.approx(424.0)
    bad = [
        {"line_pressure": "8", "pull": "1 N"},
        {"line_pressure": "1 bar", "pull": ""},
        {"line_pressure": "-1 bar", "pull": "x"},
    ]
    with pytest.raises(FirstliftError) as caught:
        read_rows(bad, "Pull")
    assert [(p.code, p.where) for p in caught.value.problems] == [
        ("UNI-006", "Pull 1, line pressure"),
        ("SEA-014", "Pull 2"),
        ("SEA-002", "Pull 3, line pressure"),
        ("UNI-004", "Pull 3, pull"),
    ]
