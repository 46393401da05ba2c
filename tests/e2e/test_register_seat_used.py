"""A recording analysed against the register takes the seat in force and says why."""

import json
import tomllib

import pytest

from firstlift.formats.sheet_write import write_sheet


@pytest.fixture(scope="module")
def registered(run, small, tmp_path_factory):
    """A register with the valve of a small recording, and its job sheet without a seat."""
    place = tmp_path_factory.mktemp("register") / "register"
    document = tomllib.loads(small.read_text(encoding="utf-8"))
    valve, tag = document["valve"], document["valve"]["tag"]

    def order(*words):
        done = run("register", *words, "--store", place)
        assert done.returncode == 0, done.stderr

    order("create")
    order("add", "owner", "name=Marrow Bay Energy")
    order("add", "site", "owner=Marrow Bay Energy", "name=Tern Street works", "zone=UTC")
    order("add", "position", "site=Tern Street works", f"tag={tag}", f"medium={valve['medium']}")
    order(
        "add", "valve", "owner=Marrow Bay Energy", f"serial={valve['serial']}", f"set_pressure={valve['set_pressure']}"
    )
    order("add", "installation", f"valve={valve['serial']}", f"position={tag}", "since=2024-05-01")
    mean = document["seat"]["mean_diameter"]
    order("seat", "add", tag, "--mean", mean, "--date", "2024-05-01", "--reference", "drawing 4711")
    order(
        "seat", "add", tag, "--mean", mean, "--uncertainty", "0.08 mm", "--date", "2025-05-01", "--measured-with", "C3"
    )
    sheet = small.parent / "short.toml"
    visit = {key: value for key, value in document["visit"].items() if key not in ("owner", "site")}
    tables = {key: value for key, value in document.items() if key != "seat"}
    sheet.write_text(write_sheet({**tables, "visit": visit}), encoding="utf-8")
    return place, sheet


def test_the_seat_in_force_is_taken_and_told(run, registered, small):
    place, sheet = registered
    done = run("analyse", sheet, "--store", place, "--json")
    assert "seat in force: measured on the valve of 2025-05-01: the only record found on this valve" in done.stderr
    area = next(line for line in json.loads(done.stdout)["budget"] if line["common_to"] == "seat")
    stated = next(
        line for line in json.loads(run("analyse", small, "--json").stdout)["budget"] if line["common_to"] == "seat"
    )
    assert area["value"] == pytest.approx(stated["value"], rel=1e-9)
    assert area["standard_uncertainty"] != pytest.approx(stated["standard_uncertainty"], rel=1e-3)


def test_a_sheet_that_states_its_seat_keeps_it(run, registered, small):
    place, _ = registered
    assert "seat in force" not in run("analyse", small, "--store", place, "--json").stderr
