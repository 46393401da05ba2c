"""What the linter cannot see: no outside world in core and sim, sizes, and docstrings that say enough.

Old offenders are listed by name; the lists may only shrink: a name that offends no longer must go.
"""

import ast
import inspect
import re
from pathlib import Path

import pytest

SOURCE = Path(__file__).parents[2] / "src" / "firstlift"
FILES = sorted(SOURCE.rglob("*.py"))
PURE = [path for path in FILES if path.relative_to(SOURCE).parts[0] in ("core", "sim")]
CORE = [path for path in FILES if path.relative_to(SOURCE).parts[0] == "core"]

OUTSIDE_WORLD = {"open", "print", "input", "eval", "exec", "compile", "__import__", "breakpoint"}
OUTSIDE_METHODS = {"read_text", "write_text", "read_bytes", "write_bytes", "now", "utcnow", "today", "default_rng"}
MOST_LINES_OF_FILE = 400
MOST_LINES_OF_FUNCTION = 60

LONG_FILES = {"core/result.py"}
LONG_FUNCTIONS = {"core/units.py:_table"}
THIN_DOCSTRINGS: set[str] = set()


def name_of(path):
    return path.relative_to(SOURCE).as_posix()


def tree_of(path):
    return ast.parse(path.read_text(encoding="utf-8"))


def functions_of(tree, prefix=""):
    """Give every function with its dotted name, methods and inner ones too."""
    for node in ast.iter_child_nodes(tree):
        if isinstance(node, (ast.FunctionDef, ast.AsyncFunctionDef)):
            yield f"{prefix}{node.name}", node
            yield from functions_of(node, f"{prefix}{node.name}.")
        elif isinstance(node, ast.ClassDef):
            yield from functions_of(node, f"{prefix}{node.name}.")


def calls_outside(tree):
    for node in ast.walk(tree):
        if isinstance(node, ast.Call):
            called = node.func
            if isinstance(called, ast.Name) and called.id in OUTSIDE_WORLD:
                yield f"{called.id} in line {node.lineno}"
            elif isinstance(called, ast.Attribute) and called.attr in OUTSIDE_METHODS:
                yield f".{called.attr} in line {node.lineno}"


def code_lines(node):
    """Count a function's lines without its docstring."""
    total = node.end_lineno - node.lineno + 1
    first = node.body[0]
    if ast.get_docstring(node) is not None:
        total -= first.end_lineno - first.lineno + 1
    return total


def section(docstring, title):
    return re.search(rf"^{title}\n-{{{len(title)}}}$", docstring, re.MULTILINE) is not None


def raises_itself(node):
    return any(isinstance(inner, ast.Raise) for inner in ast.walk(node))


def gives_something(node):
    given = node.returns
    return given is not None and not (isinstance(given, ast.Constant) and given.value is None)


def missing_sections(node):
    docstring = inspect.cleandoc(ast.get_docstring(node) or "")
    arguments = [a.arg for a in (*node.args.posonlyargs, *node.args.args, *node.args.kwonlyargs)]
    wanted = []
    if [name for name in arguments if name not in ("self", "cls")]:
        wanted.append("Parameters")
    if gives_something(node):
        wanted.append("Returns")
    if raises_itself(node):
        wanted.append("Raises")
    return [title for title in wanted if not section(docstring, title)]


def public_functions(path):
    """Give module-level functions; a method of few words may do with one line, a function may not."""
    for node in tree_of(path).body:
        if isinstance(node, ast.FunctionDef) and not node.name.startswith("_"):
            yield node


@pytest.mark.parametrize("path", PURE, ids=name_of)
def test_core_and_sim_never_touch_the_outside_world(path):
    assert list(calls_outside(tree_of(path))) == []


@pytest.mark.parametrize(
    "text", ["open('x')", "print(1)", "p.read_text()", "dt.datetime.now()", "np.random.default_rng()"]
)
def test_a_touch_of_the_outside_world_is_seen(text):
    assert len(list(calls_outside(ast.parse(text)))) == 1


def test_files_are_short():
    long = {name_of(path) for path in FILES if len(path.read_text(encoding="utf-8").splitlines()) > MOST_LINES_OF_FILE}
    assert long == LONG_FILES


def test_functions_are_short():
    long = {
        f"{name_of(path)}:{name}"
        for path in FILES
        for name, node in functions_of(tree_of(path))
        if code_lines(node) > MOST_LINES_OF_FUNCTION
    }
    assert long == LONG_FUNCTIONS


def test_public_core_functions_say_what_they_take_give_and_refuse():
    thin = {
        f"{name_of(path)}:{node.name}: {', '.join(missing)}"
        for path in CORE
        for node in public_functions(path)
        if (missing := missing_sections(node))
    }
    assert thin == THIN_DOCSTRINGS


def test_a_thin_docstring_is_seen():
    bare = ast.parse('def f(x: int) -> int:\n    """Give x."""\n    raise ValueError').body[0]
    assert missing_sections(bare) == ["Parameters", "Returns", "Raises"]
