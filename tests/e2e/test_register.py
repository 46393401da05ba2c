"""The register from the command line, from an empty folder to an audit, as a person would go."""

import datetime as dt
import json
import sqlite3
import tomllib

import pytest

from firstlift.cli.main import main
from firstlift.demo.case import make_demo_case
from firstlift.formats.sheet_write import write_sheet

BY = ("--by", "Ann Example")


@pytest.fixture
def here(tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    for name in ("FIRSTLIFT_STORE", "FIRSTLIFT_BY", "FIRSTLIFT_RECORDINGS"):
        monkeypatch.delenv(name, raising=False)
    return tmp_path


@pytest.fixture
def run(here, capsys):
    def command(*words, expect=0):
        code = main([str(word) for word in words])
        said = capsys.readouterr()
        assert code == expect, said.err + said.out
        return said.err if code in (2, 3) else said.out

    return command


@pytest.fixture
def filled(run, here):
    """Make a register with one valve and its instruments, and a short job sheet for it."""
    sheet = make_demo_case(here / "case")
    document = tomllib.loads(sheet.read_text(encoding="utf-8"))
    run("register", "create")
    run("register", "add", "person", "role=technician", "name=Ann Example", "email=ann@example.org")
    run("register", "add", "owner", "name=Marrow Bay Energy", *BY)
    run("register", "add", "site", "owner=marrow bay energy", "name=Tern Street works", "zone=Europe/London", *BY)
    run("register", "add", "position", "site=Tern Street works", "tag=PSV-2041", "medium=steam", "unit=boiler house")
    pressure, serial = document["valve"]["set_pressure"], document["valve"]["serial"]
    run("register", "add", "valve", "owner=Marrow Bay Energy", f"serial={serial}", f"set_pressure={pressure}")
    run("register", "add", "installation", f"valve={serial}", "position=psv-2041", "since=2024-05-01")
    run("register", "add", "interval", "position=PSV-2041", "months=24", "since=2024-05-01", "basis=owner's")
    run("register", "seat", "add", "PSV-2041", "--mean", document["seat"]["mean_diameter"],
        "--uncertainty", document["seat"]["standard_uncertainty"], "--date", "2024-05-01")  # fmt: skip
    run("register", "add", "rule_choice", "owner=Marrow Bay Energy", "since=2024-01-01", 'rules={"code": "iso-4126-1"}')
    for channel in document["channel"]:
        name = f"serial=N {channel['column']}"
        run("register", "add", "instrument", name, f"measures={channel['measures']}", f"unit={channel['unit']}")
        run("register", "add", "calibration", f"instrument={name[7:]}", "certificate_number=K1", "date=2026-01-02",
            "due=2026-03-01", f"unit={channel['unit']}", "relative_standard_uncertainty=0.002")  # fmt: skip
    tables = {
        "format": document["format"],
        "visit": {"date": document["visit"]["date"], "purpose": "as-found"},
        "valve": {"tag": "PSV-2041"},
        "recording": document["recording"],
        "channel": [{"column": each["column"], "serial": f"N {each['column']}"} for each in document["channel"]],
    }
    tables["channel"][-1]["form"] = "level"
    short = here / "case" / "short.toml"
    short.write_text(write_sheet(tables), encoding="utf-8")
    return short


def test_from_an_empty_folder_to_a_proved_register(run, filled, here):
    assert "2026-05-01" in run("due", expect=1 if _overdue() else 0)
    said = run("analyse", filled, "--store", "firstlift-register", "--keep", "--json", expect=0)
    result = json.loads(said)
    assert "calibration-overdue" in {finding["code"] for finding in result["findings"]}
    told = json.loads(run("register", "show", "valve", "PSV-2041", "--json"))
    (past,) = told["history"]
    assert (past["verdict"], past["tag"], past["day"]) == (result["verdict"]["outcome"], "PSV-2041", "2026-05-12")
    assert "2028-05-12" in run("due")
    assert "nothing is due" in run("due", "--overdue", "--site", "Tern Street works")
    assert "all holds" in run("audit")
    assert "audited" in run("backup", "copy")
    run("export", "open")
    assert run("restore", "copy", "--store", "one").splitlines()[-1] == run("audit").splitlines()[-1]
    assert run("restore", "open", "--store", "two").splitlines()[-1] == run("audit").splitlines()[-1]
    again = run("analyse", filled, "--store", "firstlift-register", "--keep", expect=3)
    assert "REG-025" in again
    assert "--supersedes" in again


def _overdue():
    return dt.datetime.now(dt.UTC).date() > dt.date(2026, 5, 1)


def test_a_changed_result_is_named(run, filled, here):
    run("analyse", filled, "--store", "firstlift-register", "--keep", "--json")
    noted = run("audit").splitlines()[-1].removeprefix("last entry ")
    run("register", "set", "site", "Tern Street works", "note=x", *BY)
    assert "all holds" in run("audit", "--expect", noted)
    assert "noted" in run("audit", "--expect", noted[:-1] + ("0" if noted[-1] != "0" else "1"), expect=1)
    with sqlite3.connect(here / "firstlift-register" / "register.sqlite") as database:
        database.execute("DROP TRIGGER keep_valve_test_update")
        database.execute(
            'UPDATE valve_test SET result = replace(result, \'"outcome": "measured"\', \'"outcome": "meazured"\')'
        )
    database.close()
    assert "valve test" in run("audit", expect=1)
    assert json.loads(run("audit", "--json", expect=1))["faults"][0]["reason"] == "its row is not what the chain says"


def test_an_instrument_is_recalled(run, filled):
    run("analyse", filled, "--store", "firstlift-register", "--keep", "--json")
    assert "the verdict of 0 changes" in run("register", "recall", "N line")
    listed = json.loads(run("register", "list", "calibration", "instrument=N line", "--json"))
    old = listed[0]["id"]
    run("register", "add", "calibration", "instrument=N line", "certificate_number=K2", "date=2026-01-02",
        "due=2027-01-01", "unit=bar", "relative_standard_uncertainty=0.002", "polynomial=[0, 1.3]",
        f"supersedes={old}")  # fmt: skip
    (line,) = json.loads(run("register", "recall", "N line", "--json", expect=1))
    assert (line["changed"], line["verdict_now"]) == (True, "outside")


def test_people_entries_and_their_history(run, filled, here):
    assert "Ann Example" in run("register", "show", "person", "Ann Example")
    shown = run("register", "show", "site", "Tern Street works")
    assert "Europe/London" in shown
    assert "history:" in shown
    run("register", "erase", "Ann Example")
    assert "REG-028" in run("register", "show", "person", "Ann Example", expect=3)
    assert "all holds" in run("audit")
    run(
        "register", "add", "valve_test", "valve=PSV-2041", "kind=not-tested", "purpose=as-found", "not_tested=no-access"
    )
    assert "not tested: no-access" in run("due", expect=1 if _overdue() else 0)
    (here / "plate.jpg").write_bytes(b"picture")
    check = json.loads(
        run(
            "register",
            "add",
            "identity_check",
            "valve=PSV-2041",
            "serial_read=other",
            "photo=plate.jpg",
            "at=2026-05-12T08:00:00+01:00",
            "--json",
        )
    )
    assert check["mismatches"] == ["serial"]
    assert "REG-024" in run("analyse", filled, "--store", "firstlift-register", expect=3)
    valve = json.loads(run("register", "show", "valve", "PSV-2041", "--json"))["entry"]["id"]
    attached = json.loads(run("register", "add", "attachment", f"belongs_to={valve}", "file=plate.jpg", "--json"))
    assert (attached["media_type"], attached["size_bytes"], attached["name"]) == ("image/jpeg", 7, "plate.jpg")
    assert "all holds" in run("audit")


WRONG = (
    (("register", "add", "ownr", "name=x"), "REG-027", 2),
    (("register", "add", "owner", "nam=x"), "REG-027", 2),
    (("register", "add", "owner", "name"), "REG-027", 2),
    (("register", "add", "owner", "name=a", "name=b"), "REG-027", 2),
    (("register", "add", "owner", "name="), "REG-012", 3),
    (("register", "add", "site", "owner=none", "name=x"), "REG-028", 3),
    (("register", "add", "certificate", "series=x"), "REG-027", 2),
    (("register", "add", "interval", "position=PSV-2041", "months=x", "since=2024-05-01"), "REG-002", 3),
    (("register", "add", "position", "site=Tern Street works", "tag=A", "medium=beer"), "REG-002", 3),
    (("register", "add", "rule_choice", "owner=Marrow Bay Energy", "since=2024-01-01", "rules={"), "REG-027", 2),
    (("register", "set", "calibration", "00000000-0000-0000-0000-000000000001", "note=x"), "REG-010", 3),
    (("register", "show", "owner", "nobody"), "REG-028", 3),
    (("register", "create"), "STO-003", 3),
    (("due", "--by", "soon"), "REG-027", 2),
    (("audit", "--expect", "x"), "REG-027", 2),
    (("audit", "--store", "nowhere"), "STO-008", 3),
    (("restore", "nowhere", "--store", "new"), "STO-008", 3),
    (("analyse", "case/short.toml", "--keep"), "REG-027", 2),
)


def test_what_is_wrong_is_said(run, filled):
    for words, code, expect in WRONG:
        assert code in run(*words, expect=expect), words
