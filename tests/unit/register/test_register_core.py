"""The register's pure parts: what is in force, due dates, identity, canonical text, the chain."""

import dataclasses
import datetime as dt
import json
import uuid

import pytest
from hypothesis import given
from hypothesis import strategies as st

from firstlift.core.errors import FirstliftError
from firstlift.core.job import Measures, Rules
from firstlift.core.register.chain import Action, Change, breaks, first_link, next_entry
from firstlift.core.register.choose import (
    add_months,
    calibration_in_force,
    due_date,
    identity_mismatches,
    interval_in_force,
    rules_in_force,
    search_key,
)
from firstlift.core.register.codec import canonical, chain_form, from_plain, instant_text, parse_instant, to_plain
from firstlift.core.register.equipment import Calibration, Instrument, RegisteredValve, UseCheck, When
from firstlift.core.register.people import Person, Qualification
from firstlift.core.register.places import Interval, RuleChoice
from firstlift.core.register.work import BenchMedium, BenchReading, IdentityCheck
from firstlift.core.units import Kind, parse_quantity

DAY = dt.date(2026, 5, 12)
AT = dt.datetime(2026, 5, 12, 9, 30, tzinfo=dt.UTC)
STORE = uuid.UUID(int=7)


def ident(number):
    return uuid.UUID(int=number)


def chain(count):
    entries, head = [], first_link(STORE)
    for number in range(1, count + 1):
        change = Change(Action.ADD, "owner", ident(number), "", f'{{"n":{number}}}')
        entries.append(next_entry(number, head, store_id=STORE, at=AT, who="program:test", change=change))
        head = entries[-1].sha256
    return entries


@pytest.mark.parametrize(
    ("day", "months", "expected"),
    [
        (dt.date(2026, 1, 31), 1, dt.date(2026, 2, 28)),
        (dt.date(2024, 1, 31), 1, dt.date(2024, 2, 29)),
        (dt.date(2024, 2, 29), 12, dt.date(2025, 2, 28)),
        (dt.date(2026, 12, 15), 1, dt.date(2027, 1, 15)),
        (dt.date(2026, 6, 30), 24, dt.date(2028, 6, 30)),
        (dt.date(2026, 6, 30), 0, dt.date(2026, 6, 30)),
    ],
)
def test_months_are_added_by_the_calendar(day, months, expected):
    assert add_months(day, months) == expected


def test_due_counts_from_the_last_test_else_from_the_installation():
    interval = Interval(ident(1), ident(2), 24, DAY)
    assert due_date(interval, DAY, dt.date(2020, 1, 1)) == dt.date(2028, 5, 12)
    assert due_date(interval, None, dt.date(2020, 1, 1)) == dt.date(2022, 1, 1)
    assert due_date(interval, None, None) is None
    assert due_date(None, DAY, DAY) is None


def test_the_interval_that_began_last_is_in_force():
    early, late = (Interval(ident(n), ident(9), 12 * n, dt.date(2020 + n, 1, 1)) for n in (1, 4))
    assert interval_in_force([late, early], dt.date(2023, 1, 1)) == early
    assert interval_in_force([early, late], DAY) == late
    assert interval_in_force([early, late], dt.date(2019, 1, 1)) is None


def test_the_nearer_choice_of_rules_judges():
    owner = RuleChoice(ident(1), ident(9), Rules("iso-4126-1"), dt.date(2025, 1, 1))
    site = RuleChoice(ident(2), ident(9), Rules("asme-i"), dt.date(2020, 1, 1), site_id=ident(8))
    place = RuleChoice(ident(3), ident(9), Rules("asme-xiii"), dt.date(2026, 6, 1), position_id=ident(7))
    assert rules_in_force([owner, site, place], DAY) == site
    assert rules_in_force([owner, site, place], dt.date(2026, 6, 1)) == place
    assert rules_in_force([owner], dt.date(2020, 1, 1)) is None


def test_a_calibration_serves_from_its_date_until_it_is_superseded():
    old, new = (Calibration(ident(n), ident(9), f"K{n}", dt.date(2024 + n, 1, 1), DAY, "kN") for n in (0, 2))
    assert calibration_in_force([old, new], dt.date(2025, 1, 1)) == old
    assert calibration_in_force([old, new], DAY) == new
    corrected = dataclasses.replace(new, id=ident(5), supersedes=new.id)
    assert calibration_in_force([old, new, corrected], DAY) == corrected
    assert calibration_in_force([new], dt.date(2025, 1, 1)) is None


def test_a_nameplate_that_reads_otherwise_is_named():
    valve = RegisteredValve(ident(1), ident(2), "S 1", parse_quantity("14.1 bar", Kind.PRESSURE), spring_number="SP-3")
    same = IdentityCheck(
        ident(3), valve.id, AT, "UTC", "s 1", tag_read="psv-1", spring_number_read="sp-3",
        set_pressure_read=parse_quantity("1410 kPa", Kind.PRESSURE),
    )  # fmt: skip
    assert identity_mismatches(valve, "PSV-1", same) == ()
    other = dataclasses.replace(same, serial_read="S2", tag_read="X", spring_number_read="Y")
    pressure = parse_quantity("14.2 bar", Kind.PRESSURE)
    found = identity_mismatches(valve, "PSV-1", dataclasses.replace(other, set_pressure_read=pressure))
    assert found == ("serial", "tag", "spring_number", "set_pressure")
    nothing = IdentityCheck(ident(3), valve.id, AT, "UTC", "")
    assert identity_mismatches(valve, "PSV-1", nothing) == ()


