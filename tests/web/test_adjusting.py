"""Adjust and repeat: an out-of-tolerance test, the turn it calls for, what was done, the pulls as left."""

import datetime as dt
import re

import pytest
from tests.web.made_pulls import Pulls

from firstlift.core.job import Purpose
from firstlift.core.register.work import AdjustmentMade, ValveTest
from firstlift.store.audit import audit
from firstlift.store.files import read_kept
from firstlift.usecases.register.adjusting import way_of
from firstlift.usecases.register.analyse import analyse_in_register, keep_test
from firstlift.usecases.register.turned import turned_of

STATED = "line=30+bar&off=1&by=Plant+engineer&rate=120+N/mm&pitch=2+mm"


def plain(answer):
    return re.sub(r"\s+", " ", re.sub(r"<[^>]+>", " ", answer.text))


def kept(store, test):
    return read_kept(store.folder, test.sheet_sha256).decode(), read_kept(store.folder, test.recording_sha256)


def bring_as_left(store, test, folder, force):
    """Keep a test as left: the recording of the one as found, pulled harder, twice in a row."""
    pulls = Pulls(*kept(store, test))
    for name, data in pulls.files("left", pulls.changed(force=force, repeat=2), purpose="as-left"):
        (folder / name).write_bytes(data)
    (folder / "filled").mkdir()
    filled = analyse_in_register(store, folder / "left.toml", folder / "filled")
    return keep_test(store, filled, who="program:test", visit_id=test.visit_id)


def test_what_is_not_known_or_not_allowed_stops_the_turn_and_says_why(ada, outside):
    page = plain(ada.get(f"/tests/{outside.id}/adjust"))
    assert "Do not turn" in page
    assert "effect of a turn not known" in page
    wrong = ada.get(f"/tests/{outside.id}/adjust?line=30+N")
    assert (wrong.status_code, "UNI-002" in wrong.text or "unit" in wrong.text) == (422, True)


def test_from_outside_by_the_turn_to_within_with_found_and_left_kept_apart(ada, store, outside, tmp_path):
    target = 44.7e5
    page = plain(ada.get(f"/tests/{outside.id}/adjust?{STATED}"))
    # k * pitch / A a turn: 120 N/mm * 2 mm / 2624 mm2 = 0.0915 MPa
    turns = (target - outside.result.pulls[-1].set_pressure_pa) / (120e3 * 2e-3 / 2624e-6)
    flats = round(turns * 24) / 4
    fraction = {0.0: "", 0.25: "¼", 0.5: "½", 0.75: "¾"}[flats % 1]
    assert f"{int(flats)}{fraction} flats to the right" in page
    done = {
        "turns": "1,73", "to": "right", "height_before": "25,0", "height_after": "0.84 in", "seals_before": "L1, L2",
        "seals_after": "L3", "at": (outside.at + dt.timedelta(minutes=50)).strftime("%Y-%m-%dT23:%M"),
    }  # fmt: skip
    after = plain(ada.post(f"/tests/{outside.id}/adjust", done, page=f"/tests/{outside.id}/adjust"))
    assert "1.73 turns to the right" in after
    assert "seals L1, L2 → L3" in after
    # what was turned once is not turned again on the same reading
    again = plain(ada.get(f"/tests/{outside.id}/adjust?{STATED}"))
    assert "was adjusted after this test" in again
    assert "flats to the right" not in again
    with store.read() as reader:
        (made,) = [one for one in reader.list(AdjustmentMade, valve_id=outside.valve_id) if one.seals_after == ("L3",)]
        assert (made.turns, made.visit_id) == (1.73, outside.visit_id)
        assert made.screw_height_after_m == pytest.approx(0.84 * 25.4e-3)

    still = bring_as_left(store, outside, tmp_path, 1.0)
    assert still.verdict == "outside"
    assert "As left it is not within yet" in plain(ada.get(f"/tests/{outside.id}/adjust"))


def test_as_left_within_ends_the_work_and_teaches_the_next_turn(ada, store, outside, tmp_path):
    # later in the day than a time that stands in for one nobody recorded
    done = {"turns": "1.7", "seals_after": "L3", "at": outside.at.strftime("%Y-%m-%dT16:30")}
    assert ada.post(f"/tests/{outside.id}/adjust", done, page=f"/tests/{outside.id}/adjust").status_code == 200
    force = (44.7e5 - 31.09e5) / (outside.set_pressure_pa - 31.09e5)
    left = bring_as_left(store, outside, tmp_path, force)
    assert (left.verdict, left.purpose) == ("within", Purpose.AS_LEFT)
    with store.read() as reader:
        assert [step.made is None for step in way_of(reader, outside)] == [True, False, True]
        (turned,) = turned_of(reader, outside.valve_id, outside.day)
        assert turned.turns == 1.7
        assert reader.get(ValveTest, outside.id).verdict == "outside"
        assert audit(reader).faults == ()
    page = plain(ada.get(f"/tests/{outside.id}/adjust"))
    assert "As left it lies within its limits" in page
    assert "as-left" in ada.get(f"/import?valve={outside.valve_id}&purpose=as-left").text


REFUSED = (
    ({}, "nothing was done"),
    ({"turns": "0.5"}, "no seal is named"),
    ({"turns": "50", "seals_after": "L3"}, "turned 50 times"),
    ({"turns": "half", "seals_after": "L3"}, "UNI-004"),
    ({"turns": "0.5", "seals_after": "L3", "at": "2001-01-01T10:00"}, "is not after the test"),
    (
        {"turns": "0.5", "seals_after": "L3", "height_before": "20", "height_after": "21"},
        "0.5 turns to the right do",
    ),
    ({"turns": "0.5", "to": "up", "seals_after": "L3"}, "no way to turn"),
    ({"turns": "0.5", "seals_after": "L3", "at": "2999-01-01T10:00"}, "is still to come"),
    ({"turns": "0.5", "seals_after": "L3", "height_before": "-5 mm"}, "less than nothing"),
    ({"turns": "0.5", "seals_after": "L3", "at": "noon"}, "no date and time"),
    ({"turns": "0.5", "seals_after": "L3", "height_before": "20 bar"}, "UNI-002"),
)


def test_what_cannot_have_been_done_is_refused_and_not_kept(ada, store, outside):
    for done, why in REFUSED:
        answer = ada.post(f"/tests/{outside.id}/adjust", done, page=f"/tests/{outside.id}/adjust")
        assert answer.status_code == 422, done
        assert why.casefold() in plain(answer).casefold()
    with store.read() as reader:
        assert [one for one in reader.list(AdjustmentMade, valve_id=outside.valve_id) if one.at.year == 2025] == []
