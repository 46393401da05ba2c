"""What every command line owes its user: help, version, refusals, and a quick start."""

import subprocess
import sys

import pytest

from firstlift import __version__

HEAVY = ("numpy", "scipy", "pyarrow", "nptdms", "typst", "json")


def test_version(run):
    done = run("--version")
    assert (done.returncode, done.stdout, done.stderr) == (0, f"firstlift {__version__}\n", "")


def test_help_names_every_command_and_exit_code(run):
    done = run("--help")
    assert done.returncode == 0
    assert [word for word in ("analyse", "quick", "demo", "exit codes", "permit") if word not in done.stdout] == []


@pytest.mark.parametrize("command", ["analyse", "quick", "demo"])
def test_every_command_has_help(run, command):
    done = run(command, "--help")
    assert (done.returncode, done.stderr) == (0, "")
    assert f"usage: firstlift {command}" in done.stdout


@pytest.mark.parametrize(
    ("arguments", "told"),
    [
        ((), "COMMAND"),
        (("analyze",), "analyze"),
        (("analyse",), "JOBSHEET"),
        (("analyse", "sheet.toml", "--jsn"), "--jsn"),
        (("quick", "--line", "8 bar"), "--pull"),
    ],
)
def test_wrong_use_is_told_with_exit_code_2(run, arguments, told):
    done = run(*arguments)
    assert (done.returncode, done.stdout) == (2, "")
    assert told in done.stderr
    assert "Traceback" not in done.stderr


@pytest.mark.parametrize("option", ["--help", "--version"])
def test_help_and_version_import_nothing_heavy(option):
    """Start-up is quick because of what is left out: told by the imports, not by the clock."""
    command = [sys.executable, "-X", "importtime", "-m", "firstlift.cli.main", option]
    done = subprocess.run(command, capture_output=True, text=True, timeout=60, check=True)
    imported = {line.rpartition("|")[2].strip().partition(".")[0] for line in done.stderr.splitlines()}
    assert "firstlift" in imported
    assert imported & set(HEAVY) == set()
