"""Which other valves may share the fault of one that was out of order, and how the report names them."""

import dataclasses
import datetime as dt
import shutil

import pytest

from firstlift.core.register.equipment import Installation, RegisteredValve
from firstlift.core.register.places import Owner, Position, ProtectedSystem
from firstlift.core.valve import Medium, ValveType
from firstlift.store.open import open_store
from firstlift.usecases.visitpapers import make
from firstlift.usecases.visitpapers.gather import hung_on
from firstlift.usecases.visitpapers.siblings import SHOWN, siblings_of

from .conftest import AT, DAY, key
from .test_pages import PRINTING, piece, said


@pytest.fixture
def own(place, tmp_path):
    shutil.copytree(place, tmp_path / "register")
    store = open_store(tmp_path / "register")
    yield store
    store.close()


def siblings(store, number=2, on=DAY):
    with store.read() as reader:
        found = siblings_of(reader, hung_on(reader, key(100 + number), DAY), on)
    return {one.hung.tag: (one.system, one.build, one.amiss) for one in found.shown}, found


def change(store, kind, number, **fields):
    with store.work(at=AT, who="program:test") as work:
        work.change(dataclasses.replace(work.get(kind, key(number)), **fields))


def test_same_make_model_and_medium_are_siblings_and_what_was_amiss_there_is_told(own):
    found, whole = siblings(own)
    assert found == {
        "PSV-3": ("", "build", True), "PSV-1": ("", "build", False), "PSV-4": ("", "build", False),
        "PSV-5": ("", "build", False),
    }  # fmt: skip
    assert (whole.more, whole.build_noted) == (0, True)
    assert [one.found.id if one.found else None for one in whole.shown] == [key(604), key(601), None, None]


@pytest.mark.parametrize(
    ("kind", "number", "fields"),
    [
        (RegisteredValve, 101, {"model": "type 8"}),
        (RegisteredValve, 101, {"maker": "Maker B"}),
        (RegisteredValve, 101, {"type": ValveType.BALANCED_BELLOWS}),
        (RegisteredValve, 101, {"active": False}),
        (Position, 201, {"medium": Medium.GAS}),
        (Position, 201, {"medium_name": "exhaust steam"}),
        (Installation, 301, {"until": DAY}),
        (Installation, 301, {"since": DAY + dt.timedelta(days=1)}),
    ],
)
def test_what_differs_or_is_not_in_use_is_no_sibling(own, kind, number, fields):
    change(own, kind, number, **fields)
    assert set(siblings(own)[0]) == {"PSV-3", "PSV-4", "PSV-5"}


def test_springs_tell_valves_apart_where_both_are_noted(own):
    for number, spring in ((101, "S-1"), (102, "S-1"), (103, "s-1"), (104, "S-2")):
        change(own, RegisteredValve, number, spring_number=spring)
    found, _ = siblings(own)
    assert {tag: each[1] for tag, each in found.items()} == {"PSV-1": "spring", "PSV-3": "spring", "PSV-5": "build"}
    assert list(found) == ["PSV-3", "PSV-1", "PSV-5"]


def test_what_protects_the_same_system_is_a_sibling_whatever_its_build_and_comes_first(own):
    with own.work(at=AT, who="program:test") as work:
        work.add(ProtectedSystem(key(50), key(2), "drum 7"))
    for number in (202, 204):
        change(own, Position, number, system_id=key(50))
    change(own, RegisteredValve, 104, maker="Maker B")
    found, _ = siblings(own)
    assert list(found) == ["PSV-4", "PSV-3", "PSV-1", "PSV-5"]
    assert found["PSV-4"] == ("drum 7", "", False)
    change(own, RegisteredValve, 104, maker="maker a")
    assert siblings(own)[0]["PSV-4"] == ("drum 7", "build", False)


def test_another_owners_valves_are_none_of_ours(own):
    with own.work(at=AT, who="program:test") as work:
        work.add(Owner(key(4), "Other Owner"))
        work.change(dataclasses.replace(work.get(RegisteredValve, key(101)), owner_id=key(4)))
    assert "PSV-1" not in siblings(own)[0]


def test_a_valve_whose_make_nobody_noted_has_none_of_its_build(own):
    for number in range(101, 106):
        change(own, RegisteredValve, number, model="")
    found, whole = siblings(own)
    assert (found, whole.build_noted) == ({}, False)
    (sheet, *_) = make.make_nonconformity(own, "May round", ("PSV-2",), PRINTING).sheets
    assert "knows no other valve in use" in said(sheet)
    assert "Make and model of this valve are not noted" in said(sheet)


def test_a_long_list_ends_with_how_many_more(own):
    with own.work(at=AT, who="program:test") as work:
        like = work.get(RegisteredValve, key(101))
        for number in range(20):
            work.add(dataclasses.replace(like, id=key(2000 + number), serial=f"X-{number}"))
            work.add(Position(key(2100 + number), key(2), f"PSV-9{number:02d}", Medium.STEAM))
            work.add(Installation(key(2200 + number), key(2000 + number), key(2100 + number), dt.date(2024, 1, 1)))
        # the one that failed has the last tag of all, and is shown nevertheless
        work.change(dataclasses.replace(work.get(Position, key(203)), tag="PSV-999"))
    _, whole = siblings(own)
    assert whole.shown[0].hung.tag == "PSV-999"
    assert (len(whole.shown), whole.more) == (SHOWN, 24 - SHOWN)
    (sheet, *_) = make.make_nonconformity(own, "May round", ("PSV-2",), PRINTING).sheets
    assert f"{24 - SHOWN} more stand in the register" in said(sheet)


def test_the_report_names_them_with_what_was_last_found(store):
    high, stuck = make.make_nonconformity(store, "May round", (), PRINTING).sheets
    table = next(one.block for one in piece(high, "Headed") if one.title == "Other valves that may share the fault")
    assert [row[0] for row in table.rows] == ["PSV-3", "PSV-1", "PSV-4", "PSV-5"]
    assert table.rows[0][3:] == (
        "make, model, medium; spring not noted",
        "2026-05-12",
        "11.40 ± 0.10 bar, outside the limits",
    )
    assert table.strong == (0,)
    assert table.rows[2][4:] == ("–", "–")
    assert "Bold: out of order itself when last tested" in said(high)
    assert "PSV-2" in said(stuck)
