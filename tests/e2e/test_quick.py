"""``firstlift quick``: the pocket calculation."""

import json
import math
from pathlib import Path

import jsonschema
import pytest

SCHEMA = Path(__file__).parents[2] / "docs" / "schema" / "firstlift-result-1.schema.json"
GIVEN = {
    "--line": "8 bar",
    "--pull": "141 N",
    "--seat-diameter": "30 mm",
    "--set": "10 bar",
    "--code": "iso-4126-1",
}


def arguments(**changed):
    """Give the options, with some changed or (None) left out."""
    options = GIVEN | {f"--{name.replace('_', '-')}": value for name, value in changed.items()}
    return [part for name, value in options.items() if value is not None for part in (name, value)]


def test_the_result_is_the_force_balance(run):
    done = run("quick", *arguments(), "--json")
    result = json.loads(done.stdout)
    # p = 8 bar + 141 N / (pi/4 (30 mm)^2) = 8 bar + 1.99474 bar
    expected = 8e5 + 141.0 / (math.pi / 4.0 * 0.030**2)
    assert (done.returncode, done.stderr) == (0, "")
    assert result["as_found"]["set_pressure_pa"] == pytest.approx(expected, rel=1e-12)
    assert expected == pytest.approx(9.99474e5, abs=1.0)
    assert result["pulls"][0]["first_lift_s"] is None
    jsonschema.validate(result, json.loads(SCHEMA.read_text(encoding="utf-8")))


def test_stated_uncertainties_make_the_interval(run):
    stated = arguments(line_uncertainty="0.02 bar", pull_uncertainty="1 N", seat_uncertainty="0.05 mm")
    result = json.loads(run("quick", *stated, "--json").stdout)
    area = math.pi / 4.0 * 0.030**2
    by_area = 141.0 / area**2 * math.pi / 2.0 * 0.030 * 0.05e-3
    u = math.hypot(2000.0, 1.0 / area, by_area)
    assert result["as_found"]["expanded_uncertainty_pa"] == pytest.approx(1.959964 * u, rel=1e-6)


def test_text_says_value_verdict_and_what_was_assumed(run):
    done = run("quick", *arguments())
    assert (done.returncode, done.stderr) == (0, "")
    for part in ("9.995", "bar", "Within the limits", "9.7 bar to 10.3 bar", "assumed", "permit"):
        assert part in done.stdout


@pytest.mark.parametrize(
    ("changed", "outcome"),
    [
        ({"pull": "190 N"}, "outside"),
        ({"pull": "162 N"}, "undecided"),
        ({"pull": "162 N", "decision": "simple"}, "within"),
    ],
)
def test_exit_code_follows_the_verdict(run, changed, outcome):
    done = run("quick", *arguments(**changed), "--json")
    assert json.loads(done.stdout)["verdict"]["outcome"] == outcome
    assert done.returncode == (0 if outcome == "within" else 1)


@pytest.mark.parametrize(
    ("changed", "told"),
    [
        ({"line": "8"}, ("UNI-006", "--line")),
        ({"line": "8 bara"}, ("UNI-003", "--line")),
        ({"pull": "141 mm"}, ("UNI-002", "--pull")),
        ({"pull": "-5 N"}, ("QCK-001", "--pull")),
        ({"seat_diameter": None}, ("QCK-002",)),
        ({"seat_area": "707 mm2"}, ("QCK-002",)),
        ({"seat_diameter": "T"}, ("UNI-004", "--seat-diameter")),
        ({"set": "0 bar"}, ("QCK-001", "--set")),
        ({"set": "0.05 bar"}, ("TOL-002",)),
        ({"code": "owner"}, ("TOL-003",)),
        ({"code": "iso-4126"}, ("TOL-006", "--code", "Did you mean 'iso-4126-1'")),
        ({"probability": "95"}, ("--probability",)),
        ({"probability": "high"}, ("--probability", "'high'")),
    ],
)
def test_a_value_that_makes_no_sense_is_wrong_use(run, changed, told):
    done = run("quick", *arguments(**changed), "--json")
    assert (done.returncode, done.stdout) == (2, "")
    assert [part for part in told if part not in done.stderr] == []


def test_the_text_holds_on_a_terminal_without_unicode(run):
    done = run("quick", *arguments(), PYTHONIOENCODING="ascii")
    assert (done.returncode, done.stderr) == (0, "")
    assert done.stdout.isascii()
    assert "9.995 +/- 0.084 bar" in done.stdout
