"""``firstlift interval``: from a table of tests to next dates."""

import csv
import datetime as dt
import json
import xml.etree.ElementTree as ET

import numpy as np
import pytest


@pytest.fixture(scope="module")
def table(tmp_path_factory):
    """Write thirty invented valves of two groups, tested every three years, some found stuck."""
    path = tmp_path_factory.mktemp("interval") / "tests.csv"
    rng = np.random.default_rng(2)
    with path.open("w", newline="", encoding="utf-8") as file:
        out = csv.writer(file)
        out.writerow(["valve", "group", "date", "found", "ratio", "overhauled"])
        for index in range(30):
            day = dt.date(2010, 1, 1) + dt.timedelta(days=11 * index)
            name, group = f"PSV-{index:02}", "steam" if index % 2 else "air"
            out.writerow([name, group, day, "none", "", "yes"])
            for look in range(4):
                day += dt.timedelta(days=1095)
                stuck = (index + 5 * look) % 9 == 0
                ratio = "" if stuck else f"{1.0 + 0.002 * look + 0.004 * rng.standard_normal():.4f}"
                out.writerow([name, group, day, "stuck" if stuck else "within", ratio, "yes" if stuck else ""])
    return path


def test_json_gives_every_valve_its_date_and_its_reasons(run, table):
    done = run("interval", table, "--json", "--owner-max", "4", "--target", "8 %")
    assert (done.returncode, done.stderr) == (0, "")
    answer = json.loads(done.stdout)
    assert (answer["format"], answer["target"]) == ("firstlift-interval-1", 0.08)
    assert [group["group"] for group in answer["groups"]] == ["air", "steam"]
    assert len(answer["valves"]) == 30
    for valve in answer["valves"]:
        assert 0.0 <= valve["recommended_yr"] <= 4.0
        last, due = (dt.date.fromisoformat(valve[key]) for key in ("last", "due"))
        assert due == last + dt.timedelta(days=int(valve["recommended_yr"] * 365.25))
        assert all(reason["message"].endswith(".") for reason in valve["reasons"])
    for group in answer["groups"]:
        assert group["weibull"]["shape_interval"][0] < group["weibull"]["shape"] < group["weibull"]["shape_interval"][1]
        evidence = group["evidence"]
        assert evidence["low_yr"] < evidence["estimate_yr"] < evidence["high_yr"]


def test_text_says_target_groups_and_dates(run, table):
    done = run("interval", table)
    assert (done.returncode, done.stderr) == (0, "")
    for part in (
        "at most 5.0 % of finds",
        "group         air: 15 valves",
        "best estimate",
        "due 20",
        "PSV-00",
        "decide",
    ):
        assert part in done.stdout


def test_one_valve_is_shown_with_all_its_reasons(run, table):
    done = run("interval", table, "--valve", "PSV-03")
    assert done.stdout.count("due 20") == 1
    assert "the tests allow" in done.stdout


def test_pictures_are_written_whole(run, table, tmp_path):
    done = run("interval", table, "--group", "air", "--survival", tmp_path / "s.svg", "--drift", tmp_path / "d.svg")
    assert done.returncode == 0
    for name in ("s.svg", "d.svg"):
        assert ET.parse(tmp_path / name).getroot().tag.endswith("svg")
    assert sorted(path.name for path in tmp_path.iterdir()) == ["d.svg", "s.svg"]


@pytest.mark.parametrize(
    ("more", "code", "told"),
    [
        (("--target", "0"), 2, "REL-002"),
        (("--target", "many"), 2, "not a number"),
        (("--service", "api"), 2, "REL-008"),
        (("--owner-max", "-2"), 2, "REL-009"),
        (("--valve", "PSV-99"), 2, "REL-011"),
        (("--survival", "x.svg"), 2, "REL-011"),
        (("--group", "air", "--drift", "no-such-folder/x.svg"), 3, "OUT-001"),
    ],
)
def test_what_cannot_be_done_is_told_on_one_line(run, table, more, code, told):
    done = run("interval", table, *more)
    assert (done.returncode, done.stdout) == (code, "")
    assert told in done.stderr
    assert "Traceback" not in done.stderr


def test_a_table_that_is_not_there_is_told(run, tmp_path):
    done = run("interval", tmp_path / "none.csv")
    assert (done.returncode, done.stdout) == (3, "")
    assert "HIS-001" in done.stderr
