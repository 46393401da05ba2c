"""What is refused is said in the user's language, with the exact English detail below it."""

import ast
import re
from html import unescape

import pytest
from tests.docs.test_codes import ROOT, TREES, problem_codes, rows
from tests.web.test_languages import OTHERS
from tools import app_texts

from firstlift.core.errors import Problem
from firstlift.core.register.equipment import Installation
from firstlift.web.pages import plans, pocket
from firstlift.web.refusals import SAID, control, headline, in_the_app, of_form, told
from firstlift.words.place import written_in

NOBODY = "00000000-0000-4000-8000-000000000000"
# what the interface for other systems refuses keeps its one shape, in English
APART = ("firstlift.web.api", "firstlift.web.refusals")


def module(path):
    return ".".join(path.relative_to(ROOT / "src").with_suffix("").parts).removesuffix(".__init__")


MODULES = {module(path): tree for path, tree in TREES.items()}


def imported(tree):
    for node in ast.walk(tree):
        if isinstance(node, ast.Import):
            yield from (each.name for each in node.names)
        elif isinstance(node, ast.ImportFrom):
            yield from (f"{node.module}.{each.name}" for each in node.names)
            yield node.module


def reached(start):
    """Give every module that a module imports, at once or when it is needed, directly or through others."""
    found, to_do = set(), [start]
    while to_do:
        name = to_do.pop()
        if name in MODULES and name not in found and not name.startswith(APART):
            found.add(name)
            to_do += [*imported(MODULES[name]), name.rpartition(".")[0]]
    return found


def test_every_problem_that_the_app_can_show_has_its_words_and_no_other():
    app = reached("firstlift.web.app")
    assert {"firstlift.usecases.analyse", "firstlift.web.pages.pocket"} <= app
    assert not any(name.startswith(("firstlift.cli", "firstlift.sim")) for name in app)
    codes = set().union(*(problem_codes(MODULES[name]) for name in app))
    assert sorted(SAID) == sorted(code for code, _ in rows("Problems") if code in codes)


def test_the_words_are_sentences_without_figures_of_their_own():
    for code, (wrong, then) in SAID.items():
        assert re.fullmatch(r"[A-Z].+\.", wrong), code
        assert re.fullmatch(r"([A-Z].+\.)?", then), code
        assert "%(" not in wrong + then, code
    assert len({wrong for wrong, _ in SAID.values()}) > 0.95 * len(SAID)


@pytest.mark.parametrize("language", OTHERS)
def test_every_code_is_said_in_every_language(language):
    held = app_texts.catalogue(language)
    with written_in(language):
        for code, (wrong, then) in SAID.items():
            said = headline(code)
            assert said[0] not in ("", wrong), code
            assert bool(said[1]) == bool(then), code
            assert "%" not in "".join(said).replace("100 %", "").replace("150 %", ""), code
            assert app_texts.said(held.get(wrong)), code


def test_english_and_a_code_nobody_words_are_left_to_the_detail():
    assert headline("REG-010") == ("", "")
    with written_in("de"):
        assert headline("DEM-001") == ("", "")


def test_problems_of_one_code_are_told_under_one_sentence():
    problems = [Problem("JOB-005", "one"), Problem("JOB-005", "two"), Problem("JOB-006", "three")]
    with written_in("de"):
        said = told(problems)
    assert [(each.code, [p.what for p in each.problems]) for each in said] == [
        ("JOB-005", ["one", "two"]),
        ("JOB-006", ["three"]),
    ]
    assert len({each.headline for each in said}) == 2


OF_COMMAND_LINE = re.compile(r"(?<![\w-])--[a-z]|\bfirstlift [a-z]|\[sheet\.|\bmapping\b")
CODE = re.compile(r"[A-Z]{3}-[0-9]{3}")
# parts of a problem by their place, and by their name
PARTS = ("code", "what", "where", "needed", "next")


