"""The commands of planning: text, JSON, files, exit codes, refusals; in this process, each a call of main."""

import json
import xml.etree.ElementTree as ET
from pathlib import Path
from types import SimpleNamespace

import jsonschema
import pytest
from tests.made_plans import ANSWERS, EDGES, MEAN, SHEET

from firstlift.cli.main import main

SCHEMA = Path(__file__).parents[3] / "docs" / "schema" / "firstlift-plan-1.schema.json"
GIVEN = {"purpose": "as-found", "medium": "gas", "valve": "", "seat": MEAN, "code": "iso-4126-1", "decision": "guarded"}
SPRING = 'spring_rate = "40.6 N/mm"\nscrew_pitch = "1.5 mm"\nspring_range_low = "8 bar"\nspring_range_high = "12 bar"'
ANSWERED = [part for question, answer in ANSWERS.items() for part in ("--answer", f"{question}={answer}")]
READY = ("--line", "8 bar", "--pull-off", "--authorised-by", "owner", "--mawp", "10 bar")


@pytest.fixture(name="run")
def fixture_run(capsys):
    """Run a command line in this process."""

    def call(*arguments):
        try:
            code = main([str(argument) for argument in arguments])
        except SystemExit as ended:
            code = ended.code
        said = capsys.readouterr()
        return SimpleNamespace(returncode=code, stdout=said.out, stderr=said.err)

    return call


@pytest.fixture(name="sheet")
def fixture_sheet(tmp_path):
    """Write a job sheet; keywords change it."""

    def make(**changes):
        path = tmp_path / "job.toml"
        path.write_text(SHEET.format(**{**GIVEN, **changes}), encoding="utf-8")
        return path

    return make


@pytest.mark.parametrize("command", ["plan", "hazard", "adjust"])
def test_every_command_has_help(run, command):
    done = run(command, "--help")
    assert (done.returncode, done.stderr) == (0, "")
    assert "exit codes" in done.stdout
    assert "owner" in done.stdout


def test_a_plan_in_order_goes(run, sheet):
    done = run("plan", sheet(), "--line", "8 bar", "--frame-limit", "5 kN", *ANSWERED)
    assert (done.returncode, done.stderr) == (0, "")
    assert "PSV-1  pull plan, as found: go" in done.stdout
    assert "141 N expected" in done.stdout
    assert "owner's permit" in done.stdout


def test_a_plan_with_open_questions_asks(run, sheet):
    done = run("plan", sheet(), "--line", "8 bar")
    assert done.returncode == 1
    assert "questions are open" in done.stdout
    assert "rupture-disc" in done.stdout


def test_a_plan_as_data_holds_its_published_form(run, sheet, tmp_path):
    out = tmp_path / "plan.json"
    done = run("plan", sheet(), "--line", "8 bar", *ANSWERED, "--json", "--write", out)
    printed, written = json.loads(done.stdout), json.loads(out.read_text(encoding="utf-8"))
    assert printed == written
    jsonschema.validate(written, json.loads(SCHEMA.read_text(encoding="utf-8")))
    assert written["approach"]["abort_force_n"] == pytest.approx(212.1, abs=0.1)


def test_a_written_plan_is_checked_before_use(run, sheet, tmp_path):
    path, out = sheet(), tmp_path / "plan.json"
    run("plan", path, "--line", "8 bar", *ANSWERED, "--write", out)
    checked = run("plan", path, "--line", "8 bar", "--check", out)
    assert (checked.returncode, "usable" in checked.stdout) == (0, True)
    edited = json.loads(out.read_text(encoding="utf-8"))
    edited["approach"]["abort_force_n"] = 900.0
    out.write_text(json.dumps(edited), encoding="utf-8")
    refused = run("plan", path, "--line", "8 bar", "--check", out)
    assert refused.returncode == 1
    assert "never reached in place" in refused.stdout
    out.write_text("{}", encoding="utf-8")
    assert run("plan", path, "--line", "8 bar", "--check", out).returncode == 3


def test_figures_are_drawn(run, sheet, tmp_path):
    files = [tmp_path / "pull.svg", tmp_path / "map.svg"]
    run("plan", sheet(seat=EDGES), "--line", "8 bar", "--envelope", files[0], "--map", files[1])
    assert [ET.parse(file).getroot().tag for file in files] == ["{http://www.w3.org/2000/svg}svg"] * 2


@pytest.mark.parametrize(("event", "told"), [("stuck", "Do not pull harder"), ("stayed-open", "No gag")])
def test_a_card_alone(run, sheet, event, told):
    done = run("plan", sheet(), "--line", "8 bar", "--card", event)
    assert told in done.stdout
    assert "can decide" not in done.stdout


