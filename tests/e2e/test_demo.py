"""``firstlift demo`` and what the README says of it."""

import datetime as dt
import re
import shlex
import shutil
import signal
import subprocess
import sys
import urllib.request
from pathlib import Path

import pytest

from firstlift.demo.register.build import fill_demo_register

README = (Path(__file__).parents[2] / "README.md").read_text(encoding="utf-8")
PROGRAM = shutil.which("firstlift", path=str(Path(sys.executable).parent))
FILES = ["demo-certificate.pdf", "demo-jobsheet.toml", "demo-pull.svg", "demo-recording.csv"]


def test_the_demo_writes_its_files_and_says_that_they_are_invented(demo):
    folder, done = demo
    assert (done.returncode, done.stderr) == (0, "")
    assert done.stdout.startswith("Invented data")
    assert sorted(path.name for path in folder.iterdir()) == FILES
    assert [name for name in FILES if str(folder / name) not in done.stdout] == []


def unsigned(path):
    """Give a file's bytes; of the certificate, which is signed after it is made, those before its signature."""
    data = path.read_bytes()
    return data[: data.index(b"%%EOF") + 5] if path.suffix == ".pdf" else data


def test_again_on_a_terminal_without_unicode_the_files_are_the_same_to_the_byte(run, demo, tmp_path):
    folder, _ = demo
    done = run("demo", "--files", tmp_path, PYTHONIOENCODING="ascii")
    assert (done.returncode, done.stderr) == (0, "")
    assert done.stdout.isascii()
    assert [name for name in FILES if unsigned(tmp_path / name) != unsigned(folder / name)] == []


def test_a_folder_that_is_a_file_is_told(run, tmp_path):
    (tmp_path / "taken").write_text("x", encoding="utf-8")
    done = run("demo", "--files", tmp_path / "taken")
    assert (done.returncode, done.stdout) == (3, "")
    assert "DEM-001" in done.stderr


def test_a_seed_below_zero_is_wrong_use(run, tmp_path):
    done = run("demo", "--files", tmp_path, "--seed", "-1")
    assert (done.returncode, done.stdout) == (2, "")
    assert "--seed" in done.stderr


def lines_of(text):
    """Give a summary's lines with every number masked; plots are left out: other machines round other blocks."""
    words = [line.rstrip() for line in text.splitlines() if not re.search(r"[▁▂▃▄▅▆▇█│↑]", line)]
    return [re.sub(r"\d+(\.\d+)?", "#", line) for line in words if line]


def test_the_readme_shows_what_is_printed(demo):
    (shown,) = re.findall(r"^```text\n\$ firstlift analyse \S+\n(.*?)^```", README, re.MULTILINE | re.DOTALL)
    _, done = demo
    printed = lines_of(done.stdout)
    first = printed.index(lines_of(shown)[0])
    assert printed[first : first + len(lines_of(shown))] == lines_of(shown)


@pytest.mark.parametrize("command", re.findall(r"^firstlift (quick .+)$", README, re.MULTILINE))
def test_the_readmes_pocket_calculation_runs(run, command):
    assert run(*shlex.split(command)).returncode == 0


def test_the_readmes_two_commands_are_whole():
    commands = re.findall(r"^python3 -m venv .+$", README, re.MULTILINE)
    assert len(commands) == 2
    assert commands[0].endswith("install . && .venv/bin/firstlift demo")
    assert commands[1].endswith("install '.[dev]' && .venv/bin/python -m pytest")


def test_the_demo_opens_the_app_on_the_invented_register_and_says_where(tmp_path):
    fill_demo_register(tmp_path / "kept", today=dt.date(2026, 11, 25), size=0.02).close()
    command = [PROGRAM, "demo", str(tmp_path / "kept"), "--no-browser", "--port", "0"]
    app = subprocess.Popen(command, stdout=subprocess.PIPE, stderr=subprocess.DEVNULL, text=True)
    try:
        said = [app.stdout.readline() for _ in range(4)]
        (address,) = re.findall(r"^Firstlift is at (http://127\.0\.0\.1:\d+/)$", "".join(said), re.MULTILINE)
        with urllib.request.urlopen(address, timeout=20) as page:
            text = page.read().decode()
    finally:
        app.send_signal(signal.SIGINT)
        app.wait(20)
        app.stdout.close()
    assert "Who is working?" in text
    assert "Invented data" in text


def test_an_app_for_others_without_sign_ins_is_refused(run, tmp_path):
    fill_demo_register(tmp_path / "kept", today=dt.date(2026, 11, 25), size=0.02).close()
    done = run("serve", "--store", tmp_path / "kept", "--host", "0.0.0.0", "--no-browser")
    assert (done.returncode, done.stdout) == (2, "")
    assert "WEB-007" in done.stderr


def test_a_sign_in_is_given_from_the_command_line(run, tmp_path):
    fill_demo_register(tmp_path / "kept", today=dt.date(2026, 11, 25), size=0.02).close()
    (tmp_path / "word").write_text("copper lantern drifts 7\n", encoding="utf-8")
    given = ("--give-sign-in", "Hob Driftwood", "--role", "office", "--password-file", tmp_path / "word")
    done = run("serve", "--store", tmp_path / "kept", *given)
    assert (done.returncode, done.stdout) == (0, "Hob Driftwood signs in as office\n")
    (tmp_path / "word").write_text("short\n", encoding="utf-8")
    assert "WEB-006" in run("serve", "--store", tmp_path / "kept", *given).stderr
