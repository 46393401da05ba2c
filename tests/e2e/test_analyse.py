"""``firstlift analyse``: results on stdout, reasons on stderr, nothing half-written."""

import hashlib
import json
import os
import subprocess
import sys
from pathlib import Path
from xml.etree import ElementTree

import jsonschema
import pytest

from firstlift.demo.case import draw_demo_test

SCHEMA = Path(__file__).parents[2] / "docs" / "schema" / "firstlift-result-1.schema.json"


def result_of(done):
    # the certificate's key was made by the program: that is said, and nothing else
    assert [line for line in done.stderr.splitlines() if "signed with a key that this program made" not in line] == []
    (line,) = done.stdout.splitlines()
    return json.loads(line)


@pytest.fixture
def edited(demo, tmp_path_factory):
    """Give a function that copies the demo's sheet with one place changed; its recording stays where it is."""
    sheet = demo[0] / "demo-jobsheet.toml"

    def edit(old, new):
        text = sheet.read_text(encoding="utf-8").replace(
            "demo-recording.csv", (demo[0] / "demo-recording.csv").as_posix()
        )
        assert text.count(old) >= 1
        copy = tmp_path_factory.mktemp("edited") / "sheet.toml"
        copy.write_text(text.replace(old, new, 1), encoding="utf-8")
        return copy

    return edit


def test_a_clean_test_is_measured_within_and_fit(analysed):
    _, done = analysed
    result = result_of(done)
    assert done.returncode == 0
    assert result["outcome"] == "measured"
    assert result["verdict"]["outcome"] == "within"
    assert result["disposition"] == {"outcome": "fit", "reasons": []}
    assert [f["code"] for f in result["findings"] if f["severity"] != "info"] == []


def test_the_result_fits_the_published_schema(analysed):
    schema = json.loads(SCHEMA.read_text(encoding="utf-8"))
    jsonschema.validate(result_of(analysed[1]), schema)


def test_the_truth_lies_within_the_stated_uncertainty(analysed):
    result = result_of(analysed[1])
    truth = draw_demo_test(3).truth
    assert [pull["outcome"] for pull in result["pulls"]] == ["measured"] * len(truth.pulls)
    for pull in result["pulls"]:
        # the simulated errors of cells, gauge and seat are one draw from what the sheet states
        assert abs(pull["set_pressure_pa"] - truth.set_pressure_pa) < 1.5 * pull["expanded_uncertainty_pa"]
        assert pull["expanded_uncertainty_pa"] < 0.02 * truth.set_pressure_pa


def test_as_found_is_the_first_pull_and_the_verdict_judges_it(analysed):
    result = result_of(analysed[1])
    first = result["pulls"][0]
    assert result["as_found"]["set_pressure_pa"] == first["set_pressure_pa"]
    assert result["verdict"]["judged"] == [1]
    assert result["as_left"] is None


def test_the_result_names_its_recording_by_hash(demo, analysed):
    folder, _ = demo
    digest = hashlib.sha256((folder / "demo-recording.csv").read_bytes()).hexdigest()
    assert result_of(analysed[1])["recording"]["sha256"] == digest


def test_certificate_and_plot_are_whole(analysed):
    out, _ = analysed
    paper = (out / "paper.pdf").read_bytes()
    assert paper.startswith(b"%PDF-")
    assert paper.rstrip().endswith(b"%%EOF")
    assert ElementTree.fromstring((out / "pull.svg").read_text(encoding="utf-8")).tag.endswith("svg")
    assert sorted(path.name for path in out.iterdir()) == ["paper.pdf", "pull.svg"]


def test_several_sheets_give_one_line_each_in_order_and_the_gravest_exit_code(several):
    lines = [json.loads(line) for line in several.stdout.splitlines()]
    assert [line["outcome"] for line in lines] == ["not_lifted", "measured"]
    assert several.returncode == 3
    (told,) = several.stderr.splitlines()
    assert "JOB-001" in told
    assert "missing.toml" in told


def test_pulls_without_lift_have_a_bound_and_no_set_pressure_anywhere(several, not_lifted):
    result = json.loads(several.stdout.splitlines()[0])
    _, test = not_lifted
    assert result["reason"] == "not-lifted"
    assert result["mean"] is None
    assert {pull["set_pressure_pa"] for pull in result["pulls"]} == {None}
    assert result["as_found"]["set_pressure_pa"] is None
    for pull in result["pulls"]:
        assert 0.0 < pull["lower_bound_pa"] < test.truth.set_pressure_pa + pull["expanded_uncertainty_pa"]


def test_the_recording_is_looked_for_beside_the_sheet_and_the_exit_code_tells(run, small):
    sheet = small.with_name("as-left.toml")
    text = small.read_text(encoding="utf-8").replace('purpose = "as-found"', 'purpose = "as-left"')
    sheet.write_text(text, encoding="utf-8")
    done = run("analyse", sheet.name, "--json", cwd=sheet.parent)
    # one opening is too few for an as-left verdict, which needs three
    assert done.returncode == 1
    assert "too-few-openings" in [finding["code"] for finding in result_of(done)["findings"]]


