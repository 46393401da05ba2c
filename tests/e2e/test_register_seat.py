"""``firstlift register seat`` as a user runs it, on a register of one valve."""

import datetime as dt
import json
import uuid

import pytest

from firstlift.core.register.equipment import Installation, RegisteredValve
from firstlift.core.register.places import Owner, Position, Site
from firstlift.core.units import Kind, parse_quantity
from firstlift.core.valve import Medium
from firstlift.store.open import create_store

AT = dt.datetime(2026, 6, 2, 8, 30, tzinfo=dt.UTC)


@pytest.fixture
def register(tmp_path):
    ids = [uuid.UUID(int=n) for n in range(10)]
    with_store = create_store(tmp_path / "register", store_id=ids[7], at=AT, folder=None)
    with with_store.work(at=AT, who="program:test") as work:
        work.add_all([
            Owner(ids[1], "Marrow Bay Energy", "invented"),
            Site(ids[2], ids[1], "Tern Street works"),
            Position(ids[3], ids[2], "PSV-9", Medium.GAS),
            RegisteredValve(ids[4], ids[1], "S-9", parse_quantity("10 bar", Kind.PRESSURE)),
            Installation(ids[5], ids[4], ids[3], dt.date(2024, 1, 1)),
        ])  # fmt: skip
    with_store.close()
    return ("--store", tmp_path / "register")


def seat(run, register, act, *arguments):
    return run("register", "seat", act, *arguments, *register)


def test_records_are_added_and_the_one_in_force_is_told_with_its_reason(run, register):
    edges = ("--inner", "30 mm", "--outer", "31 mm", "--uncertainty", "0.05 mm", "--measured-with", "CAL-3")
    first = seat(run, register, "add", "PSV-9", *edges, "--date", "2026-05-04")
    assert (first.returncode, first.stderr) == (0, "")
    pulls = (
        "--at",
        "4 bar, 424 N",
        "--at",
        "8 bar, 141 N",
        "--cell",
        "C1",
        "--gauge",
        "G1",
        "--line-uncertainty",
        "1 kPa",
    )
    assert seat(run, register, "add", "psv-9", *pulls, "--date", "2026-05-04").returncode == 0
    told = seat(run, register, "list", "PSV-9")
    assert told.returncode == 0
    assert "in force  2026-05-04  730.68 mm²" in told.stdout
    assert "serves only with the instruments that found it: C1, G1" in told.stdout
    assert "seat in force: measured on the valve" in told.stdout
    data = json.loads(seat(run, register, "list", "PSV-9", "--with", "C1", "--with", "G1", "--json").stdout)
    chosen = next(record for record in data["records"] if record["id"] == data["in_force"])
    assert (chosen["source"], chosen["serials"]) == ("two-line-pressures", ["C1", "G1"])


def test_without_a_record_the_exit_code_is_1(run, register):
    done = seat(run, register, "list", "PSV-9")
    assert done.returncode == 1
    assert "no seat record serves" in done.stdout


@pytest.mark.parametrize(
    ("arguments", "exit_code", "told"),
    [
        (("add", "PSV-9", "--area", "830 mm2"), 3, "SEA-010"),
        (("add", "PSV-9", "--mean", "30 mm", "--date", "4.5.2026"), 2, "SEA-015"),
        (("add", "PSV-9", "--mean", "30 mm", "--by", "Ann"), 3, "REG-028"),
        (("add", "PSV-7", "--mean", "30 mm"), 3, "SEA-016"),
        (("list", "PSV-7"), 3, "SEA-016"),
    ],
)
def test_refusals_say_why(run, register, arguments, exit_code, told):
    done = seat(run, register, *arguments)
    assert (done.returncode, done.stdout) == (exit_code, "")
    assert told in done.stderr
    assert "Traceback" not in done.stderr


def test_without_a_register_it_is_said(run, tmp_path):
    done = run("register", "seat", "list", "PSV-9", "--store", tmp_path / "none")
    assert (done.returncode, done.stdout) == (3, "")
    assert "STO-008" in done.stderr
