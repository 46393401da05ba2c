"""Headings, units, habits and the saved mapping."""

import tomllib
from importlib import resources

import pytest
from tests.made_sheets import GOOD, HEADINGS, write_csv

from firstlift.core.errors import FirstliftError
from firstlift.formats.sheets.book import open_book
from firstlift.formats.sheets.dates import DateHabit, NotADate, find_habit, read_date
from firstlift.formats.sheets.fields import Takes, choices_of, fields_of, plain
from firstlift.formats.sheets.mapping import Mapping, SheetMapping, mapping_text, read_mapping
from firstlift.formats.sheets.match import heading_parts, plan_book
from firstlift.formats.sheets.numbers import DecimalMark, NotANumber, exact, find_mark, read_number
from firstlift.formats.sheets.plan import to_mapping


def plan_of(path, mapping=None):
    book = open_book(path)
    try:
        return plan_book(book, mapping or Mapping())
    finally:
        book.close()


@pytest.mark.parametrize("takes", Takes)
def test_no_heading_means_two_fields(takes):
    names = [name for field in fields_of(takes).values() for name in field.names]
    assert len(names) == len(set(names))


def test_no_word_means_two_choices():
    path = resources.files("firstlift.formats.sheets").joinpath("fields.toml")
    for key, choices in tomllib.loads(path.read_text(encoding="utf-8"))["choices"].items():
        words = [word for choice, inner in choices.items() for word in {plain(word) for word in (choice, *inner)}]
        assert len(words) == len(set(words)), key
        assert set(choices_of(key).values()) == set(choices)


@pytest.mark.parametrize(
    ("heading", "parts"),
    [
        ("Set pressure [bar]", ("Set pressure", "bar")),
        ("Set pressure (barg)", ("Set pressure", "barg")),
        ("Set pressure, psig", ("Set pressure", "psig")),
        ("Set  pressure\nbar g", ("Set pressure", "bar g")),
        ("Tag", ("Tag", "")),
        ("Serial No.", ("Serial No.", "")),
    ],
)
def test_a_unit_is_parted_from_its_heading(heading, parts):
    assert heading_parts(heading) == parts


@pytest.mark.parametrize(
    ("text", "habit", "date"),
    [
        ("2024-03-05", None, "2024-03-05"),
        ("05.03.2024", None, "2024-03-05"),
        ("05.03.2024", DateHabit.MONTH_FIRST, "2024-03-05"),
        ("25/12/2024", None, "2024-12-25"),
        ("12/25/2024", None, "2024-12-25"),
        ("03/05/2024", DateHabit.DAY_FIRST, "2024-05-03"),
        ("03/05/2024", DateHabit.MONTH_FIRST, "2024-03-05"),
        ("05/05/2024", None, "2024-05-05"),
        ("5 März 2024", None, "2024-03-05"),
        ("05-Mar-2024", None, "2024-03-05"),
        ("March 5, 2024", None, "2024-03-05"),
        ("45356", None, "2024-03-05"),
    ],
)
def test_dates_are_read_in_the_local_habit(text, habit, date):
    assert read_date(text, habit).isoformat() == date


def test_a_date_that_contradicts_the_habit_is_refused():
    with pytest.raises(NotADate, match="month-first"):
        read_date("25/12/2024", DateHabit.MONTH_FIRST)


@pytest.mark.parametrize(
    ("texts", "habit"),
    [
        (["03/04/2024", "25/12/2024"], DateHabit.DAY_FIRST),
        (["03/04/2024", "12/25/2024"], DateHabit.MONTH_FIRST),
        (["25/12/2024", "12/25/2024"], None),
        (["03/04/2024", "05.12.2024"], None),
    ],
)
def test_the_habit_of_a_column_shows_itself(texts, habit):
    assert find_habit(texts) is habit


@pytest.mark.parametrize(
    ("text", "mark", "number"),
    [
        ("12.5", None, "12.5"),
        ("12,5", None, "12.5"),
        ("1.234,5", None, "1234.5"),
        ("1,234.5", None, "1234.5"),
        ("1 234,5", None, "1234.5"),
        ("1'234.5", None, "1234.5"),
        ("1,234,567", DecimalMark.POINT, "1234567"),
        ("1,234", DecimalMark.COMMA, "1.234"),
        ("1,234", DecimalMark.POINT, "1234"),
        ("1.234", DecimalMark.COMMA, "1234"),
        ("0,250", None, "0.250"),
        ("−3,5", None, "-3.5"),
        ("1e3", None, "1E+3"),
    ],
)
def test_numbers_are_read_as_people_write_them(text, mark, number):
    assert str(read_number(text, mark)) == number


@pytest.mark.parametrize("text", ["1,23,4", "1.2.3", "1,234", "12 34", "--3", "1e400"])
def test_what_is_no_number_is_not_made_one(text):
    with pytest.raises(NotANumber):
        read_number(text, None)


def test_a_point_under_decimal_commas_is_refused():
    with pytest.raises(NotANumber, match="comma"):
        read_number("12.5", DecimalMark.COMMA)


