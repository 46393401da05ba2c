"""Search, due list, a site at a glance and histories, the same on both engines."""

import dataclasses
import datetime as dt
import uuid

import pytest
from tests.contract.store import entries as e

from firstlift.core.job import Purpose
from firstlift.core.register.choose import search_key
from firstlift.core.register.equipment import Installation
from firstlift.core.register.work import HowTested, UsedInstrument, ValveTest, WhyNot
from firstlift.core.valve import Medium
from firstlift.store import history
from firstlift.store.search import Wanted, count, due_list, search, site_summary, without_interval

TAGS = ("PSV-1", "PSV-10", "psv-11", "PSV-2", "ÄB-1", "Z_%1")


def valve_at(number, tag):
    position = dataclasses.replace(
        e.POSITION, id=uuid.UUID(int=1000 + number), tag=tag, unit="unit a" if number % 2 else "unit b",
        medium=Medium.GAS if number % 2 else Medium.LIQUID,
    )  # fmt: skip
    valve = dataclasses.replace(e.VALVE, id=uuid.UUID(int=2000 + number), serial=f"N{number}")
    return position, valve, Installation(uuid.UUID(int=3000 + number), valve.id, position.id, dt.date(2020, 1, 1))


@pytest.fixture
def filled(store):
    with store.work(at=e.AT, who="program:test") as work:
        work.add_all(e.ALL)
        for number, tag in enumerate(TAGS):
            position, valve, hangs = valve_at(number, tag)
            work.add_all([position, valve, hangs])
            if number:
                work.add(
                    dataclasses.replace(
                        e.INTERVAL, id=uuid.UUID(int=4000 + number), position_id=position.id, months=number * 20
                    )
                )
    return store


def found(store, **wanted):
    with store.read() as reader:
        lines = search(reader, Wanted(**wanted))
        assert count(reader, Wanted(**wanted)) == len(lines)
        return [line.tag for line in lines]


@pytest.mark.parametrize(
    ("wanted", "tags"),
    [
        ({"tag": "psv-1"}, ["PSV-1", "PSV-10", "psv-11", "PSV-1100"]),
        ({"tag": "PSV-11"}, ["psv-11", "PSV-1100"]),
        ({"tag": "äb"}, ["ÄB-1"]),
        ({"tag": "z_"}, ["Z_%1"]),
        ({"tag": "%"}, []),
        ({"serial": "n"}, list(TAGS)),
        ({"serial": "n3"}, ["PSV-2"]),
        ({"unit": "UNIT A", "tag": "psv"}, ["PSV-10", "PSV-2"]),
        ({"medium": Medium.STEAM}, ["PSV-1100"]),
        ({"last_verdict": "within"}, ["PSV-1100"]),
        ({"site_id": uuid.UUID(int=99)}, []),
        ({"owner_id": e.OWNER.id, "active": False}, []),
        ({"due_by": dt.date(2023, 5, 1), "tag": "p"}, ["PSV-10", "psv-11"]),
    ],
)
def test_valves_are_found(filled, wanted, tags):
    assert found(filled, **wanted) == tags


def test_a_found_valve_says_all_of_its_line(filled):
    with filled.read() as reader:
        (line,) = search(reader, Wanted(tag="PSV-1100"))
    assert (line.serial, line.set_pressure, line.owner, line.site) == ("S1100", "14.1 bar", e.OWNER.name, e.SITE.name)
    assert (line.unit, line.medium, line.due) == ("boiler house", "steam", dt.date(2028, 3, 2))
    assert (line.last_test_id, line.last_verdict, line.last_disposition) == (e.TEST.id, "within", "fit")


def test_pages_follow_one_another(filled):
    with filled.read() as reader:
        whole = search(reader, Wanted())
        pages = [search(reader, Wanted(), limit=3, offset=first) for first in (0, 3, 6)]
    assert [line for page in pages for line in page] == whole
    assert len(whole) == 7


