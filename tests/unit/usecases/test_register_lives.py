"""A register's tests as rows for next dates, and the command on top of it."""

import dataclasses
import datetime as dt
import json
import uuid

import pytest

from firstlift.cli.main import main
from firstlift.core.errors import FirstliftError, UsageError
from firstlift.core.job import Purpose
from firstlift.core.register.equipment import Installation, RegisteredValve
from firstlift.core.register.places import Owner, Position, Site
from firstlift.core.register.work import BenchMedium, BenchReading, HowTested, ValveTest
from firstlift.core.reliability.history import AsFoundState
from firstlift.core.units import Kind, parse_quantity
from firstlift.core.valve import Medium
from firstlift.store.open import create_store
from firstlift.usecases.register.lives import found_by, rows_of_register

LEAKY = BenchReading(BenchMedium.AIR, leakage_bubbles_per_min=90.0, leakage_limit_bubbles_per_min=40.0)
AT = dt.datetime(2026, 6, 2, 8, 30, tzinfo=dt.UTC)


def ident(number):
    return uuid.UUID(int=number)


def valve(number, maker="", **more):
    return RegisteredValve(
        ident(number), ident(1), f"S-{number}", parse_quantity("10 bar", Kind.PRESSURE), maker=maker, **more
    )


def as_found(number, of, year, bar=None, verdict="within", month=6, **more):
    at = dt.datetime(year, month, 1, 9, tzinfo=dt.UTC)
    given = {"kind": HowTested.PULL, "purpose": Purpose.AS_FOUND, "set_pressure_pa": None if bar is None else bar * 1e5}
    return ValveTest(
        ident(number), ident(of), at=at, zone="Europe/London", day=at.date(), verdict=verdict, **(given | more)
    )


ENTRIES = [
    Owner(ident(1), "Marrow Bay Energy", "invented"),
    Site(ident(2), ident(1), "Tern Street works", "Europe/London"),
    Position(ident(3), ident(2), "PSV-3", Medium.STEAM),
    Position(ident(4), ident(2), "PSV-4", Medium.GAS, medium_name="nitrogen"),
    valve(10, "Alder"), valve(11, "Birch"), valve(12, active=False),
    Installation(ident(20), ident(10), ident(3), dt.date(2015, 1, 1), dt.date(2020, 1, 1)),
    Installation(ident(21), ident(10), ident(4), dt.date(2020, 1, 2)),
    Installation(ident(22), ident(11), ident(3), dt.date(2018, 3, 1)),
    as_found(30, 10, 2018, 10.1), as_found(31, 10, 2021, 10.8, "outside"),
    as_found(32, 10, 2021, 10.0, purpose=Purpose.AS_LEFT), as_found(33, 10, 2021, 10.2),
    as_found(34, 10, 2024, 9.0, "outside"), as_found(35, 10, 2024, 10.05, supersedes=ident(34)),
    as_found(36, 11, 2022, None, "", lower_bound_pa=9.5e5), as_found(37, 11, 2023, kind=HowTested.NOT_TESTED),
    as_found(38, 12, 2023, 10.0),
]  # fmt: skip


@pytest.fixture
def store(tmp_path):
    made = create_store(tmp_path / "register", store_id=ident(7), at=AT, folder=None)
    with made.work(at=AT, who="program:test") as work:
        work.add_all(ENTRIES)
    yield made
    made.close()


def test_rows_are_what_tests_found_first_and_as_corrected(store):
    rows = {(row.valve[:4], row.on.year): row for row in rows_of_register(store)}
    found = {key: (str(row.found), row.ratio and round(row.ratio, 3), row.overhauled) for key, row in rows.items()}
    assert found == {
        ("S-10", 2015): ("none", None, True),
        ("S-10", 2018): ("within", 1.01, False),
        ("S-10", 2021): ("high", 1.08, False),
        ("S-10", 2024): ("within", 1.005, False),
        ("S-11", 2018): ("none", None, True),
        ("S-11", 2022): ("lower-bound", 0.95, False),
    }


@pytest.mark.parametrize(
    ("group_by", "groups"),
    [
        ("none", {"all"}),
        ("maker", {"Alder", "Birch"}),
        # where it hangs now
        ("medium", {"nitrogen", "steam"}),
        ("unit", {"not stated"}),
        ("type", {"conventional"}),
    ],
)
def test_groups_are_made_by_what_is_asked(store, group_by, groups):
    assert {row.group for row in rows_of_register(store, group_by=group_by)} == groups


def test_an_unknown_grouping_and_an_empty_register_are_refused(store, tmp_path):
    with pytest.raises(UsageError, match="REL-012"):
        rows_of_register(store, group_by="colour")
    empty = create_store(tmp_path / "empty", store_id=ident(8), at=AT, folder=None)
    with pytest.raises(FirstliftError, match="REL-004"):
        rows_of_register(empty)
    empty.close()


@pytest.mark.parametrize(
    ("more", "found", "ratio"),
    [
        ({"bar": 9.4, "verdict": "outside"}, AsFoundState.LOW, 0.94),
        ({"bar": 10.3, "verdict": "undecided"}, AsFoundState.WITHIN, 1.03),
        ({"lower_bound_pa": 13e5, "verdict": "outside"}, AsFoundState.LOWER_BOUND, 1.3),
        ({"kind": HowTested.BENCH, "bench": BenchReading(BenchMedium.AIR, pop_pa=9.9e5)}, AsFoundState.WITHIN, 0.99),
        ({"bar": 10.0, "bench": LEAKY}, AsFoundState.LEAKED, 1.0),
    ],
)  # fmt: skip
def test_what_a_test_found(more, found, ratio):
    assert found_by(as_found(1, 10, 2020, **more), 10e5) == (found, pytest.approx(ratio))


def test_the_command_answers_from_a_register(store, tmp_path, capsys):
    assert main(["interval", "--store", str(tmp_path / "register"), "--group-by", "maker", "--json"]) == 0
    answer = json.loads(capsys.readouterr().out)
    assert [valve["valve"][:4] for valve in answer["valves"]] == ["S-10", "S-11"]
    assert {group["group"] for group in answer["groups"]} == {"Alder", "Birch"}


@pytest.mark.parametrize("arguments", [[], ["tests.csv", "--store", "register"]])
def test_the_tests_are_named_once(arguments, capsys):
    assert main(["interval", *arguments]) == 2
    assert "REL-013" in capsys.readouterr().err


def test_openings_of_a_valve_that_was_set_anew_belong_to_the_stamp_it_had_then(store):
    """A spare is set for the place it goes to: what it opened at before is no drift."""
    before = {(row.valve, row.on): row.ratio for row in rows_of_register(store)}
    with store.read() as reader:
        spare = next(valve for valve in reader.stream(RegisteredValve) if valve.serial.startswith("S-10"))
    anew = parse_quantity("5 bar", Kind.PRESSURE)
    with store.work(at=dt.datetime(2025, 1, 1, tzinfo=dt.UTC), who="program:test") as work:
        work.change(dataclasses.replace(spare, set_pressure=anew))
    assert {(row.valve, row.on): row.ratio for row in rows_of_register(store)} == before
