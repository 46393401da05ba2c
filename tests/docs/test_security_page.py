"""docs/security.md: every test that it names is there, every item has one or says why not."""

import ast
import re
from pathlib import Path

from firstlift.web.passwords import LONGEST, SHORTEST
from firstlift.web.roles import Role
from firstlift.web.tokens import Scope

ROOT = Path(__file__).parents[2]
PAGE = (ROOT / "docs" / "security.md").read_text(encoding="utf-8")
APP = (ROOT / "docs" / "app.md").read_text(encoding="utf-8")
ROWS = re.findall(r"^\| (\d[\d., ()a-z]+) \| (.+?) \| (.+?) \| (.*?) ?\|$", PAGE, re.MULTILINE)
NAMED = re.findall(r"`(tests/[\w/]+\.py)::(\w+)`", PAGE)
WITHOUT = {"6.3.2", "5.4.3", "8.4.1", "16.4.3"}


def functions_of(path):
    return {node.name for node in ast.parse(path.read_text(encoding="utf-8")).body if isinstance(node, ast.FunctionDef)}


def test_every_test_that_is_named_is_there():
    assert len(NAMED) > 60
    missing = [f"{file}::{name}" for file, name in NAMED if name not in functions_of(ROOT / file)]
    assert missing == []


def test_every_item_names_its_test_or_says_that_it_is_not_met():
    assert len(ROWS) > 50
    assert {item for item, _, _, tests in ROWS if not tests} == WITHOUT
    for item, _, standing, tests in ROWS:
        assert standing.startswith(("met", "**not met**", "does not apply")), item
        assert not tests or "::test_" in tests, item


def test_every_role_and_scope_is_in_the_documents():
    for role in Role:
        assert f"| {role} |" in APP
    for scope in Scope:
        assert f"`{scope}`" in PAGE
        assert f"`{scope}`" in APP


def test_the_lengths_of_a_password_are_as_they_are_asked():
    for page in (PAGE, APP):
        assert f"{SHORTEST} to {LONGEST} characters" in page


def test_no_page_that_is_only_looked_at_writes_to_the_register():
    writes = []
    for path in sorted((ROOT / "src" / "firstlift" / "web" / "pages").glob("*.py")):
        for node in ast.parse(path.read_text(encoding="utf-8")).body:
            if not isinstance(node, ast.FunctionDef):
                continue
            routes = [ast.unparse(each) for each in node.decorator_list]
            if any(route.startswith("router.get(") for route in routes):
                text = ast.unparse(node)
                writes += [f"{path.name}:{node.name}"] if re.search(r"store\.work\(|\.note\(", text) else []
    assert writes == []


# these change nothing of the register: why stands on the page
NO_CHANGE = {"keep_draft", "drop_draft", "stop_import", "bring_recording", "bring_spreadsheet", "verify"}
# `put_in` writes what is to be sent into the chain, under the person that it is given
IN_THE_CHAIN = re.compile(r"\bnote\(|\.work\(|\bput_in\(|\bhere\.who\b|\bhere\.person\.id\b")


def written_by(functions, name):
    """Give the source of a function with that of all of its own file that it names."""
    seen, left, text = set(), [name], ""
    while left:
        name = left.pop()
        if name in functions and name not in seen:
            seen.add(name)
            text += ast.unparse(functions[name])
            left += [node.id for node in ast.walk(functions[name]) if isinstance(node, ast.Name)]
    return text


def test_every_unsafe_page_lands_in_the_chain_or_changes_nothing():
    unsafe = {}
    for path in sorted((ROOT / "src" / "firstlift" / "web" / "pages").glob("*.py")):
        nodes = ast.parse(path.read_text(encoding="utf-8")).body
        functions = {n.name: n for n in nodes if isinstance(n, (ast.FunctionDef, ast.AsyncFunctionDef))}
        for name, node in functions.items():
            if any(ast.unparse(each).startswith("router.post(") for each in node.decorator_list):
                unsafe[name] = written_by(functions, name)
    assert len(unsafe) > 20
    assert unsafe.keys() >= NO_CHANGE
    silent = {name for name, text in unsafe.items() if not IN_THE_CHAIN.search(text)}
    assert silent - NO_CHANGE == set()