@pytest.mark.parametrize(
    ("old", "new", "told"),
    [
        ('medium = "steam"', 'medum = "steam"', ("JOB-005", "line 15", "'medum'", "Did you mean 'medium'")),
        ('column = "line"', 'column = "lien"', ("REC-010", "'lien'", "Did you mean 'line'")),
        ('unit = "kN"', 'unit = "kNm"', ("UNI-001", "'kNm'")),
        ("demo-recording.csv", "gone.csv", ("REC-001", "gone.csv")),
        ("[valve]", "[valve", ("JOB-003",)),
    ],
)
def test_a_mistake_is_told_with_its_place_and_nothing_is_written(run, edited, tmp_path, old, new, told):
    sheet = edited(old, new)
    done = run("analyse", sheet, "--json", "--certificate", tmp_path / "paper.pdf", "--plot", tmp_path / "pull.svg")
    assert (done.returncode, done.stdout) == (3, "")
    assert [part for part in told if part not in done.stderr] == []
    assert "Traceback" not in done.stderr
    assert list(tmp_path.iterdir()) == []


def test_all_mistakes_of_a_sheet_are_told_at_once(run, edited):
    sheet = edited('medium = "steam"', 'medium = "stem"\nspeed = 1')
    done = run("analyse", sheet)
    assert done.returncode == 3
    assert sorted(line.split()[1] for line in done.stderr.splitlines()) == ["JOB-005", "JOB-008"]


def test_a_certificate_that_cannot_be_written_leaves_nothing_on_stdout(run, small, tmp_path):
    done = run("analyse", small, "--certificate", tmp_path / "no" / "paper.pdf")
    assert (done.returncode, done.stdout) == (3, "")
    assert "OUT-001" in done.stderr
    assert list(tmp_path.iterdir()) == []


def test_one_paper_for_several_sheets_is_wrong_use(run, small, tmp_path):
    done = run("analyse", small, small, "--certificate", tmp_path / "paper.pdf")
    assert (done.returncode, done.stdout) == (2, "")
    assert "USE-002" in done.stderr
    assert list(tmp_path.iterdir()) == []


def test_the_text_holds_on_a_terminal_without_unicode(run, small):
    done = run("analyse", small, PYTHONIOENCODING="ascii")
    assert (done.returncode, done.stderr) == (0, "")
    assert done.stdout.isascii()
    assert "Within the limits" in done.stdout
    assert "+/-" in done.stdout


@pytest.mark.skipif(os.name == "nt", reason="there is no closed pipe of this kind on Windows")
@pytest.mark.parametrize("unbuffered", ["", "1"])
def test_a_reader_that_goes_away_changes_neither_exit_code_nor_files(small, tmp_path, unbuffered):
    command = [sys.executable, "-m", "firstlift.cli.main", "analyse", str(small), "--plot", str(tmp_path / "pull.svg")]
    surroundings = {**os.environ, "PYTHONUNBUFFERED": unbuffered}
    with subprocess.Popen(command, env=surroundings, stdout=subprocess.PIPE, stderr=subprocess.PIPE) as process:
        process.stdout.close()
        told = process.stderr.read()
        assert (process.wait(timeout=300), told) == (0, b"")
    assert (tmp_path / "pull.svg").exists()


def test_a_certificate_and_its_findings_are_in_the_language_and_unit_asked_for(run, not_lifted, tmp_path):
    options = ("--certificate", tmp_path / "paper.pdf", "--unsigned", "--json")
    plain = json.loads(run("analyse", not_lifted[0], *options).stdout)
    done = run("analyse", not_lifted[0], *options, "--language", "de", "--pressure-unit", "kg/cm2")
    assert done.returncode in (0, 1), done.stderr
    said = json.loads(done.stdout)
    assert (tmp_path / "paper.pdf").read_bytes().startswith(b"%PDF")
    # only the words are others: every value is the same
    assert [{**f, "message": "", "advice": ""} for f in said["findings"]] == [
        {**f, "message": "", "advice": ""} for f in plain["findings"]
    ]
    assert "Das Ventil hob nicht ab" in " ".join(f["message"] for f in said["findings"])
    assert said["as_found"] == plain["as_found"]
    assert all(a["advice"] != b["advice"] for a, b in zip(said["findings"], plain["findings"], strict=True))


def test_a_language_or_unit_that_is_not_there_is_told(run, small):
    unknown = run("analyse", small, "--language", "xx")
    assert unknown.returncode == 3
    assert "WRD-002" in unknown.stderr
    assert "zh" in unknown.stderr
    unit = run("analyse", small, "--pressure-unit", "furlong")
    assert unit.returncode == 2
    assert "kg/cm2" in unit.stderr