def test_hold_points_alone(run, sheet):
    done = run("plan", sheet(), "--line", "8 bar", "--hold-points")
    assert "[ ] Cap and lever are off." in done.stdout


def quick_result(run, folder, pull):
    done = run("quick", "--line", "6.5 bar", "--pull", pull, "--seat-diameter", "30 mm", "--set", "10 bar", "--code",
               "iso-4126-1", "--json")  # fmt: skip
    path = folder / "result.json"
    path.write_text(done.stdout, encoding="utf-8")
    return path


def test_what_next_after_a_pull(run, sheet, tmp_path):
    undecided = quick_result(run, tmp_path, "258 N")
    done = run("plan", sheet(seat=EDGES), "--line", "6.5 bar", "--after", undecided)
    assert done.returncode == 1
    assert done.stdout.startswith("next: raise the line by")
    assert "as found:" in done.stdout
    decided = quick_result(run, tmp_path, "247.4 N")
    stop = run("plan", sheet(), "--line", "6.5 bar", "--after", decided, "--json")
    assert stop.returncode == 0
    assert json.loads(stop.stdout)["line"] == "decided, stop"


def test_valves_of_one_system_are_judged_together(run, sheet):
    line = ("--line", "8 bar", *ANSWERED, "--mawp", "10 bar", "--with-valve")
    sound = run("plan", sheet(code="asme-xiii"), *line, "PSV-2, 10.5 bar")
    high = run("plan", sheet(code="asme-xiii"), *line, "PSV-2, 10.8 bar")
    fire = run("plan", sheet(code="asme-xiii"), *line, "PSV-2, 10.8 bar, 10.7 bar, fire", "--json")
    assert (sound.returncode, high.returncode, fire.returncode) == (0, 1, 0)
    assert "protected system: in order; PSV-1 is set lowest" in sound.stdout
    assert "set higher than its place in the group allows: PSV-2" in high.stdout
    assert json.loads(fire.stdout)["system"]["sound"]


@pytest.mark.parametrize(
    ("arguments", "told"),
    [
        ((), "PLN-008"),
        (("--line", "8 bar", "--with-valve", "PSV-2, 10.3 bar"), "PLN-012"),
        (("--line", "8 bar", "--mawp", "10 bar", "--with-valve", "PSV-2"), "PLN-012"),
        (("--line", "8 bar", "--mawp", "10 bar", "--with-valve", "PSV-1, 10 bar"), "PLN-006"),
        (("--line", "8 bar", "--mawp", "0 bar"), "PLN-006"),
        (("--line", "10 bar"), "PLN-001"),
        (("--line", "12 bar"), "PLN-001"),
        (("--line", "8 bara"), "UNI-003"),
        (("--line", "8 bar", "--stop", "150 %"), "PLN-003"),
        (("--line", "8 bar", "--frame-limit", "0 N"), "PLN-002"),
        (("--line", "8 bar", "--answer", "thread"), "PLN-009"),
        (("--line", "8 bar", "--answer", "thread=good"), "PLN-004"),
        (("--line", "8 bar", "--answer", "thread=sound", "--answer", "thread=corroded"), "PLN-009"),
        (("--line", "8 bar", "--card", "bellows-vent"), "PLN-011"),
    ],
)
def test_a_plan_that_makes_no_sense_is_refused(run, sheet, arguments, told):
    done = run("plan", sheet(), *arguments)
    assert (done.returncode, done.stdout) == (2, "")
    assert told in done.stderr
    assert "Traceback" not in done.stderr


@pytest.mark.parametrize(
    "text", ["", "{", "[1]", '{"format": "firstlift-result-9"}', '{"format": "firstlift-result-1"}']
)
def test_a_result_that_cannot_be_read_is_refused(run, sheet, tmp_path, text):
    bad = tmp_path / "bad.json"
    bad.write_text(text, encoding="utf-8")
    for arguments in (("plan", sheet(), "--line", "8 bar", "--after", bad), ("adjust", sheet(), "--result", bad)):
        done = run(*arguments)
        assert (done.returncode, done.stdout) == (3, "")
        assert "Traceback" not in done.stderr


def test_how_far_to_turn(run, sheet):
    done = run("adjust", sheet(valve=SPRING), "--reading", "10.4 bar", "--reading-uncertainty", "0.03 bar", *READY)
    assert (done.returncode, done.stderr) == (0, "")
    assert "turn 2 3/4 flats to the left" in done.stdout
    assert "0.862" in done.stdout
    assert '--turned="-0.4583 turns: 10.4 bar -> ..."' in done.stdout