def problems_made(tree):
    """Give the parts of each problem that a module writes out, each part with the texts that stand in it."""
    for node in ast.walk(tree):
        if not isinstance(node, ast.Call):
            continue
        parts = [*node.args, *(each.value for each in node.keywords)]
        texts = [
            [n.value for n in ast.walk(p) if isinstance(n, ast.Constant) and isinstance(n.value, str)] for p in parts
        ]
        if texts and texts[0] and CODE.fullmatch(texts[0][0]) and len(node.args[:1]) == 1:
            names = [*PARTS[: len(node.args)], *(each.arg for each in node.keywords)]
            yield texts[0][0], dict(zip(names, texts, strict=False))


def test_where_the_way_out_is_the_command_lines_the_app_has_another():
    leaving = {
        code
        for name in reached("firstlift.web.app")
        for code, parts in problems_made(MODULES[name])
        for part, texts in parts.items()
        if part not in ("code", "what", "where") and any(OF_COMMAND_LINE.search(text) for text in texts)
    }
    assert {"IMP-007", "IMP-010", "IMP-011", "IMP-014", "IMP-016", "SEA-018", "SND-006", "PAP-003"} <= leaving
    assert [code for code in sorted(leaving) if code in SAID and not SAID[code][1]] == []
    for code in leaving & SAID.keys():
        assert not OF_COMMAND_LINE.search(" ".join(SAID[code])), code


def test_what_is_wrong_never_names_the_command_line():
    # a saved mapping is read, and a register opened, by the command line alone
    for name in reached("firstlift.web.app"):
        for code, parts in problems_made(MODULES[name]):
            if code not in ("IMP-009", "IMP-012"):
                assert not any(OF_COMMAND_LINE.search(text) for text in parts.get("what", ())), code


def test_an_option_is_left_out_and_the_way_out_is_the_apps():
    given = Problem("SEA-018", "no record", needed="a seat", next="Use 'firstlift register seat add'")
    assert in_the_app(given).next == SAID["SEA-018"][1].removesuffix(".")
    with written_in("de"):
        assert in_the_app(given).next == ""
        assert headline("SEA-018")[1]
    option = Problem("PLN-008", "not given", "--line", "a gauge pressure", "Say it")
    assert (in_the_app(option).where, in_the_app(option).next) == ("", "Say it")
    plain = Problem("REG-010", "no such valve", "here", "a valve", "Search it")
    assert in_the_app(plain) is plain


def test_a_forms_field_is_named_instead_of_an_option():
    given = [
        Problem("UNI-004", "x", "--line"),
        Problem("HAZ-008", "y", "--bore, --flow-area"),
        Problem("A", "z", "sheet"),
    ]
    named = of_form(given, {"--line": "Line pressure", "--bore": "least bore"})
    assert [each.where for each in named] == ["Line pressure", "least bore", "sheet"]
    with written_in("de"):
        assert control("Line pressure") == "Anlagendruck"
        assert control("register.toml, line 3") == "register.toml, line 3"
        assert control("") == ""


@pytest.mark.parametrize("labels", [pocket.LABELS, plans.PLAN_LABELS, plans.HAZARD_LABELS])
def test_labels_of_forms_are_texts_of_the_app(labels):
    for language in OTHERS:
        assert all(app_texts.said(app_texts.catalogue(language).get(label)) for label in labels.values())


def speak(browser, language):
    browser.post("/settings/look", {"language": language}, page="/settings")


def english_blocks(page):
    return re.findall(r'<(div|ul) lang="en" dir="ltr"(?: class="detail")?>(.*?)</\1>', page, re.DOTALL)


@pytest.mark.parametrize("language", ["de", "ar"])
@pytest.mark.parametrize(
    ("path", "code", "detail"),
    [
        (f"/valves/{NOBODY}", "REG-010", "The register has no"),
        ("/nowhere", "WEB-005", "There is no such page."),
        ("/pocket?line=8&pull=141+N&seat=30+mm&set=tight", "UNI-004", "'tight' is not"),
        ("/register?page=none", "WEB-009", "Something in the address or the form could not be read."),
    ],
)
def test_a_refusal_speaks_the_users_language_and_keeps_its_english_detail(ada, language, path, code, detail):
    speak(ada, language)
    answer = ada.get(path)
    assert answer.status_code in (404, 422)
    page = unescape(answer.text)
    with written_in(language):
        wrong, then = headline(code)
    assert f"<strong>{wrong}</strong>" in page
    assert then in page
    ((_, block),) = english_blocks(page)
    assert detail in block
    assert page.index(wrong) < page.index(detail)
    # outside its block nothing of the detail is left
    assert detail not in page.replace(block, "")


