"""Whatever a user hands over: one clear message on stderr, nothing on stdout, no traceback, no file half-written."""

import json
import re
from dataclasses import replace

import numpy as np
import pyarrow as pa
import pyarrow.parquet as pq
import pytest

from firstlift.cli.main import main
from firstlift.sim.recipe import cook, draw_recipe
from firstlift.sim.text import jobsheet_text, recording_csv

MESSAGE = re.compile(r"firstlift: (?:\S+\.toml: )?[A-Z]{3}-\d{3} .+\.")


@pytest.fixture(scope="module")
def plain():
    """Job sheet and recording of a short simulated test, as texts."""
    rng = np.random.default_rng(3)
    recipe = replace(draw_recipe(rng), pulls=1, rise_s=1.5, lead_s=2.5, rest_s=2.5)
    recipe = replace(recipe, instruments=replace(recipe.instruments, rate_hz=200.0))
    test = cook(recipe, rng, "short")
    return jobsheet_text(test), recording_csv(test), test.columns


@pytest.fixture
def case(plain, tmp_path):
    """Write the case, changed at wish; give the sheet."""

    def write(change=lambda text: text, recording=None, name="jobsheet.toml"):
        sheet, csv, _ = plain
        changed = change(sheet)
        path = tmp_path / name
        path.write_bytes(changed if isinstance(changed, bytes) else changed.encode())
        (tmp_path / "recording.csv").write_bytes(csv.encode() if recording is None else recording)
        return path

    return write


def refused(capsys, arguments, *told, code=3, count=1):
    assert main([str(part) for part in arguments]) == code
    out, err = capsys.readouterr()
    assert out == ""
    assert "Traceback" not in err
    lines = err.splitlines()
    assert len(lines) == count, err
    assert all(MESSAGE.fullmatch(line) for line in lines), err
    assert [part for part in told if part not in err] == []


def swap(old, new):
    def change(text):
        assert old in text
        return text.replace(old, new, 1)

    return change


def line_with(text, start):
    return next(line for line in text.splitlines() if line.startswith(start))


SHEETS = {
    "empty sheet": (lambda text: "", ("JOB-", "jobsheet.toml")),
    "binary rubbish": (lambda text: bytes(range(256)) * 4, ("JOB-", "jobsheet.toml")),
    "wrong encoding": (lambda text: text.replace("field team 2", "équipe n° 2").encode("latin-1"), ("JOB-", "UTF-8")),
    "typing error in a key": (swap("set_pressure", "set_presure"), ("set_presure", "set_pressure", "line ")),
    "unit of the wrong kind": (swap('unit = "kN"', 'unit = "bar"'), ("UNI-002", "'bar'", "force")),
    "a code that does not exist": (swap("iso-4126-1", "iso-4126-7"), ("iso-4126-7", "iso-4126-1")),
    "missing column": (swap('column = "line"', 'column = "gauge"'), ("REC-010", "'gauge'", "recording.csv")),
    "missing file": (swap("recording.csv", "gone.csv"), ("REC-001", "gone.csv")),
    "negative seat": (
        lambda text: text.replace(line_with(text, "mean_diameter"), 'mean_diameter = "-30 mm"'),
        ("'-30 mm'", "mean_diameter"),
    ),
    "two time bases": (
        swap('time = "time_s"', 'time = "time_s"\nsample_rate = "200 Hz"'),
        ("[recording]", "sample_rate", "exactly one"),
    ),
    "no sign of lift": (
        lambda text: re.sub(r'\[\[channel\]\]\ncolumn = "(lift|acoustic)"\n(?:.+\n)+', "", text),
        ("JOB-", "spindle_lift", "acoustic"),
    ),
}


@pytest.mark.parametrize("options", [("--json",), ("--certificate",)])
@pytest.mark.parametrize("name", sorted(SHEETS))
def test_a_bad_sheet(capsys, case, tmp_path, name, options):
    change, told = SHEETS[name]
    sheet = case(change)
    before = sorted(tmp_path.iterdir())
    paper = [tmp_path / "paper.pdf"] if "--certificate" in options else []
    count = 2 if name == "typing error in a key" else 1
    # a mistyped key is unknown, and the key it was meant to be is missing
    refused(capsys, ["analyse", sheet, *options, *paper], *told, count=count)
    assert sorted(tmp_path.iterdir()) == before


RECORDINGS = {
    "empty file": (b"", "recording.csv"),
    "binary rubbish": (bytes(np.random.default_rng(1).integers(0, 256, 4096, dtype=np.uint8)), "recording.csv"),
    "a header alone": (b"time_s,cell 1,line,lift,acoustic\n", "recording.csv"),
    "a web page": (b"<!doctype html><html><body>Please log in</body></html>", "recording.csv"),
}


