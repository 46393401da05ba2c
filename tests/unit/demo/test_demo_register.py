"""The invented register: the same from the same seed, true to itself, and its history holds."""

import datetime as dt
import tomllib
from collections import Counter

import pytest

from firstlift.core.errors import FirstliftError
from firstlift.core.register.equipment import Calibration, Installation, Instrument, RegisteredValve
from firstlift.core.register.people import Person
from firstlift.core.register.places import Owner, Position, Site
from firstlift.core.register.work import HowTested, SiteVisit, ValveTest
from firstlift.core.seat.record import SeatRecord
from firstlift.demo.register.build import fill_demo_register, make_demo_register
from firstlift.demo.register.crew import OVERDUE_SERIAL, draw_crew
from firstlift.demo.register.draw import Draw
from firstlift.demo.register.plant import OWNER, draw_plant
from firstlift.store.audit import audit
from firstlift.store.files import read_kept
from firstlift.store.open import open_store

TODAY = dt.date(2026, 6, 1)
SIZE = 0.06


@pytest.fixture(scope="module")
def store(tmp_path_factory):
    made = fill_demo_register(tmp_path_factory.mktemp("demo") / "register", seed=5, today=TODAY, size=SIZE)
    yield made
    made.close()


def listed(store, kind, **options):
    with store.read() as reader:
        return reader.list(kind, **options)


def head(store):
    with store.read() as reader:
        return reader.connection.exec_driver_sql("SELECT id, entries, head_sha256 FROM store").all()


def test_the_same_seed_and_day_give_the_same_chain(store, tmp_path):
    again = fill_demo_register(tmp_path / "register", seed=5, today=TODAY, size=SIZE)
    assert head(again) == head(store)
    again.close()


def test_another_seed_gives_another_register(store, tmp_path):
    other = fill_demo_register(tmp_path / "register", seed=6, today=TODAY, size=SIZE)
    assert head(other) != head(store)
    other.close()


def test_the_audit_finds_nothing(store):
    with store.read() as reader:
        assert list(audit(reader).faults) == []


def test_all_of_it_says_that_it_is_invented(store):
    (owner,) = listed(store, Owner)
    assert owner.name == OWNER
    assert "Invented" in owner.note
    assert all("Invented" in valve.note for valve in listed(store, RegisteredValve))
    assert all("invented" in valve.maker for valve in listed(store, RegisteredValve))
    assert all("invented" in person.organisation for person in listed(store, Person))


def test_the_full_plant_has_three_sites_and_four_hundred_places():
    plant = draw_plant(Draw(3), dt.date(2020, 4, 1))
    kinds = Counter(type(entry).__name__ for entry in plant.entries)
    assert (kinds["Site"], kinds["Position"], kinds["RegisteredValve"]) == (3, 400, 424)
    assert sum(truth.recipe is not None for truth in plant.truths) == 28
    ids = [entry.id for entry in plant.entries]
    assert len(ids) == len(set(ids))


def test_there_are_two_visits_a_year_at_each_site(store):
    visits = Counter(visit.site_id for visit in listed(store, SiteVisit))
    assert visits == {site.id: 12 for site in listed(store, Site)}
    assert all(visit.start < TODAY for visit in listed(store, SiteVisit))


def test_tests_are_of_every_kind_and_hold_their_results(store):
    tests = listed(store, ValveTest)
    assert {test.kind for test in tests} == set(HowTested)
    assert {"within", "outside", "undecided"} <= {test.verdict for test in tests}
    pulled = [test for test in tests if test.kind is HowTested.PULL]
    assert all(test.result is not None and test.seat_record_id is not None for test in pulled)
    for test in pulled:
        verdict = test.result.verdict
        assert test.verdict == ("" if verdict is None else verdict.outcome)


def test_recordings_are_kept_and_their_job_sheets_beside_them(store):
    kept = [test for test in listed(store, ValveTest) if test.recording_sha256]
    assert kept
    for test in kept:
        assert read_kept(store.folder, test.recording_sha256).startswith(b"time_s,")
        assert b"Invented data" in read_kept(store.folder, test.sheet_sha256)
        assert test.result.recording.sha256 == test.recording_sha256
        # a test names the instruments of its sheet, no others of the rig
        sheet = tomllib.loads(read_kept(store.folder, test.sheet_sha256).decode())
        serials = {channel["serial"] for channel in sheet["channel"]}
        assert sorted(used.serial for used in test.instruments) == sorted(serials)


def test_valves_move_and_one_hangs_at_each_place(store):
    installations = listed(store, Installation)
    now = Counter(one.position_id for one in installations if one.until is None)
    assert now == {position.id: 1 for position in listed(store, Position)}
    assert any(one.until is not None for one in installations)


def test_a_lapped_seat_is_followed_by_a_new_one(store):
    seats = listed(store, SeatRecord)
    lapped = [seat for seat in seats if seat.superseded_by_overhaul]
    assert lapped
    for old in lapped:
        assert any(new.valve_id == old.valve_id and new.date >= old.superseded_by_overhaul for new in seats)


def test_one_instrument_is_overdue_and_the_others_are_not(store):
    due = {}
    for calibration in listed(store, Calibration, order=("date",)):
        due[calibration.instrument_id] = calibration.due
    overdue = [tool.serial for tool in listed(store, Instrument) if due[tool.id] < TODAY]
    assert overdue == [OVERDUE_SERIAL]


def test_no_calibration_of_another_instrument_is_used(store):
    of = {calibration.id: calibration.instrument_id for calibration in listed(store, Calibration)}
    ids = {tool.serial: tool.id for tool in listed(store, Instrument)}
    for test in listed(store, ValveTest):
        for used in test.instruments:
            assert of[used.calibration_id] == ids[used.serial]


@pytest.mark.parametrize("today", [dt.date(2024, 2, 29), dt.date(2026, 3, 31), dt.date(2027, 12, 31)])
def test_a_crew_can_be_drawn_on_any_day(today):
    crew = draw_crew(Draw(1), today - dt.timedelta(days=2250), today)
    assert all(one.due > one.date for one in crew.later)


def test_a_folder_that_holds_something_is_left_alone(tmp_path):
    (tmp_path / "kept.txt").write_text("mine")
    with pytest.raises(FirstliftError, match="DEM-002"):
        make_demo_register(tmp_path, today=TODAY)
    assert [path.name for path in tmp_path.iterdir()] == ["kept.txt"]


def test_a_build_that_is_stopped_leaves_nothing(tmp_path):
    def stop(_share, _count):
        raise KeyboardInterrupt

    with pytest.raises(KeyboardInterrupt):
        make_demo_register(tmp_path / "register", today=TODAY, progress=stop)
    assert list(tmp_path.iterdir()) == []


def test_the_command_makes_it_whole(tmp_path, monkeypatch, capsys):
    from firstlift.cli.main import main
    from firstlift.demo.register import build

    whole = build.fill_demo_register
    monkeypatch.setattr(build, "fill_demo_register", lambda *args, **options: whole(*args, **options, size=SIZE))
    assert main(["demo", "--register", str(tmp_path / "register"), "--seed", "5"]) == 0
    out = capsys.readouterr().out
    assert out.startswith("Invented data")
    opened = open_store(tmp_path / "register")
    assert len(listed(opened, Site)) == 3
    opened.close()
    assert [path.name for path in tmp_path.iterdir()] == ["register"]
