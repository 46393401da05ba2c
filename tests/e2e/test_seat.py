"""``firstlift seat`` as a user runs it."""

import json

import pytest

PULLS = ("--at", "4 bar, 424 N", "--at", "6 bar, 283 N", "--at", "8 bar, 141 N")


def test_pulls_give_area_set_pressure_and_what_they_add(run):
    done = run("seat", *PULLS, "--friction", "10 N")
    assert (done.returncode, done.stderr) == (0, "")
    for word in ("seat area", "707 ±", "set pressure  10.00", "scale of cell", "assumed", "unsafe side"):
        assert word in done.stdout


def test_edges_name_their_rectangle(run):
    done = run("seat", "--inner", "30 mm", "--outer", "32 mm", "--uncertainty", "0.1 mm")
    assert "755 ± 48 mm²" in done.stdout
    assert "6.4 % either way" in done.stdout


def test_json_is_one_object(run):
    done = run("seat", *PULLS, "--json")
    data = json.loads(done.stdout)
    assert data["fit"]["set_pressure_pa"] == pytest.approx(1e6, rel=1e-3)
    assert [tie["part"] for tie in data["fit"]["tied_to"]] == ["scale", "scale"]


def test_a_table_is_read(run, tmp_path):
    path = tmp_path / "pairs.csv"
    path.write_text("line_pressure [bar];pull [N];bench_pressure [bar]\n7,0;212;10,0\n8,0;141;10,0\n", encoding="utf-8")
    done = run("seat", "--table", path)
    assert done.returncode == 0
    assert "paired bench and on-line results, 2 readings" in done.stdout


@pytest.mark.parametrize(
    ("arguments", "exit_code", "told"),
    [
        (("--area", "830 mm2"), 3, "SEA-010"),
        (("--at", "7.9 bar, 148 N", "--at", "8 bar, 141 N"), 3, "SEA-007"),
        (("--mean", "30"), 2, "UNI-006"),
        ((), 2, "SEA-015"),
        (("--table", "no-such.csv"), 3, "SEA-013"),
    ],
)
def test_refusals_say_why_and_leave_stdout_empty(run, arguments, exit_code, told):
    done = run("seat", *arguments)
    assert (done.returncode, done.stdout) == (exit_code, "")
    assert told in done.stderr
    assert "Traceback" not in done.stderr


def test_recordings_of_one_line_pressure_say_too_little(run, small):
    done = run("seat", "--sheet", small, "--sheet", small)
    assert (done.returncode, done.stdout) == (3, "")
    assert "SEA-0" in done.stderr
