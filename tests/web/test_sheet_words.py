"""Why a row or a cell of a spreadsheet is not taken: a closed set, in English at the command line, here in nine."""

import ast
import functools
import re
from html import unescape
from string import Formatter

import pytest
from tests.docs.test_codes import ROOT, TREES
from tests.web.test_languages import OTHERS, foreign_marks
from tests.web.test_refusals import speak
from tests.web.test_spreadsheet import bring, empty, take  # noqa: F401  a fixture
from tools import app_texts

from firstlift.formats.sheets.fields import FieldKind, Takes, choices_of, fields_of
from firstlift.formats.sheets.mapping import Mapping
from firstlift.formats.sheets.reason import Why, because
from firstlift.formats.sheets.reason_en import WORDS
from firstlift.usecases.import_sheet import preview_sheet
from firstlift.web.field_names import NAMES, choice_name, field_name
from firstlift.web.sheet_said import SheetSaid
from firstlift.web.sheet_words import SAID, SAID_OF, sheet_says
from firstlift.words.place import written_in

FIELDS = {field.key: field for takes in Takes for field in fields_of(takes).values()}
OF_COMMAND_LINE = re.compile(r"--[a-z]|\[sheet|mapping")
SHEETS = ROOT / "src" / "firstlift" / "formats" / "sheets"
WORDED = {SHEETS / "reason.py", SHEETS / "reason_en.py", ROOT / "src" / "firstlift" / "web" / "sheet_words.py"}
# what fills the words that the control of the screen and the day of an example come from
FILLED_HERE = {"control", "day"}
# one value for each name, as the source gives them
VALUES = {
    "found": 900, "most": 200, "kind": "pressure", "field": "tag", "choices": "gas, steam, liquid",
    "habit": "day-first", "first": 1940, "last": 2200, "mark": "comma", "unit": "bara", "own": "psi", "headed": "bar",
    "least": "0 Pa", "row": 7, "sheet": "Valves", "heading": "Due", "site": "North quay",
}  # fmt: skip


@functools.cache
def made():
    """Give each reason that the source makes, with the names of its values."""
    found = {}
    for path, tree in TREES.items():
        if path in WORDED:
            continue
        for node in ast.walk(tree):
            if isinstance(node, ast.Call) and node.args and (why := named(node.args[0])):
                found.setdefault(why, set()).add(frozenset(each.arg for each in node.keywords))
            elif why := named(node):
                found.setdefault(why, set())
    return found


def named(node):
    known = isinstance(node, ast.Attribute) and isinstance(node.value, ast.Name) and node.value.id == "Why"
    return Why[node.attr] if known else None


def texts_of(why):
    """Give every text that the app has for a reason."""
    return [text for text in (SAID.get(why), *(text for (one, _), text in SAID_OF.items() if one is why)) if text]


def fills(text):
    return set(re.findall(r"%\((\w+)\)s", text))


def test_every_reason_is_made_by_the_source_and_no_other():
    assert set(made()) == set(Why)


@pytest.mark.parametrize("why", Why)
def test_every_reason_has_its_words_at_the_command_line_and_in_the_app(why):
    assert WORDS[why]
    texts = texts_of(why)
    assert texts
    given = [names for names in made()[why] if None not in names and names]
    wanted = {name for _, name, _, _ in Formatter().parse(WORDS[why]) if name}
    for names in given:
        assert wanted <= names
        assert all(fills(text) - FILLED_HERE <= names for text in texts)
    if not given:
        # the three of a unit are made by the code of a problem, all with unit and kind
        unit = {"unit", "kind"} if why.startswith("unit-") else set()
        assert wanted <= unit
        assert all(fills(text) - FILLED_HERE <= unit for text in texts)


def test_a_word_of_ours_as_a_value_has_a_sentence_for_each():
    for why, words in ((Why.DATE_OTHER_HABIT, 2), (Why.DECIMAL_OTHER_MARK, 2), (Why.DATES_AS_THEY_SHOW, 2)):
        assert why not in SAID
        assert len(texts_of(why)) == words


