"""The locks fit pyproject.toml, are pinned by hash, and hold no address."""

import re
import tomllib
from pathlib import Path

import pytest
from packaging.requirements import Requirement
from packaging.utils import canonicalize_name

ROOT = Path(__file__).parents[2]
PROJECT = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))["project"]
LOCKS = {
    "requirements.lock": PROJECT["dependencies"],
    "requirements-dev.lock": PROJECT["dependencies"] + PROJECT["optional-dependencies"]["dev"],
}


def read(name):
    return (ROOT / name).read_text(encoding="utf-8")


def entries(text):
    """Give each pinned requirement with its hashes; a backslash carries a line on."""
    lines = [line for line in text.replace("\\\n", " ").splitlines() if line.strip() and not line.startswith("#")]
    return [(Requirement(line.split(" --hash")[0]), re.findall(r"--hash=sha256:[0-9a-f]{64}", line)) for line in lines]


def versions(text):
    pins = {}
    for requirement, _ in entries(text):
        (pin,) = requirement.specifier
        pins.setdefault(canonicalize_name(requirement.name), set()).add((pin.operator, pin.version))
    return pins


@pytest.mark.parametrize("name", LOCKS)
def test_every_line_is_pinned_by_hash(name):
    assert [str(requirement) for requirement, hashes in entries(read(name)) if not hashes] == []
    assert {operator for pins in versions(read(name)).values() for operator, _ in pins} == {"=="}


@pytest.mark.parametrize("name", LOCKS)
def test_every_dependency_is_locked_within_its_range(name):
    pins = versions(read(name))
    for dependency in map(Requirement, LOCKS[name]):
        locked = pins[canonicalize_name(dependency.name)]
        assert all(version in dependency.specifier for _, version in locked), dependency


def test_both_locks_agree():
    dev = versions(read("requirements-dev.lock"))
    assert {name: dev.get(name) for name in versions(read("requirements.lock"))} == versions(read("requirements.lock"))


@pytest.mark.parametrize("name", LOCKS)
def test_no_address_is_in_a_lock(name):
    assert re.findall(r"https?://|file:|--index-url|--extra-index-url|--find-links", read(name)) == []


def test_the_reader_sees_a_line_without_hash():
    assert entries("a==1 \\\n    --hash=sha256:" + "0" * 64 + "\nb==2\n")[1][1] == []
