"""Each paper says what the register holds, as data before it is typeset."""

import dataclasses
import datetime as dt

import pytest

from firstlift.certificate.model import plain
from firstlift.certificate.papers.facts import ToTest
from firstlift.certificate.papers.packet import build_packet
from firstlift.core.errors import FirstliftError, Problem, UsageError
from firstlift.core.register.equipment import Installation
from firstlift.store.open import open_store
from firstlift.usecases.visitpapers import make
from firstlift.usecases.visitpapers.gather import last_tested, valves_of_visit, visit_by
from firstlift.usecases.visitpapers.planning import PlanningAsked, make_planning
from firstlift.usecases.visitpapers.to_come import PacketAsked

from .conftest import AT, fill, key

PRINTING = make.printing_of(dt.date(2026, 5, 14))
ALL_ANSWERS = (
    "valve-kind=direct-spring", "spindle-holds-disc=yes", "thread=sound", "rupture-disc=none", "bellows=none",
    "drain-and-vent=clear", "seat=metal", "gag=none", "guide=whole", "release=allowed",
)  # fmt: skip


def texts(value):
    if isinstance(value, dict):
        for key, item in value.items():
            if key not in ("kind", "svg"):
                yield from texts(item)
    elif isinstance(value, list):
        for item in value:
            yield from texts(item)
    elif isinstance(value, str):
        yield value


def said(sheet):
    return "\n".join(texts(plain(sheet)))


def piece(sheet, kind):
    return [one for one in sheet.pieces if type(one).__name__ == kind]


def packet(store, **asked):
    return make.make_packet(store, "May round", PacketAsked(**asked), PRINTING)


def test_packet_has_a_cover_and_a_page_a_valve(store):
    paper = packet(store)
    assert [sheet.title for sheet in paper.sheets] == ["May round", *(f"PSV-{number}" for number in range(1, 6))]
    cover = said(paper.sheets[0])
    assert all(serial in cover for serial in ("LC-1", "PG-1", "LV-1", "SN-3", "Ada Tester", "PTW-1"))
    assert paper.demo == "Demonstration data: invented plant"


def test_packet_forces_come_from_the_plan(store):
    (sheet,) = packet(store, valves=("psv-1",)).sheets[1:]
    (band,) = piece(sheet, "Band")
    # 2 bar are missing to set over 5 cm2 of seat: 100 N; the stop at 110 % of set needs 3 bar: 150 N
    assert [cell.value for cell in band.cells] == ["10 bar", "8 bar", "100 N", "150 N"]
    (ladder,) = piece(sheet, "Ladder")
    assert 0 < ladder.low < ladder.expected < ladder.high < ladder.stop < 1
    assert ladder.expected / ladder.stop == pytest.approx(100 / 150)
    assert "hold" not in said(sheet).split("\n")  # words, never codes
    assert "Permit and authority are in hand" in said(sheet)
    assert "2026-05-12" not in said(sheet)  # the visit's own tests are not what was last found


def test_last_test_is_one_since_the_valve_hangs_there(store):
    with store.read() as reader:
        at = {day: last_tested(reader, key(102), dt.date.fromisoformat(day)) for day in ("2026-05-12", "2026-06-01")}
    assert at["2026-05-12"] is None
    assert at["2026-06-01"].id == key(603)


def test_a_test_before_it_was_hung_does_not_count(tmp_path):
    fill(tmp_path / "register")
    store = open_store(tmp_path / "register")
    try:
        with store.work(at=AT, who="program:test") as work:
            work.change(dataclasses.replace(work.get(Installation, key(302)), until=dt.date(2026, 5, 20)))
            work.add(Installation(key(399), key(102), key(202), dt.date(2026, 5, 21)))
        with store.read() as reader:
            assert last_tested(reader, key(102), dt.date(2026, 6, 1)) is None
    finally:
        store.close()


def test_packet_asks_what_is_open_and_takes_answers(store):
    (before,) = piece(packet(store, valves=("PSV-1",)).sheets[1], "Call")
    assert (before.mark, "thread" in before.text) == ("open", True)
    (after,) = piece(packet(store, valves=("PSV-1",), answers=("gag=fitted",)).sheets[1], "Call")
    assert (after.words, after.mark) == ("do not pull", "bad")
    (clear,) = piece(packet(store, valves=("PSV-1",), answers=ALL_ANSWERS, frame_limit="5 kN").sheets[1], "Call")
    assert (clear.words, clear.mark) == ("go", "good")
    with pytest.raises(UsageError, match="PLN-004"):
        packet(store, answers=("gag=perhaps",))


def test_without_line_pressure_a_page_says_what_is_missing(store):
    sheet = packet(store, valves=("PSV-5",)).sheets[1]
    assert piece(sheet, "Band") == []
    assert "Nobody knows the line pressure at PSV-5" in said(sheet)
    for more in ({"line_share": "80 %"}, {"lines": ("psv-5=8 bar",)}):
        (band,) = piece(packet(store, valves=("PSV-5",), **more).sheets[1], "Band")
        assert band.cells[1].value == "8 bar"