def every(why):
    """Give a reason with each of the words that change its sentence."""
    names = set().union(*made()[why], {"unit", "kind"} if why.startswith("unit-") else set())
    values = {name: VALUES[name] for name in names if name}
    yield because(why, **values)
    for one, word in SAID_OF:
        if one is why:
            (name,) = {"day-first": ["habit"], "month-first": ["habit"]}.get(
                word, ["mark" if "decimal" in why else "field"]
            )
            yield because(why, **{**values, name: word})


@pytest.mark.parametrize("language", OTHERS)
def test_every_reason_is_said_in_every_language_and_names_nothing_of_the_command_line(language):
    for reason in (reason for why in Why for reason in every(why)):
        english = sheet_says(reason)
        with written_in(language):
            said = sheet_says(reason)
        assert said not in ("", english, str(reason))
        assert "%(" not in said
        assert "{" not in said
        assert not OF_COMMAND_LINE.search(said)
        assert not OF_COMMAND_LINE.search(english)
        assert foreign_marks([said], language) == []


def test_the_command_line_keeps_naming_its_options():
    assert "--dates day-first" in str(because(Why.DATE_TWO_WAYS))
    assert "--decimal comma" in str(because(Why.DECIMAL_TWO_WAYS))
    assert "[sheet.words.medium]" in str(because(Why.NO_CHOICE, choices="gas", field="medium"))


@pytest.mark.parametrize("language", OTHERS)
def test_every_field_and_every_choice_is_named_in_every_language(language):
    assert NAMES.keys() == FIELDS.keys()
    held = app_texts.catalogue(language)
    for key in FIELDS:
        assert app_texts.said(held.get(NAMES[key])), key
    with written_in(language):
        assert field_name("set pressure") == field_name("set_pressure") != "set pressure"
        for key, field in FIELDS.items():
            kinds = {FieldKind.CHOICE: key, FieldKind.FLAG: "flag"}
            for choice in set(choices_of(kinds[field.kind]).values()) if field.kind in kinds else ():
                assert choice_name(key, choice)
                assert choice_name(key, choice) != choice or language in ("es", "fr", "nl", "pl"), (key, choice)


BAD = """Owner;Site;Tag;Serial;Medium;Set pressure [bar];Fire case;Spring range low [bar];Spring range high [bar];\
Seat bore [mm];Seat OD [mm];Seat uncertainty [mm];Interval;Last test;Result;As found;Pressure unit
Marrow Bay Energy;North quay;PSV-1;A1;gas;12;no;10;14;20;22;1;24 months;2024-05-06;within;12;bar
Marrow Bay Energy;North quay;PSV-2;A2;LPG;12;perhaps;10;14;20;22;1;24 months;03/04/2024;fine;12;bar
Marrow Bay Energy;North quay;PSV-3;A3;gas;high;no;14;10;22;20;1;24 weeks;31.02.2024;within;12 bara;bar
Marrow Bay Energy;North quay;PSV-4;A4;gas;1,250;no;10;14;20;;1;9999 months;05/2024;within;12 N;bar
Marrow Bay Energy;North quay;;A5;gas;-3;no;10;14;20;22;;24;03/04/24;within;12 zorks;bar
Marrow Bay Energy;North quay;PSV-6;A6;gas;145 psi;no;10;14;;;;24 months;yesterday;within;12;
Marrow Bay Energy;North quay;PSV-7;A7;gas;12;no;10;14;;;;24 months;1753-01-01;within;9999999;bar
Marrow Bay Energy;North quay;PSV-8;A8;gas;12;no;14;10;;;;24 months;;within;12;bar
Marrow Bay Energy;North quay;PSV-9;A9;gas;12;no;10;14;22;20;;24 months;2024-05-06;within;12;bar
Marrow Bay Energy;North quay;PSV-10;B1;gas;12;no;10;14;22;;;24 months;2024-05-06;within;12;bar
Marrow Bay Energy;North quay;;B2;gas;12;no;10;14;;;;24 months;2024-05-06;within;12;bar
Marrow Bay Energy;North quay;PSV-1;A1;gas;12;no;10;14;20;22;1;24 months;2024-05-06;within;12;bar
"""
KINDS = {
    Why.NO_CHOICE, Why.DATE_TWO_WAYS, Why.NUMBER_NOT_ONE, Why.DATE_NO_DAY, Why.MONTHS_OTHER_UNIT, Why.UNIT_ABSOLUTE,
    Why.DECIMAL_TWO_WAYS, Why.MONTHS_OUT_OF_RANGE, Why.DATE_WITHOUT_DAY, Why.UNIT_OF_ANOTHER, Why.NOT_ABOVE_ZERO,
    Why.MONTHS_OR_YEARS, Why.DATE_SHORT_YEAR, Why.UNIT_UNKNOWN, Why.UNIT_CONTRADICTS, Why.DATE_IS_NONE,
    Why.UNIT_MISSING, Why.DATE_OUT_OF_YEARS, Why.BEYOND_ANY, Why.RANGE_HIGH_NOT_ABOVE, Why.TEST_NO_DATE,
    Why.EDGE_NOT_ABOVE_BORE, Why.SEAT_NO_UNCERTAINTY, Why.SEAT_ONE_DIAMETER, Why.MISSING, Why.DOUBLE_ROW,
}  # fmt: skip


