"""docs/errors.md lists every problem code and every finding of the source, and nothing else."""

import ast
import re
from pathlib import Path

from firstlift.words.sentences_en import SENTENCES

ROOT = Path(__file__).parents[2]
PAGE = (ROOT / "docs" / "errors.md").read_text(encoding="utf-8")
TREES = {p: ast.parse(p.read_text(encoding="utf-8")) for p in sorted((ROOT / "src").rglob("*.py"))}
PROBLEM = re.compile(r"\b(?!SHA)[A-Z]{3}-[0-9]{3}\b")
DOCUMENTED = (ast.Module, ast.ClassDef, ast.FunctionDef, ast.AsyncFunctionDef)


def rows(heading):
    """Give code and text of each row of the tables below a heading of the second level."""
    part = re.split(r"^## ", PAGE, flags=re.MULTILINE)
    (text,) = [p for p in part if p.startswith(heading)]
    return re.findall(r"^\| `([^`]+)` \| (.+) \|$", text, re.MULTILINE)


def codes_in(nodes):
    texts = [n.value for n in nodes if isinstance(n, ast.Constant) and isinstance(n.value, str)]
    return {code for text in texts for code in PROBLEM.findall(text)}


def docstrings(tree):
    """Give the nodes that hold a docstring: what stands there is said, not raised."""
    owners = [n for n in ast.walk(tree) if isinstance(n, DOCUMENTED) and ast.get_docstring(n) is not None]
    return [n.body[0].value for n in owners]


def problem_codes(tree):
    said = {id(node) for node in docstrings(tree)}
    return codes_in(node for node in ast.walk(tree) if id(node) not in said)


def called(node):
    return getattr(node.func, "id", getattr(node.func, "attr", ""))


def finding_codes(tree):
    """Give the codes written out where a Finding is made; one that comes by a name is not seen."""
    made = [n for n in ast.walk(tree) if isinstance(n, ast.Call) and called(n) == "Finding"]
    first = [n.args[0] if n.args else next(k.value for k in n.keywords if k.arg == "code") for n in made]
    return {n.value for n in first if isinstance(n, ast.Constant)}


def test_every_problem_code_is_listed_and_no_other():
    # the app's words for refusals repeat the codes that are raised elsewhere
    found = set().union(*(problem_codes(tree) for path, tree in TREES.items() if path.parent.name != "refusals"))
    assert sorted(code for code, _ in rows("Problems")) == sorted(found)


def test_docstrings_name_only_problems_that_exist():
    named = set().union(*(codes_in(docstrings(tree)) for tree in TREES.values()))
    assert named - {code for code, _ in rows("Problems")} == set()


def test_every_finding_is_listed_with_its_title_and_no_other():
    assert dict(rows("Findings")) == {code: sentence.title for code, sentence in SENTENCES.items()}


def test_every_finding_that_is_made_has_its_sentence():
    made = set().union(*map(finding_codes, TREES.values()))
    assert made, "no finding was seen: does the scan still fit the source?"
    assert made - SENTENCES.keys() == set()


def test_findings_that_nothing_looks_for_are_named_as_such():
    trees = [tree for path, tree in TREES.items() if path.parent.name != "words"]
    written = {n.value for tree in trees for n in ast.walk(tree) if isinstance(n, ast.Constant)}
    (said,) = re.findall(r"^Worded, but not looked for in this release: (.+?)\.$", PAGE, re.MULTILINE | re.DOTALL)
    assert sorted(re.findall(r"`([^`]+)`", said)) == sorted(SENTENCES.keys() - written)


def test_no_code_is_listed_twice():
    codes = [code for heading in ("Problems", "Findings") for code, _ in rows(heading)]
    assert len(codes) == len(set(codes))


def test_the_scan_sees_codes():
    text = "'XYZ-001 is raised'\nProblem('ABC-123', 'x')\nFinding('gap', s)\nerrors.Finding(code='trend')"
    tree = ast.parse(text)
    assert problem_codes(tree) == {"ABC-123"}
    assert codes_in(docstrings(tree)) == {"XYZ-001"}
    assert finding_codes(tree) == {"gap", "trend"}
