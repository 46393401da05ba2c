"""``firstlift register seat tests`` and ``again``: a wrong seat record is corrected, and its test computed again."""

import json
import tomllib

import pytest

from firstlift.formats.sheet_write import write_sheet

ANN = "Ann Example"


@pytest.fixture
def registered(run, small, tmp_path):
    """A register with a test kept with a maker's figure that was entered a twentieth too small, and its valve's tag."""
    place = tmp_path / "register"
    document = tomllib.loads(small.read_text(encoding="utf-8"))
    valve, tag = document["valve"], document["valve"]["tag"]

    def order(*words):
        done = run("register", *words, "--store", place)
        assert done.returncode == 0, done.stderr
        return done.stdout

    order("create")
    order("add", "owner", "name=Marrow Bay Energy")
    order("add", "site", "owner=Marrow Bay Energy", "name=Tern Street works", "zone=UTC")
    order("add", "position", "site=Tern Street works", f"tag={tag}", f"medium={valve['medium']}")
    order(
        "add", "valve", "owner=Marrow Bay Energy", f"serial={valve['serial']}", f"set_pressure={valve['set_pressure']}"
    )
    order("add", "installation", f"valve={valve['serial']}", f"position={tag}", "since=2024-05-01")
    order("add", "person", f"name={ANN}", "role=technician")
    order("seat", "add", tag, "--area", "500 mm2", "--date", "2024-05-01", "--reference", "drawing 4711")
    visit = {key: value for key, value in document["visit"].items() if key not in ("owner", "site")}
    short = tmp_path / "short.toml"
    tables = {key: value for key, value in document.items() if key != "seat"}
    recording = {**document["recording"], "file": str(small.parent / document["recording"]["file"])}
    short.write_text(write_sheet({**tables, "visit": visit, "recording": recording}), encoding="utf-8")
    kept = run("analyse", short, "--store", place, "--keep", "--by", ANN, "--json")
    assert kept.returncode in (0, 1), kept.stderr
    return place, tag, json.loads(kept.stdout)


@pytest.fixture
def seat(run, registered):
    place, _, _ = registered

    def seat(*words):
        return run("register", "seat", *words, "--store", place)

    return seat


def records(seat, tag):
    return json.loads(seat("list", tag, "--json").stdout)["records"]


def correct(seat, tag, *more):
    (wrong,) = records(seat, tag)
    typed = ("--area", "525 mm2", "--date", "2024-05-01", "--reference", "drawing 4711, rev. B")
    return seat("add", tag, *typed, "--corrects", wrong["id"], *more)


def test_a_wrong_record_is_corrected_and_its_test_computed_again(run, registered, seat):
    place, tag, result = registered
    assert seat("tests", tag).returncode == 0
    assert correct(seat, tag, "--why", "misread", "--by", ANN).returncode == 0
    listed = seat("tests", tag, "--json")
    (test,) = json.loads(listed.stdout)["tests"]
    assert (listed.returncode, test["reason"]["code"], test["recording_kept"]) == (1, "said-wrong", True)
    told = seat("tests", tag)
    assert test["test"] in told.stdout
    assert "it was found to be wrong" in told.stdout

    looked = seat("again", test["test"])
    assert "500 mm²" in looked.stdout
    assert "525 mm²" in looked.stdout
    assert "its seat record was found to be wrong: misread" in looked.stdout
    data = json.loads(seat("again", test["test"], "--json").stdout)
    before, after = data["before"], data["after"]
    assert data["kept"] is None
    assert looked.returncode == (1 if before["verdict"] != after["verdict"] else 0)
    pull = result["pulls"][0]
    assert before["set_pressure_pa"] == pull["set_pressure_pa"]
    # by hand: what the pull lifted, over 525 / 500
    by_hand = pull["line_pressure_pa"] + (pull["set_pressure_pa"] - pull["line_pressure_pa"]) * 500.0 / 525.0
    assert after["set_pressure_pa"] == pytest.approx(by_hand, rel=1e-9)

    kept = seat("again", test["test"], "--keep", "--why", "misread", "--by", ANN)
    assert kept.returncode == 0, kept.stderr
    assert f"which corrects {test['test']}" in kept.stdout
    assert seat("tests", tag).returncode == 0
    again = seat("again", test["test"])
    assert (again.returncode, "REV-004" in again.stderr) == (3, True)
    assert run("audit", "--store", place).returncode == 0


def test_what_cannot_be_done_says_why(registered, seat):
    _, tag, _ = registered
    assert "SEA-021" in correct(seat, tag, "--why", "misread").stderr
    assert "SEA-021" in correct(seat, tag, "--by", ANN).stderr
    assert correct(seat, tag, "--why", "misread", "--by", ANN).returncode == 0
    (test,) = json.loads(seat("tests", tag, "--json").stdout)["tests"]
    for words, code, exits in (
        (("--keep", "--by", ANN), "SEA-021", 3),
        (("--keep", "--why", "misread"), "SEA-021", 2),
        (("--why", "misread"), "SEA-021", 2),
        (("--keep", "--why", "misread", "--by", "Nobody"), "REG-028", 3),
    ):
        done = seat("again", test["test"], *words)
        assert (code in done.stderr, done.returncode) == (True, exits), words
    assert len(json.loads(seat("tests", tag, "--json").stdout)["tests"]) == 1
