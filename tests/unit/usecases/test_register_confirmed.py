"""Hold points confirmed by the command, kept in a register made here, and shown with the test."""

import re

import pytest
from tests.made_plans import ANSWERS, MEAN, SHEET

from firstlift.cli.main import main

GIVEN = {"purpose": "as-found", "medium": "gas", "valve": "", "seat": MEAN, "code": "iso-4126-1", "decision": "guarded"}
VISIT = ("visit", "site=Tern Street works", "name=May", "start=2026-05-12")
ENTRIES = [
    ("owner", "name=Marrow Bay Energy"),
    ("site", "owner=Marrow Bay Energy", "name=Tern Street works", "zone=Europe/London"),
    ("position", "site=Tern Street works", "tag=PSV-1", "medium=gas"),
    ("valve", "owner=Marrow Bay Energy", "serial=SIM-1", "set_pressure=10 bar"),
    ("installation", "valve=SIM-1", "position=PSV-1", "since=2024-05-01"),
    ("person", "name=Ann Example", "role=technician"),
]


@pytest.fixture
def plan(tmp_path, capsys):
    sheet, where = tmp_path / "job.toml", str(tmp_path / "register")
    sheet.write_text(SHEET.format(**GIVEN), encoding="utf-8")
    answers = [part for question, answer in ANSWERS.items() for part in ("--answer", f"{question}={answer}")]
    assert main(["register", "create", "--store", where]) == 0

    def run(*options, entries=()):
        for entry in entries:
            assert main(["register", "add", *entry, "--store", where]) == 0
        capsys.readouterr()
        code = main(["plan", str(sheet), "--line", "8 bar", *answers, "--store", where, *options])
        said = capsys.readouterr()
        return code, said.out + said.err

    run.where = where
    return run


def test_what_is_confirmed_is_kept_and_the_rest_stays_open(plan, capsys):
    assert "Nothing is confirmed yet" in plan("--hold-points", entries=(*ENTRIES, VISIT))[1]
    keys = ("--confirm", "screw-height=24.1 mm", "--confirm", "owner-told-stuck=shift lead")
    code, said = plan(*keys, "--by", "Ann Example")
    assert code == 0, said
    said = plan("--hold-points")[1]
    assert re.search(r"\[x\] hold-screw-height  Ann Example  \d{4}-\d\d-\d\d \d\d:\d\d  24.1 mm", said)
    assert re.search(r"\[x\] owner-told-stuck .* shift lead", said)
    assert "[ ] hold-screw-height" not in said
    assert "[ ] hold-rings" in said
    test = ("valve_test", "valve=SIM-1", "kind=not-tested", "purpose=as-found", "not_tested=no-access", "visit=May")
    assert main(["register", "add", *test, "--store", plan.where]) == 0
    identifier = re.search(r"[0-9a-f]{8}-[0-9a-f-]{27}", capsys.readouterr().out).group()
    assert main(["register", "show", "valve_test", identifier, "--store", plan.where]) == 0
    assert "confirmed: hold-screw-height  Ann Example" in capsys.readouterr().out


@pytest.mark.parametrize(
    ("entries", "options", "code"),
    [
        ((*ENTRIES, VISIT), ("--confirm", "weather", "--by", "Ann Example"), "PLN-005"),
        ((*ENTRIES, VISIT), ("--confirm", "rings"), "PLN-013"),
        (ENTRIES, ("--confirm", "rings", "--by", "Ann Example"), "PLN-013"),
        ((*ENTRIES, VISIT), ("--confirm", "rings", "--by", "Bo Example"), "REG-028"),
    ],
)
def test_what_nobody_can_confirm_is_refused(plan, monkeypatch, entries, options, code):
    monkeypatch.delenv("FIRSTLIFT_BY", raising=False)
    exit_code, said = plan(*options, entries=entries)
    assert exit_code != 0
    assert code in said