def test_each_reason_for_no_plan_is_said_once_and_the_register_s_own_stays(store):
    with store.read() as reader:
        facts = visit_by(reader, "May round")
        (hung,) = valves_of_visit(reader, facts, ("PSV-1",))
    codes = ("SEA-018", "JOB-011", "JOB-011", "REG-020")
    problems = tuple(Problem(code, f"problem {number}") for number, code in enumerate(codes))
    (_, sheet) = build_packet(facts, [ToTest(hung, None, None, problems, (), None)], PRINTING).sheets
    (reasons,) = piece(sheet, "Bullets")
    assert [reason[:40] for reason in reasons.items] == [
        "No seat record of the valve SN-1 serves ", "The instruments that are in date do not ", "REG-020 problem 3.",
    ]  # fmt: skip


def test_cards_stand_behind_each_plan(store):
    paper = make.make_packet(store, "may round", PacketAsked(valves=("SN-1",)), PRINTING, cards=True)
    assert [sheet.above for sheet in paper.sheets[1:]] == ["For use at the valves", "If it goes wrong"]
    assert "Stop the pull at 150 N." in said(paper.sheets[2])


def test_summary_counts_and_names_each_valve(store):
    (sheet,) = make.make_visit(store, "May round", PRINTING).sheets
    (band,) = piece(sheet, "Band")
    assert [cell.value for cell in band.cells] == ["5", "3", "1", "2", "0", "2"]
    rows = next(one.block for one in sheet.pieces if getattr(one, "title", "") == "Valve by valve").rows
    assert [row[0] for row in rows] == ["PSV-1", "PSV-2", "PSV-3"]
    assert rows[1][3:6] == ("10.90 ± 0.10 bar", "Outside the limits", "10.02 ± 0.10 bar")
    whole = said(sheet)
    assert "no access: scaffold missing" in whole
    assert "nothing reported" in whole
    assert "L1 → L2" in whole
    assert "2026-05-12 10:00" in whole  # the hold point by the site's clock, not in UTC


def test_nonconformity_reports_only_what_was_out_of_order(store):
    paper = make.make_nonconformity(store, "May round", (), PRINTING)
    assert [(sheet.title, piece(sheet, "Call")[0].words) for sheet in paper.sheets] == [
        ("PSV-2", "Opens too high"),
        ("PSV-3", "Stuck"),
    ]
    high, stuck = map(said, paper.sheets)
    assert "+9.0 %" in high
    assert "9.7 bar to 10.3 bar" in high
    assert "−0.25 turns" in high
    assert "tested as left on 2026-05-12: 10.02 ± 0.10 bar" in high
    assert "Take it apart." in stuck
    assert "no adjustment and no test after" in stuck
    with pytest.raises(FirstliftError, match="PAP-004"):
        make.make_nonconformity(store, "May round", ("PSV-1",), PRINTING)


def test_return_says_whether_the_test_clears_the_valve(store):
    paper = make.make_return(store, "May round", (), PRINTING)
    calls = {sheet.title: piece(sheet, "Call")[0] for sheet in paper.sheets}
    marks = {tag: call.mark for tag, call in calls.items()}
    assert marks == {"PSV-1": "good", "PSV-2": "good", "PSV-3": "bad", "PSV-4": "open", "PSV-5": "open"}
    (steps,) = piece(paper.sheets[1], "SignedSteps")
    known = dict(steps.rows)
    assert known["Seals on: cap, screw, rings"] == "L2"
    assert known["Screw at its height, lock nut tight"] == "30 mm before, 30.4 mm after"
    assert known["Gear off; nothing rests on the spindle"] == ""
    (signed,) = piece(paper.sheets[0], "Signatures")
    assert "Checked by a second person" in signed.roles


def test_planning_lists_next_dates_and_is_no_certificate(store):
    paper = make_planning(store, PlanningAsked(site="Tern Street works"), PRINTING)
    whole = said(paper)
    assert all(f"PSV-{number}" in whole for number in range(1, 6))
    assert "it stands on no certificate" in paper.foot
    (one,) = make_planning(store, PlanningAsked(valves=("PSV-2",)), PRINTING).sheets
    assert ("PSV-2" in said(one), "PSV-3" in said(one)) == (True, False)
    with pytest.raises(FirstliftError, match="PAP-005"):
        make_planning(store, PlanningAsked(site="nowhere"), PRINTING)


def test_what_is_not_there_is_told(store):
    with pytest.raises(FirstliftError, match="PAP-003"):
        make.make_visit(store, "June round", PRINTING)
    with pytest.raises(FirstliftError, match="PAP-001"):
        packet(store, valves=("PSV-9",))