@pytest.mark.parametrize(
    ("texts", "mark"),
    [(["12,5"], "comma"), (["12.5"], "point"), (["12,5", "12.5"], None), (["1,250"], None)],
)
def test_the_decimal_sign_shows_itself(texts, mark):
    assert find_mark(texts) == mark


def test_a_number_of_a_cell_keeps_its_shortest_decimal():
    assert [str(exact(number)) for number in (0.1, 1200.0, 10.5, -2.0)] == ["0.1", "1200", "10.5", "-2"]


def test_headings_in_other_languages_and_orders_are_known(tmp_path):
    rows = [
        ["", "Prüfliste 2026", "", "", "", "", ""],
        ["Betreiber", "Standort", "Messstelle", "Seriennummer", "Medium", "Ansprechdruck", "letzte Prüfung"],
        ["", "", "", "", "", "[bar]", ""],
        ["Marrow Bay Energy", "Nord", "PSV-1", "S1", "Dampf", "10,5", "05.03.2024"],
    ]
    (sheet,) = plan_of(write_csv(tmp_path / "liste.csv", rows, delimiter=";")).sheets
    assert (sheet.header_row, sheet.first_row, sheet.blocks) == (2, 4, ())
    assert [column.field.key for column in sheet.columns][:3] == ["owner", "site", "tag"]
    assert sheet.columns[5].unit == "bar"


def test_a_column_of_units_serves_the_pressures(tmp_path):
    rows = [[*HEADINGS[:-1], "Set pressure", "Unit"], *([*row, "psi"] for row in GOOD)]
    (sheet,) = plan_of(write_csv(tmp_path / "list.csv", rows)).sheets
    assert sheet.columns[-1].field.key == "pressure_unit"
    assert sheet.blocks == ()


def test_what_is_left_out_is_said_with_a_hint(tmp_path):
    rows = [[*HEADINGS, "Setpresure", "Colour"], *([*row, 1, "red"] for row in GOOD)]
    (sheet,) = plan_of(write_csv(tmp_path / "list.csv", rows)).sheets
    assert [(left.heading, left.hint) for left in sheet.left_out] == [("Setpresure", "set_pressure"), ("Colour", "")]


def test_a_saved_mapping_reads_back_equal(tmp_path):
    mapping = Mapping(
        (
            SheetMapping(
                'A "list" of \\ valves', Takes.VALVES, 3, columns={"tag": "PSV №", "serial": "column F"},
                units={"set_pressure": "bar"}, constants={"owner": "Marrow Bay Energy"},
                words={"medium": {"LPG": "gas", "wet steam?": "steam"}},
            ),
            SheetMapping("Old", skip=True),
        ),
        DateHabit.DAY_FIRST, DecimalMark.COMMA, "cp1252",
    )  # fmt: skip
    path = tmp_path / "mapping.toml"
    path.write_text(mapping_text(mapping), encoding="utf-8")
    assert read_mapping(path) == mapping


def test_the_mapping_of_a_plan_takes_the_file_in_the_same_way(tmp_path):
    path = write_csv(tmp_path / "list.csv", [[*HEADINGS, "Last test"], *([*row, "25/12/2024"] for row in GOOD)])
    plan = plan_of(path)
    again = plan_of(path, to_mapping(plan))
    assert again.sheets[0].columns == plan.sheets[0].columns
    assert to_mapping(again) == to_mapping(plan)


def test_a_mapping_settles_what_was_asked(tmp_path):
    rows = [["Owner", "Where", "Tag", "Tag", "SN", "Fluid", "P"], *([*row[:3], "x", *row[3:]] for row in GOOD)]
    path = write_csv(tmp_path / "list.csv", rows)
    told = SheetMapping(
        columns={"tag": "column C", "set_pressure": "P", "site": "Where"}, units={"set_pressure": "bar"}
    )
    assert plan_of(path).blocks != ()
    assert plan_of(path, Mapping((told,))).blocks == ()


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("", "format"),
        ('format = "firstlift-import-1"\ndats = "day-first"', "Did you mean 'dates'"),
        ('format = "firstlift-import-1"\ndates = "american"', "day-first"),
        ('format = "firstlift-import-1"\n[[sheet]]\nheader_row = 0', "header_row"),
        ('format = "firstlift-import-1"\n[[sheet]]\n[sheet.columns]\ntagg = "x"', "Did you mean 'tag'"),
        ('format = "firstlift-import-1"\nsheet = 3', "sheet"),
        ("format = [", "TOML"),
    ],
)
def test_a_bad_mapping_is_told(tmp_path, text, said):
    path = tmp_path / "mapping.toml"
    path.write_text(text)
    with pytest.raises(FirstliftError, match="IMP-009") as caught:
        read_mapping(path)
    assert said in str(caught.value)


def test_a_heading_the_mapping_names_must_be_there(tmp_path):
    path = write_csv(tmp_path / "list.csv", [HEADINGS, *GOOD])
    blocks = plan_of(path, Mapping((SheetMapping(columns={"note": "Remarcs"}),))).blocks
    assert [problem.code for problem in blocks] == ["IMP-012"]