def test_bad_cells_are_told_on_the_screen_in_its_language_with_its_own_controls(empty, tmp_path):  # noqa: F811
    path = tmp_path / "bad.csv"
    path.write_text(BAD, encoding="utf-8")
    report = preview_sheet(path, Mapping())
    assert {trouble.why.why for trouble in report.troubles} == KINDS
    for language in ("en", "de", "ar"):
        speak(empty, language)
        page = unescape(bring(empty, BAD).text)
        shown = re.sub(r"<(script|style)\b.*?</\1>|<!--.*?-->", "", page, flags=re.DOTALL)
        assert not OF_COMMAND_LINE.search(shown)
        with written_in(language):
            for trouble in report.troubles:
                assert f"<td>{sheet_says(trouble.why)}</td>" in page
        if language != "en":
            assert not [trouble.reason for trouble in report.troubles if trouble.reason in page]


WORDY = "Owner;Site;Tag;Serial;Medium;Set pressure [bar]\nMarrow Bay Energy;North quay;PSV-1;A1;LPG;12\n"


def test_a_word_that_is_not_understood_can_be_said_on_the_screen(empty):  # noqa: F811
    page = bring(empty, WORDY)
    assert "1 cannot" in page.text
    assert 'value="medium=gas=LPG"' in page.text
    answered = empty.get(f"{page.url}&means=medium%3Dgas%3DLPG")
    assert "<b>1</b> row can be taken" in answered.text
    # what was said stays chosen, and goes along
    assert 'value="medium=gas=LPG" selected' in answered.text
    assert take(empty, answered).status_code == 200
    assert "PSV-1" in empty.get("/register").text


@pytest.mark.parametrize("text", ["medium=mud=LPG", "serial=gas=LPG", "medium=gas=", "=", "medium=gas=" + "x" * 99])
def test_what_was_never_offered_is_passed_over(text):
    assert SheetSaid(file="f", name="n", means=[text]).words == []


def test_what_the_register_holds_already_is_told_and_the_others_can_still_be_taken(empty):  # noqa: F811
    good = WORDY.replace("LPG", "gas")
    assert take(empty, bring(empty, good)).status_code == 200
    both = good + "Marrow Bay Energy;North quay;PSV-2;A2;gas;12\n"
    refused = take(empty, bring(empty, both))
    assert refused.status_code == 422
    assert "Nothing was taken in" in refused.text
    assert refused.text.count("Is in the register already.") == 2
    assert "--take-good-rows" not in refused.text
    assert "1 row was taken in" in take(empty, refused, good_rows="yes").text
