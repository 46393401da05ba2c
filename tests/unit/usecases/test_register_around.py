"""What a register knows around a valve: its protected system, and its siblings after a failure."""

import datetime as dt
import uuid

import pytest
from tests.made_plans import ANSWERS, MEAN, SHEET

from firstlift.cli.main import main
from firstlift.core.errors import FirstliftError
from firstlift.core.job import Purpose
from firstlift.core.register.equipment import Installation, RegisteredValve
from firstlift.core.register.places import Owner, Position, ProtectedSystem, Site
from firstlift.core.register.work import HowTested, ValveTest
from firstlift.core.units import Kind, parse_quantity
from firstlift.core.valve import Medium
from firstlift.store.open import create_store
from firstlift.usecases.register.around import around_valve

AT = dt.datetime(2026, 6, 2, 8, 30, tzinfo=dt.UTC)
ON = dt.date(2026, 6, 2)
GIVEN = {"purpose": "as-found", "medium": "gas", "valve": "", "seat": MEAN, "code": "asme-xiii", "decision": "guarded"}


def ident(number):
    return uuid.UUID(int=number)


def pressure(text):
    return parse_quantity(text, Kind.PRESSURE)


def valve(number, bar, maker="Alder", model="A1"):
    return RegisteredValve(ident(number), ident(1), f"S-{number}", pressure(f"{bar} bar"), maker=maker, model=model)


def position(number, tag, *, system=None, name="nitrogen"):
    return Position(ident(number), ident(2), tag, Medium.GAS, medium_name=name, system_id=system and ident(system))


def hangs(number, of, at, until=None):
    return Installation(ident(number), ident(of), ident(at), dt.date(2020, 1, 1), until)


def opened_at(number, of, bar, year, **more):
    at = dt.datetime(year, 6, 1, 9, tzinfo=dt.UTC)
    given = {"kind": HowTested.PULL, "purpose": Purpose.AS_FOUND, "set_pressure_pa": bar * 1e5}
    return ValveTest(ident(number), ident(of), at=at, zone="Europe/London", day=at.date(), **(given | more))


ENTRIES = [
    Owner(ident(1), "Marrow Bay Energy", "invented"),
    Site(ident(2), ident(1), "Tern Street works", "Europe/London"),
    ProtectedSystem(ident(3), ident(2), "drum 1", pressure("10 bar")),
    position(11, "PSV-1", system=3), position(12, "PSV-2", system=3), position(13, "PSV-3"),
    position(14, "PSV-4", name="steam"), position(15, "PSV-5", name="steam"),
    valve(21, 10), valve(22, 10.6), valve(23, 8), valve(24, 9), valve(25, 9, "Birch", "B7"), valve(26, 7),
    hangs(31, 21, 11), hangs(32, 22, 12), hangs(33, 23, 13), hangs(34, 24, 14), hangs(35, 25, 15),
    hangs(36, 26, 13, dt.date(2021, 1, 1)),
    opened_at(41, 21, 10.2, 2023), opened_at(42, 21, 9.9, 2024), opened_at(43, 22, 10.7, 2024),
    opened_at(44, 21, 10.4, 2025), opened_at(45, 21, 9.95, 2025, supersedes=ident(44)),
]  # fmt: skip


@pytest.fixture
def store(tmp_path):
    made = create_store(tmp_path / "register", store_id=ident(7), at=AT, folder=None)
    with made.work(at=AT, who="program:test") as work:
        work.add_all(ENTRIES)
    yield made
    made.close()


def test_the_system_is_judged_from_the_register(store):
    found = around_valve(store, "PSV-1", ON, code="asme-xiii").system
    assert (found.sound, found.first) == (False, "PSV-1")
    above = [finding for finding in found.findings if finding.code == "system-above-code"]
    assert [finding.parameters["tag"] for finding in above] == ["PSV-2"]
    # PSV-1 was corrected to 9.95 bar, so one valve opens in time
    assert "system-none-opens-at-mawp" not in {finding.code for finding in found.findings}


def test_siblings_hang_now_and_share_maker_with_model_or_service(store):
    around = around_valve(store, "PSV-1", ON, code="asme-xiii")
    assert [(sibling.tag, sibling.shares) for sibling in around.siblings] == [
        ("PSV-2", ("model", "maker", "service")),
        ("PSV-3", ("model", "maker", "service")),
        ("PSV-4", ("model", "maker")),
    ]
    assert around.wanted == 2


def test_a_position_without_a_system_has_none(store):
    assert around_valve(store, "PSV-4", ON, code="asme-xiii").system is None


def test_an_unknown_tag_is_refused(store):
    with pytest.raises(FirstliftError, match="REG-020"):
        around_valve(store, "PSV-99", ON, code="asme-xiii")


def test_the_plan_looks_around_in_the_register(store, tmp_path, capsys):
    sheet = tmp_path / "job.toml"
    sheet.write_text(SHEET.format(**GIVEN), encoding="utf-8")
    answers = [part for question, answer in ANSWERS.items() for part in ("--answer", f"{question}={answer}")]
    code = main(["plan", str(sheet), "--line", "8 bar", *answers, "--store", str(tmp_path / "register")])
    told = capsys.readouterr().out
    assert code == 1
    assert "protected system: NOT in order" in told
    assert "if it fails, test 2 of its siblings too: PSV-2, PSV-3, PSV-4" in told