def test_the_most_urgent_is_due_first(filled):
    with filled.read() as reader:
        lines = due_list(reader, Wanted())
        early = due_list(reader, Wanted(due_by=lines[1].due))
        missing = without_interval(reader, Wanted())
    assert [line.tag for line in lines] == ["PSV-10", "psv-11", "PSV-2", "ÄB-1", "PSV-1100", "Z_%1"]
    assert [line.due for line in lines] == sorted(line.due for line in lines)
    assert early == lines[:2]
    assert [line.tag for line in missing] == ["PSV-1"]


def test_a_site_at_a_glance(filled):
    missed = ValveTest(
        uuid.uuid4(), uuid.UUID(int=2001), HowTested.NOT_TESTED, Purpose.AS_FOUND, e.AT, e.ZONE, e.DAY,
        not_tested=WhyNot.UNSAFE,
    )  # fmt: skip
    with filled.work(at=e.AT, who="program:test") as work:
        work.add(missed)
    with filled.read() as reader:
        summary = site_summary(reader, e.SITE.id, on=dt.date(2024, 1, 1))
        nothing = site_summary(reader, uuid.UUID(int=99), on=dt.date(2024, 1, 1))
    assert (summary.valves, summary.overdue, summary.without_date, summary.not_tested) == (7, 2, 1, 1)
    assert summary.verdicts == {"": 6, "within": 1}
    assert (nothing.valves, nothing.verdicts) == (0, {})


def test_a_valve_that_moved_has_its_history_and_so_has_the_position(filled):
    other = uuid.UUID(int=1000)
    with filled.work(at=e.AT, who="program:test") as work:
        for hangs in (
            e.INSTALLATION,
            Installation(uuid.UUID(int=3000), uuid.UUID(int=2000), other, dt.date(2020, 1, 1)),
        ):
            work.change(dataclasses.replace(hangs, until=e.DAY))
        work.add(Installation(uuid.UUID(int=5000), e.VALVE.id, other, e.DAY))
        later = e.AT + dt.timedelta(days=30)
        moved = dataclasses.replace(e.TEST, id=uuid.UUID(int=6000), position_id=other, at=later, day=later.date())
        corrected = dataclasses.replace(moved, id=uuid.UUID(int=6001), supersedes=moved.id)
        work.add_all([moved, corrected])
    with filled.read() as reader:
        valve = history.valve_history(reader, e.VALVE.id)
        place = history.position_history(reader, e.POSITION.id)
        there = history.position_history(reader, other)
    assert [test.id for test in valve.tests] == [corrected.id, moved.id, e.TEST.id]
    assert [test.superseded_by for test in valve.tests] == [None, corrected.id, None]
    assert [test.tag for test in valve.tests] == ["PSV-1", "PSV-1", "PSV-1100"]
    assert [hangs.position_id for hangs in valve.installations] == [other, e.POSITION.id]
    assert (valve.seats, valve.adjustments) == ([e.SEAT], [e.ADJUSTMENT])
    assert [test.id for test in place.tests] == [e.TEST.id]
    assert [test.serial for test in there.tests] == ["S1100", "S1100"]


def test_tests_that_used_an_instrument_are_found(filled):
    with filled.work(at=e.AT, who="program:test") as work:
        twice = (UsedInstrument("lc-77", "pull_force"), UsedInstrument("LC-77", "line_pressure"))
        corrected = dataclasses.replace(e.TEST, id=uuid.UUID(int=6001), supersedes=e.TEST.id, instruments=twice)
        work.add(corrected)
    with filled.read() as reader:
        assert history.used_in(reader, search_key("lc-77")) == [corrected.id]
        assert history.used_in(reader, search_key("lc-77"), first=dt.date(2026, 3, 3)) == []
        assert history.used_in(reader, search_key("lc-77"), last=dt.date(2026, 3, 2)) == [corrected.id]
        assert history.used_in(reader, "other") == []
