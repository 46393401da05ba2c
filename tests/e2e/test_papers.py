"""The papers of a job from the command line: a register of one valve, from the packet to the data of the visit."""

import csv
import json
import tomllib

import openpyxl
import pikepdf
import pytest

from firstlift.cli.main import main
from firstlift.demo.case import make_demo_case

BY = ("--by", "Ann Example")
VISIT = ("--visit", "May round")


@pytest.fixture(scope="module")
def here(tmp_path_factory):
    return tmp_path_factory.mktemp("papers")


@pytest.fixture
def run(here, capsys, monkeypatch):
    monkeypatch.chdir(here)
    for name in ("FIRSTLIFT_STORE", "FIRSTLIFT_BY", "FIRSTLIFT_RECORDINGS"):
        monkeypatch.delenv(name, raising=False)

    def command(*words, expect=0):
        code = main([str(word) for word in words])
        said = capsys.readouterr()
        assert code == expect, said.err + said.out
        return said.err + said.out

    return command


@pytest.fixture
def filled(run, here):
    if (here / "firstlift-register").exists():
        return
    sheet = tomllib.loads(make_demo_case(here / "case").read_text(encoding="utf-8"))
    pressure, serial = sheet["valve"]["set_pressure"], sheet["valve"]["serial"]
    run("register", "create")
    run("register", "add", "person", "role=technician", "name=Ann Example", "email=ann@example.org")
    run("register", "add", "owner", "name=Marrow Bay Energy", *BY)
    run("register", "add", "site", "owner=Marrow Bay Energy", "name=Tern Street works", "zone=Europe/London", *BY)
    run("register", "add", "position", "site=Tern Street works", "tag=PSV-2041", "medium=steam", *BY)
    run("register", "add", "valve", "owner=Marrow Bay Energy", f"serial={serial}", f"set_pressure={pressure}", *BY)
    run("register", "add", "installation", f"valve={serial}", "position=PSV-2041", "since=2024-05-01", *BY)
    run("register", "seat", "add", "PSV-2041", "--mean", sheet["seat"]["mean_diameter"],
        "--uncertainty", sheet["seat"]["standard_uncertainty"], "--date", "2024-05-01")  # fmt: skip
    run("register", "add", "rule_choice", "owner=Marrow Bay Energy", "since=2024-01-01", 'rules={"code": "iso-4126-1"}')
    for channel in sheet["channel"]:
        name = f"N {channel['column']}"
        run("register", "add", "instrument", f"serial={name}", f"measures={channel['measures']}",
            f"unit={channel['unit']}")  # fmt: skip
        run("register", "add", "calibration", f"instrument={name}", "certificate_number=K1", "date=2026-01-02",
            "due=2027-01-02", f"unit={channel['unit']}", "relative_standard_uncertainty=0.002")  # fmt: skip
    valve_id = json.loads(run("register", "show", "valve", "PSV-2041", "--json"))["entry"]["id"]
    run("register", "add", "visit", "site=Tern Street works", "name=May round", "start=2026-05-12",
        f'planned=["{valve_id}"]')  # fmt: skip


def pages(path):
    with pikepdf.open(path) as pdf:
        with pdf.open_metadata() as xmp:
            assert (xmp["pdfaid:part"], xmp["pdfaid:conformance"]) == ("3", "B")
        return [[float(v) for v in page.MediaBox][2:] for page in pdf.pages]


@pytest.mark.usefixtures("filled")
def test_papers_of_a_visit(run, here):
    said = run(
        "papers", "packet", *VISIT, "--line-share", "80 %", "--frame-limit", "20 kN", "--cards", "--out", "p.pdf"
    )
    assert "Field packet  May round · Tern Street works · Marrow Bay Energy" in said
    assert len(pages(here / "p.pdf")) == 3
    run("papers", "visit", *VISIT, "--paper", "letter", "--draft", "--out", "v.pdf")
    assert pages(here / "v.pdf") == [[612.0, 792.0]]
    run("papers", "return", *VISIT, "--valve", "PSV-2041", "--out", "r.pdf")
    assert len(pages(here / "r.pdf")) == 1
    run("papers", "planning", "--site", "Tern Street works", "--on", "2026-05-14", "--out", "d.pdf")
    assert len(pages(here / "d.pdf")) >= 1
    assert not [path for path in here.iterdir() if path.name.startswith(".")]


@pytest.mark.usefixtures("filled")
def test_papers_and_labels_in_the_language_asked_for(run, here, letters):
    (here / "issuer.toml").write_text('format = "firstlift-paper-1"\n[layout]\nlanguage = "nl"\n', encoding="utf-8")
    issuer = ("--issuer", "issuer.toml")
    assert "Terug in bedrijf  May round" in run("papers", "return", *VISIT, *issuer, "--out", "n.pdf")
    assert "Remise en service" in run("papers", "return", *VISIT, *issuer, "--language", "fr", "--out", "f.pdf")
    with pikepdf.open(here / "f.pdf") as pdf:
        assert str(pdf.Root.Lang) == "fr"
    run("label", "PSV-2041", "--language", "zh", "--fonts", letters("zh"), "--out", "l.pdf")
    with pikepdf.open(here / "l.pdf") as pdf:
        assert str(pdf.Root.Lang) == "zh"
    assert "WRD-002" in run("papers", "return", *VISIT, "--language", "xx", "--out", "no.pdf", expect=3)
    assert not (here / "no.pdf").exists()


@pytest.mark.usefixtures("filled")
def test_data_of_a_visit(run, here):
    run("register", "add", "valve_test", "valve=PSV-2041", "kind=not-tested", "purpose=as-found", "visit=May round",
        "at=2026-05-12T09:00", "not_tested=no-access", "day=2026-05-12", *BY)  # fmt: skip
    for name in ("x.json", "x.csv", "x.XLSX"):
        assert "May round: 1 test\n" in run("papers", "exchange", *VISIT, "--out", name)
    (test,) = json.loads((here / "x.json").read_text(encoding="utf-8"))["tests"]
    (row,) = csv.DictReader((here / "x.csv").read_text(encoding="utf-8-sig").splitlines())
    sheet = openpyxl.load_workbook(here / "x.XLSX")["tests"]
    assert test["tag"] == row["tag"] == sheet["D2"].value == "PSV-2041"
    assert test["not_tested"] == row["not_tested"] == "no-access"


@pytest.mark.usefixtures("filled")
def test_what_makes_no_sense_is_told_and_writes_nothing(run, here):
    assert "PAP-003" in run("papers", "visit", "--visit", "June", "--out", "no.pdf", expect=3)
    assert "PAP-006" in run("papers", "exchange", *VISIT, "--out", "no.ods", expect=2)
    assert "PAP-004" in run("papers", "nonconformity", *VISIT, "--out", "no.pdf", expect=3)
    assert "USE-003" in run("papers", "return", *VISIT, "--on", "May", "--out", "no.pdf", expect=2)
    assert "OUT-001" in run("papers", "return", *VISIT, "--out", "nowhere/no.pdf", expect=3)
    assert not (here / "no.pdf").exists()