def test_in_english_the_detail_stands_alone(ada):
    page = unescape(ada.get(f"/valves/{NOBODY}").text)
    assert SAID["REG-010"][0] not in page
    assert page.count("The register has no valve") + page.count("The register has no registered valve") == 1
    assert "<dt>Code</dt><dd><code>REG-010</code>" in page


def test_a_sheet_that_cannot_be_read_is_told_in_the_language_too(ada):
    speak(ada, "fr")
    answer = ada.post("/import/sheets", page="/import", files=[("files", ("a.toml", b"no sheet"))])
    page = unescape(answer.text)
    with written_in("fr"):
        assert headline("JOB-003")[0] in page
    assert [tag for tag, block in english_blocks(page) if "JOB-003" in block] == ["ul"]


def test_who_cannot_sign_in_is_told_in_the_browsers_language(shared):
    wanted = {"accept-language": "pl"}
    form = {"name": "Nobody at all", "password": "not the right one"}
    pages = []
    for _ in range(30):
        token = re.search(r'name="csrf" value="([^"]*)"', shared.get("/sign-in", headers=wanted).text)
        answer = shared.client.post("/sign-in", data={**form, "csrf": token.group(1) if token else ""}, headers=wanted)
        pages.append(answer)
        if answer.status_code == 429:
            break
    assert pages[-1].status_code == 429
    with written_in("pl"):
        assert headline("WEB-002")[0] in unescape(pages[-1].text)
    ((_, block),) = english_blocks(unescape(pages[-1].text))
    assert "too many tries" in block.lower()


def test_a_script_is_told_in_the_language_beside_the_detail(ada):
    speak(ada, "nl")
    (told_there,) = ada.get(f"/traces/{NOBODY}/about").json()["problems"]
    with written_in("nl"):
        assert told_there["said"] == " ".join(headline("REG-010"))
    assert told_there["what"].startswith("the register has no")


@pytest.mark.parametrize(
    ("query", "label"),
    [
        ("line=tight&pull=141+N&seat=30+mm&set=10+bar", "Line pressure"),
        ("line=8+bar&pull=tight&seat=30+mm&set=10+bar", "Pull"),
        ("line=8+bar&pull=141+N&seat=tight&set=10+bar", "Mean seat diameter"),
        ("line=8+bar&pull=141+N&seat=30+mm&set=tight", "Stamped set pressure"),
        ("line=8+bar&pull=141+N&seat=30+mm&set=10+bar&u_seat=tight", "uncertainty of the diameter"),
        ("line=8+bar&pull=141+N&seat=30+mm&set=10+bar&code=none", "Judged by"),
    ],
)
def test_the_pocket_names_its_own_field_in_the_users_language(ada, query, label):
    speak(ada, "de")
    page = unescape(ada.get(f"/pocket?{query}").text)
    with written_in("de"):
        assert f'lang="de">{control(label)}</bdi>' in page
    assert not OF_COMMAND_LINE.search(re.sub(r"<(script|style)\b.*?</\1>", "", page, flags=re.DOTALL))


@pytest.mark.parametrize(
    ("path", "label"),
    [
        ("plan?line=tight", "Line pressure at the pull"),
        ("plan?line=8+bar&frame=tight", "The frame bears"),
        ("hazard?bore=tight", "least bore"),
        ("hazard?bore=J", "least bore"),
        ("hazard?bore=28&molar_mass=tight", "molar mass, g/mol"),
        ("hazard?bore=28&vapour_pressure=tight", "vapour pressure, gauge"),
    ],
)
def test_plan_and_hazard_sheet_name_their_own_fields(ada, store, path, label):
    speak(ada, "de")
    with store.read() as reader:
        hung = next(one for one in reader.list(Installation, until=None))
    page = unescape(ada.get(f"/valves/{hung.valve_id}/{path}").text)
    with written_in("de"):
        assert f'lang="de">{control(label)}</bdi>' in page
    assert not OF_COMMAND_LINE.search(re.sub(r"<(script|style)\b.*?</\1>", "", page, flags=re.DOTALL))
