"""The command line as a user runs it: a process of its own, files on disk, exit code, stdout, stderr."""

import os
import shutil
import subprocess
import sys
from pathlib import Path

import numpy as np
import pytest

from firstlift.sim.conditions import CONDITIONS
from firstlift.sim.text import jobsheet_text, recording_csv

PROGRAM = shutil.which("firstlift", path=str(Path(sys.executable).parent))


@pytest.fixture(scope="session", name="run")
def fixture_run():
    """Give the function that runs the program."""
    return run


def run(*arguments, cwd=None, **environment):
    """Run the installed program; text in and out is UTF-8 unless the environment says otherwise."""
    assert PROGRAM, "the program is not installed beside this Python"
    surroundings = {**os.environ, "PYTHONIOENCODING": "utf-8", "COLUMNS": "120", **environment}
    return subprocess.run(
        [PROGRAM, *map(str, arguments)],
        cwd=cwd,
        env=surroundings,
        stdin=subprocess.DEVNULL,
        capture_output=True,
        encoding="utf-8",
        timeout=300,
        check=False,
    )


def write_case(folder, name, seed):
    """Write job sheet and recording of a simulated test; give the sheet and the test with its truth."""
    test = CONDITIONS[name](np.random.default_rng(seed))
    folder.mkdir()
    (folder / test.job.recording.file).write_text(recording_csv(test), encoding="utf-8")
    sheet = folder / "jobsheet.toml"
    sheet.write_text(jobsheet_text(test), encoding="utf-8")
    return sheet, test


@pytest.fixture(scope="session")
def demo(tmp_path_factory):
    """Run the demo once: its folder and the finished process."""
    folder = tmp_path_factory.mktemp("demo")
    return folder, run("demo", "--files", folder)


@pytest.fixture(scope="session")
def analysed(demo, tmp_path_factory):
    """Analyse the demo's job sheet once, with everything that can be asked for."""
    folder, _ = demo
    out = tmp_path_factory.mktemp("out")
    sheet = folder / "demo-jobsheet.toml"
    options = ("--json", "--certificate", out / "paper.pdf", "--plot", out / "pull.svg")
    return out, run("analyse", sheet, *options)


@pytest.fixture(scope="session")
def small(demo, tmp_path_factory):
    """A job sheet whose recording is the demo's first pull at a quarter of its rate: quick to analyse."""
    source, folder = demo[0], tmp_path_factory.mktemp("small")
    heading, *rows = (source / "demo-recording.csv").read_text(encoding="utf-8").splitlines()
    kept = [row for row in rows if float(row.split(",")[0]) < 16.0][::4]
    (folder / "demo-recording.csv").write_text("\n".join([heading, *kept, ""]), encoding="utf-8")
    sheet = folder / "demo-jobsheet.toml"
    sheet.write_bytes((source / "demo-jobsheet.toml").read_bytes())
    return sheet


@pytest.fixture(scope="session")
def not_lifted(tmp_path_factory):
    """A test whose pulls stop short of first lift."""
    return write_case(tmp_path_factory.mktemp("cases") / "short", "not-lifted", 2)


@pytest.fixture(scope="session")
def several(small, not_lifted, tmp_path_factory):
    """Three job sheets in one call: no lift, a sheet that is not there, and a good one."""
    return run("analyse", not_lifted[0], tmp_path_factory.mktemp("none") / "missing.toml", small, "--json")