def test_checks_and_readings_judge_themselves():
    check = UseCheck(ident(1), ident(2), When.AFTER, AT, "UTC", 1000.0, 1004.0, 5.0)
    assert (check.passed, dataclasses.replace(check, reading_si=994.0).passed) == (True, False)
    bench = BenchReading(BenchMedium.AIR, leakage_bubbles_per_min=30.0, leakage_limit_bubbles_per_min=20.0)
    assert (bench.tight, dataclasses.replace(bench, leakage_limit_bubbles_per_min=None).tight) == (False, None)
    task = Qualification(ident(1), ident(2), "pull", dt.date(2025, 1, 1), dt.date(2027, 1, 1))
    assert [task.holds(day) for day in (dt.date(2024, 12, 31), DAY, dt.date(2027, 1, 2))] == [False, True, False]
    assert not dataclasses.replace(task, withdrawn=dt.date(2026, 1, 1)).holds(DAY)


@given(st.text(max_size=30))
def test_a_search_key_is_its_own_key(text):
    assert search_key(search_key(text)) == search_key(text)


@given(
    st.datetimes(dt.datetime.fromisoformat("0001-01-03"), dt.datetime.fromisoformat("9999-12-29")),
    st.integers(-23, 23),
)
def test_instants_come_back_and_sort_as_texts(moment, hours):
    at = moment.replace(tzinfo=dt.timezone(dt.timedelta(hours=hours)))
    text = instant_text(at)
    assert (parse_instant(text), len(text)) == (at, 27)
    assert (instant_text(at + dt.timedelta(microseconds=1)) > text) is True


LETTERS = st.text(st.characters(exclude_categories=["Cs"], exclude_characters="\0"), max_size=8)
LEAVES = st.none() | st.booleans() | st.integers() | st.floats(allow_nan=False, allow_infinity=False) | LETTERS
JSONS = st.recursive(LEAVES, lambda inner: st.lists(inner, max_size=4) | st.dictionaries(LETTERS, inner, max_size=4))


@given(JSONS)
def test_the_canonical_text_reads_back_and_is_the_same_for_any_order(value):
    text = canonical(value)
    assert json.loads(text) == value
    if isinstance(value, dict):
        assert canonical(dict(reversed(list(value.items())))) == text


@pytest.mark.parametrize(
    "harm",
    [
        {"who": "other"}, {"at": "2026-05-12T09:30:01.000000Z"}, {"before": "x"}, {"after": "x"}, {"kind": "site"},
        {"action": "change"}, {"entry_id": ident(99)}, {"store_id": ident(99)}, {"sha256": "0" * 64},
        {"previous_sha256": "0" * 64},
    ],
)  # fmt: skip
def test_every_field_of_an_entry_is_under_its_hash(harm):
    entries = chain(5)
    assert list(breaks(entries, STORE)) == []
    entries[2] = dataclasses.replace(entries[2], **harm)
    assert next(breaks(entries, STORE)).number == 3


def test_an_entry_taken_out_put_in_or_moved_is_seen():
    entries = chain(5)
    assert next(breaks([*entries[:2], *entries[3:]], STORE)).number == 3
    assert next(breaks([entries[1], entries[0], *entries[2:]], STORE)).number == 1
    assert next(breaks(entries, ident(8))).number == 1
    forged = next_entry(
        3, entries[1].sha256, store_id=STORE, at=AT, who="x", change=Change(Action.ADD, "a", STORE, "", "")
    )
    assert next(breaks([*entries[:2], forged, *entries[3:]], STORE)).number == 4


def test_the_chain_never_holds_personal_data():
    person = Person(ident(1), "technician", details_sha256="ab")
    assert "details" in to_plain(person)
    assert '"details":' not in chain_form(Person, to_plain(person))
    assert '"details_sha256":"ab"' in chain_form(Person, to_plain(person))


@pytest.mark.parametrize(
    "change",
    [
        {"serial": 5}, {"measures": "beer"}, {"capacity_si": "much"}, {"active": 1}, {"id": "x"}, {"colour": "red"},
        {"serial": None},
    ],
)  # fmt: skip
def test_plain_values_of_the_wrong_kind_are_refused(change):
    plain = to_plain(Instrument(ident(1), "LC-1", Measures.PULL_FORCE, "kN"))
    with pytest.raises(FirstliftError) as caught:
        from_plain(Instrument, plain | change)
    assert caught.value.problems[0].code == "REG-002"


def test_plain_values_that_are_missing_are_named():
    with pytest.raises(FirstliftError, match="serial"):
        from_plain(Instrument, {"id": str(ident(1)), "measures": "pull_force", "unit": "kN"})
