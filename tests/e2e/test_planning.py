"""The commands of planning as a user runs them: a job sheet on disk, text on stdout, an exit code."""

import pytest
from tests.e2e.conftest import write_case
from tests.made_plans import ANSWERS, MEAN, SHEET

GIVEN = {"purpose": "as-found", "medium": "gas", "valve": "", "seat": MEAN, "code": "iso-4126-1", "decision": "guarded"}
SPRING = 'spring_rate = "40.6 N/mm"\nscrew_pitch = "1.5 mm"'
ANSWERED = [part for question, answer in ANSWERS.items() for part in ("--answer", f"{question}={answer}")]
ADJUST = ("--reading", "10.4 bar", "--line", "8 bar", "--pull-off", "--authorised-by", "owner")
HAZARD = ("--bore", "28 mm", "--fluid", "Methane", "--temperature", "20 degC")


@pytest.fixture(name="sheet")
def fixture_sheet(tmp_path):
    """Write the job sheet of an invented valve."""
    path = tmp_path / "job.toml"
    path.write_text(SHEET.format(**{**GIVEN, "valve": SPRING}), encoding="utf-8")
    return path


@pytest.mark.parametrize(
    ("arguments", "told"),
    [
        (("plan", "--line", "8 bar", *ANSWERED), "pull plan, as found: go"),
        (("adjust", *ADJUST), "flats to the left"),
        (("hazard", *HAZARD), "people"),
    ],
    ids=lambda part: part[0] if isinstance(part, tuple) else None,
)
def test_a_command_does_its_work(run, sheet, arguments, told):
    command, *options = arguments
    done = run(command, sheet, *options)
    assert (done.returncode, done.stderr) == (0, "")
    assert told in done.stdout
    assert "permit" in done.stdout


def test_a_valve_that_leaked_is_not_adjusted(run, tmp_path):
    """From a recording of a leaking valve to the advisor: the finding of the analysis stops the screw."""
    jobsheet, _ = write_case(tmp_path / "case", "leaking", 1)
    analysed = run("analyse", jobsheet, "--json")
    (tmp_path / "result.json").write_text(analysed.stdout, encoding="utf-8")
    assert "leaking-before-lift" in analysed.stdout
    done = run("adjust", jobsheet, "--result", tmp_path / "result.json", "--pull-off", "--authorised-by", "owner")
    assert done.returncode == 1
    assert "leaked before it lifted" in done.stdout


def test_a_terminal_without_unicode_still_gets_the_plan(run, sheet):
    done = run("plan", sheet, "--line", "8 bar", PYTHONIOENCODING="ascii")
    assert done.returncode == 1
    assert "questions are open" in done.stdout


def test_a_missing_job_sheet_is_said(run, tmp_path):
    for command in ("plan", "adjust", "hazard"):
        done = run(command, tmp_path / "nowhere.toml")
        assert (done.returncode, done.stdout) == (3, "")
        assert "JOB-001" in done.stderr