@pytest.mark.parametrize("name", sorted(RECORDINGS))
def test_a_bad_recording(capsys, case, tmp_path, name):
    data, told = RECORDINGS[name]
    sheet = case(recording=data)
    refused(capsys, ["analyse", sheet, "--json", "--plot", tmp_path / "pull.svg"], told)
    assert not (tmp_path / "pull.svg").exists()


@pytest.mark.parametrize("cut", [1, 50, 2000])
def test_a_torn_parquet_file(capsys, case, tmp_path, plain, cut):
    columns = plain[2]
    clock = next(iter(columns.values()))[0]
    table = pa.table({"time_s": clock, **{name: values for name, (_, values) in columns.items()}})
    pq.write_table(table, tmp_path / "recording.parquet")
    whole = (tmp_path / "recording.parquet").read_bytes()
    (tmp_path / "recording.parquet").write_bytes(whole[:-cut])
    sheet = case(swap("recording.csv", "recording.parquet"))
    refused(capsys, ["analyse", sheet], "recording.parquet")


def test_nan_everywhere_is_a_result_that_says_so(capsys, case, plain):
    header, *rows = plain[1].splitlines()
    empty = "," * header.count(",")
    nan = "\n".join([header, *(row.split(",")[0] + empty for row in rows)]) + "\n"
    assert main(["analyse", str(case(recording=nan.encode())), "--json"]) == 1
    out, err = capsys.readouterr()
    result = json.loads(out)
    assert (result["outcome"], result["reason"], err) == ("unusable", "no-usable-force", "")
    assert result["pulls"] == []


def test_nan_everywhere_in_words(capsys, case, plain):
    header, *rows = plain[1].splitlines()
    nan = "\n".join([header, *(row.split(",")[0] + ",nan" * header.count(",") for row in rows)]) + "\n"
    assert main(["analyse", str(case(recording=nan.encode()))]) == 1
    out, err = capsys.readouterr()
    assert "set pressure  none" in out
    assert "verdict       none" in out
    assert err == ""


def test_a_certificate_into_a_missing_folder(capsys, case, tmp_path):
    refused(capsys, ["analyse", case(), "--certificate", tmp_path / "no" / "paper.pdf"], "OUT-001", "paper.pdf")
    assert sorted(path.name for path in tmp_path.iterdir()) == ["jobsheet.toml", "recording.csv"]


def test_a_certificate_over_a_folder(capsys, case, tmp_path):
    (tmp_path / "taken").mkdir()
    sheet = case()
    refused(capsys, ["analyse", sheet, "--certificate", tmp_path / "taken"], "OUT-001")
    assert sorted(path.name for path in tmp_path.iterdir()) == ["jobsheet.toml", "recording.csv", "taken"]


def test_an_old_certificate_stays_whole_when_the_sheet_is_bad(capsys, case, tmp_path):
    paper = tmp_path / "paper.pdf"
    paper.write_bytes(b"old")
    refused(capsys, ["analyse", case(swap("iso-4126-1", "iso-9")), "--certificate", paper], "iso-9")
    assert paper.read_bytes() == b"old"


@pytest.mark.parametrize("sheet", [".", "no-such.toml"])
def test_a_sheet_that_is_no_file(capsys, tmp_path, sheet):
    refused(capsys, ["analyse", tmp_path / sheet], "JOB-")


def test_of_several_sheets_a_bad_one_is_told_and_the_others_are_analysed(capsys, case):
    good = case()
    bad = case(swap("iso-4126-1", "iso-4126-7"), name="bad.toml")
    assert main(["analyse", str(good), str(bad), str(good), "--json"]) == 3
    out, err = capsys.readouterr()
    assert [json.loads(line)["outcome"] for line in out.splitlines()] == ["measured", "measured"]
    (told,) = err.splitlines()
    assert "bad.toml" in told
    assert "iso-4126-7" in told


def test_several_good_sheets_are_one_object_a_line(capsys, case):
    sheet = str(case())
    assert main(["analyse", sheet, sheet, "--json"]) == 0
    out, err = capsys.readouterr()
    first, second = out.splitlines()
    assert first == second
    assert json.loads(first)["format"] == "firstlift-result-1"
    assert err == ""


def test_an_error_nobody_foresaw_is_said_plainly(capsys, case, monkeypatch):
    def fail(_sheet):
        message = "out of cheese"
        raise RuntimeError(message)

    monkeypatch.setattr("firstlift.cli.analyse.analyse_jobsheet", fail)
    refused(capsys, ["analyse", case()], "USE-001", "out of cheese", "FIRSTLIFT_TRACEBACK")
    monkeypatch.setenv("FIRSTLIFT_TRACEBACK", "1")
    assert main(["analyse", str(case())]) == 3
    assert "Traceback" in capsys.readouterr().err