def test_an_adjustment_is_blocked_with_its_reasons(run, sheet):
    done = run("adjust", sheet(valve=SPRING), "--reading", "10.4 bar", "--leaking")
    assert done.returncode == 1
    assert "DO NOT TURN" in done.stdout
    assert "leaked before it lifted" in done.stdout
    assert "Nobody is named" in done.stdout


def test_the_last_result_gives_the_reading(run, sheet, tmp_path):
    result = quick_result(run, tmp_path, "290 N")
    done = run("adjust", sheet(valve=SPRING), "--result", result, *READY, "--json")
    advice = json.loads(done.stdout)
    assert advice["reading_pa"] == pytest.approx(6.5e5 + 290.0 / 7.0685835e-4, rel=1e-6)
    assert advice["direction"] == "left"
    assert all(finding["message"] for finding in advice["findings"])


def test_earlier_turns_teach(run, sheet):
    turned = ("--turned=-0.5 turns: 10.4 bar -> 10.0 bar", "--turned-uncertainty", "0.1 %")
    done = run("adjust", sheet(), "--reading", "10.4 bar", *READY, *turned)
    assert done.returncode == 0
    assert "learned from this valve" in done.stdout
    assert "turn 3 flats to the left" in done.stdout


def test_cold_pressure_both_ways(run, sheet):
    path = sheet(valve='superimposed_back_pressure = "1 bar"')
    cold = run("adjust", path, "--cold", "--temperature", "280 degC")
    back = run("adjust", path, "--from-cold", "9.09 bar", "--temperature", "280 degC")
    assert "9.09 bar" in cold.stdout
    assert "set pressure in service          10 bar" in back.stdout


@pytest.mark.parametrize(
    ("arguments", "told"),
    [
        ((), "ADJ-006"),
        (("--reading", "10 bar", "--spring-rate", "0 N/mm"), "ADJ-001"),
        (("--reading", "10 bar", "--turned", "half a turn"), "ADJ-007"),
        (("--reading", "30 bar"), "ADJ-005"),
        (("--reading", "10 bar", "--reading-uncertainty", "-1 bar"), "USE-004"),
        (("--reading", "10 bar", "--temperature", "280 degC"), "ADJ-008"),
        (("--cold",), "ADJ-003"),
    ],
)
def test_an_adjustment_that_makes_no_sense_is_refused(run, sheet, arguments, told):
    done = run("adjust", sheet(valve=SPRING), *arguments)
    assert (done.returncode, done.stdout) == (2, "")
    assert told in done.stderr


def test_a_hazard_sheet(run, sheet):
    done = run("hazard", sheet(medium="steam"), "--bore", "28 mm", "--outlet", "102.3 mm", "--hazard", "burns")
    assert (done.returncode, done.stderr) == (0, "")
    for told in ("kg/s", "reaction", "people keep away", "burns", "permit"):
        assert told in done.stdout


def test_a_liquid_that_flashes_is_warned_about(run, sheet):
    done = run("hazard", sheet(medium="liquid"), "--bore", "28 mm", "--fluid", "Water", "--temperature", "160 degC")
    assert done.returncode == 1
    assert "boils on its way out" in done.stdout
    assert "kg/s" not in done.stdout


def test_a_hazard_sheet_as_json(run, sheet):
    done = run("hazard", sheet(), "--bore", "28 mm", "--fluid", "Methane", "--temperature", "20 degC", "--json")
    data = json.loads(done.stdout)
    assert data["format"] == "firstlift-hazard-1"
    assert data["mass_flow_kg_per_s"] > 1.0


@pytest.mark.parametrize(
    ("arguments", "told"),
    [
        ((), "HAZ-008"),
        (("--bore", "28 mm", "--flow-area", "616 mm2"), "HAZ-008"),
        (("--flow-area", "830.3 mm2"), "HAZ-008"),
        (("--bore", "letter J"), "HAZ-008"),
        (("--bore", "28 mm"), "HAZ-002"),
        (("--bore", "28 mm", "--fluid", "Methane", "--temperature", "20 degC", "--distance", "0 m"), "HAZ-003"),
        (("--bore", "28 mm", "--fluid", "Methane", "--temperature", "20 degC", "--distance", "90000 m"), "HAZ-003"),
        (("--bore", "28 mm", "--fluid", "Nothing", "--temperature", "20 degC"), "HAZ-007"),
        (("--bore", "28 mm", "--molar-mass", "sixteen"), "UNI-004"),
    ],
)
def test_a_hazard_sheet_that_makes_no_sense_is_refused(run, sheet, arguments, told):
    done = run("hazard", sheet(), *arguments)
    assert (done.returncode, done.stdout) == (2, "")
    assert told in done.stderr
    assert "Traceback" not in done.stderr
