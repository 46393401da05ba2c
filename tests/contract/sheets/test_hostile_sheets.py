"""Spreadsheets that are broken, hostile or merely human: a clear message each, and no library's own error."""

import datetime as dt
import zipfile

import pytest
from tests.made_sheets import (
    GOOD,
    HEADINGS,
    letters,
    relations,
    sheet_xml,
    with_cell,
    write_csv,
    write_library,
    write_raw,
    write_rows,
)  # fmt: skip

from firstlift.core.errors import FirstliftError
from firstlift.formats.sheets.book import open_book
from firstlift.formats.sheets.convert import taken_rows
from firstlift.formats.sheets.mapping import Mapping
from firstlift.formats.sheets.match import plan_book

PRESSURE = "Set pressure [bar]"


def read(path, mapping=None, **options):
    """Give plan, taken rows and troubles of a file; doubts that block are raised."""
    book = open_book(path, **options)
    try:
        plan = plan_book(book, mapping or Mapping())
        if plan.blocks:
            raise FirstliftError(plan.blocks)
        pairs = [pair for sheet in plan.sheets for pair in taken_rows(book, sheet)]
    finally:
        book.close()
    return plan, [taken for taken, _ in pairs if taken], [trouble for _, troubles in pairs for trouble in troubles]


def refused(path, **options):
    with pytest.raises(FirstliftError) as caught:
        read(path, **options)
    for problem in caught.value.problems:
        assert path.name in problem.where
        assert "Traceback" not in problem.sentence()
    return [problem.code for problem in caught.value.problems]


def codes_of(path):
    """Give the rooms that refuse a file; none where it is taken."""
    try:
        read(path)
    except FirstliftError as error:
        return {problem.code[:3] for problem in error.problems}
    return set()


def one_trouble(path):
    """Give the only trouble of a file whose other rows are good."""
    _, taken, troubles = read(path)
    assert len(taken) == len(GOOD) - 1
    (trouble,) = troubles
    return trouble


@pytest.fixture
def at(tmp_path):
    return tmp_path / "list.xlsx"


def test_a_good_sheet_is_taken_whole(at):
    plan, taken, troubles = read(write_library(at, [HEADINGS, *GOOD]))
    assert [row.values["tag"] for row in taken] == ["PSV-1001", "PSV-1002", "PSV-2001"]
    assert [row.values["set_pressure"].text for row in taken] == ["10.5 bar", "12 bar", "8 bar"]
    assert troubles == []
    assert [column.field.key for column in plan.sheets[0].columns][:3] == ["owner", "site", "tag"]


def test_a_formula_without_its_value_is_no_blank(at):
    trouble = one_trouble(write_rows(at, with_cell(PRESSURE, "<><f>F2*1.1</f>", row=1)))
    assert (trouble.row, trouble.column, trouble.value) == (3, "F", "=F2*1.1")
    assert "formula" in trouble.reason


def test_the_value_a_formula_last_had_is_taken(at):
    _, taken, _ = read(write_rows(at, with_cell(PRESSURE, "<><f>F2*1.1</f><v>11.5</v>", row=1)))
    assert taken[1].values["set_pressure"].si == 11.5e5


def test_a_formula_that_calls_out_is_never_carried_out(at):
    link = '<><f>WEBSERVICE("http://nowhere.invalid/")</f>'
    assert "formula" in one_trouble(write_rows(at, with_cell(PRESSURE, link))).reason


def test_an_error_of_the_spreadsheet_is_named(at):
    trouble = one_trouble(write_rows(at, with_cell(PRESSURE, '< t="e"><v>#REF!</v>')))
    assert (trouble.value, trouble.reason) == ("#REF!", "an error of the spreadsheet")


def test_merged_cells_below_one_another_hold_for_each_row(at):
    rows = [HEADINGS, GOOD[0], [None, *GOOD[1][1:]], [None, *GOOD[2][1:]]]
    _, taken, troubles = read(write_rows(at, rows, merged=["A2:A4"]))
    assert [row.values["owner"] for row in taken] == ["Marrow Bay Energy"] * 3
    assert troubles == []


def test_merged_cells_beside_one_another_are_unclear(at):
    rows = [HEADINGS, GOOD[0], ["Marrow Bay Energy", None, *GOOD[1][2:]], GOOD[2]]
    _, taken, troubles = read(write_rows(at, rows, merged=["A3:B3"]))
    assert len(taken) == 2
    assert "merged" in troubles[0].reason
    assert (troubles[0].row, troubles[0].column) == (3, "A")


@pytest.mark.parametrize(
    ("value", "reason"),
    [
        ("31/02/2024", "no day of the calendar"),
        ("03/04/2024", "day-first or month-first"),
        ("03/04/24", "two digits"),
        ("2024", "no spreadsheet's day"),
        ("yesterday", "not a date"),
        (0.5, "no spreadsheet's day"),
        ("1753-01-01", "lies outside"),
        ("Mar 2024", "no day"),
    ],
)
def test_wrong_dates_are_told_apart(at, value, reason):
    if value == "2024":
        value = 2024
    rows = [[*HEADINGS, "Last test"], [*GOOD[0], value], [*GOOD[1], "2024-05-06"], [*GOOD[2], None]]
    assert reason in one_trouble(write_rows(at, rows)).reason


@pytest.mark.parametrize("text", ["1e308", "1E+400", "9" * 400, "nan", "inf", "0x10"])
def test_numbers_beyond_any_pressure_are_refused(tmp_path, text):
    path = write_csv(tmp_path / "list.csv", with_cell(PRESSURE, text))
    assert one_trouble(path).column == "F"


def test_a_number_of_1e308_in_a_cell_is_refused(at):
    assert "beyond" in one_trouble(write_rows(at, with_cell(PRESSURE, 1e308))).reason


def test_an_infinite_number_in_a_cell_is_refused(at):
    assert "finite" in one_trouble(write_rows(at, with_cell(PRESSURE, "<><v>1e999</v>"))).reason


def test_text_from_right_to_left_is_text(at):
    rows = with_cell("Owner", "شركة خليج مارو")
    rows[2][1] = "\u200fאתר צפון\u200f"
    _, taken, troubles = read(write_rows(at, rows))
    assert troubles == []
    assert taken[0].values["owner"] == "شركة خليج مارو"
    assert taken[1].values["site"] == "אתר צפון"


def test_marks_that_turn_text_around_are_refused(at):
    assert "direction" in one_trouble(write_rows(at, with_cell("Tag", "PSV-\u202e1001"))).reason


def test_eastern_digits_are_numbers(at):
    _, taken, _ = read(write_rows(at, with_cell(PRESSURE, "١٢٫٥")))
    assert taken[0].values["set_pressure"].si == 12.5e5


def test_a_zip_bomb_is_seen_before_it_is_unpacked(at):
    with (
        zipfile.ZipFile(write_rows(at, [HEADINGS]), "a", zipfile.ZIP_DEFLATED, compresslevel=9) as archive,
        archive.open("xl/worksheets/sheet9.xml", "w", force_zip64=True) as part,
    ):
        for _ in range(40):
            part.write(bytes(1_000_000))
    assert refused(at) == ["IMP-004"]


def test_a_part_that_unpacks_to_more_than_it_claims_is_damaged(at):
    data = write_rows(at, [HEADINGS, *GOOD * 200]).read_bytes()
    size = next(i.file_size for i in zipfile.ZipFile(at).infolist() if "sheet1" in i.filename)
    at.write_bytes(data.replace(size.to_bytes(4, "little"), (1000).to_bytes(4, "little")))
    assert refused(at) == ["IMP-003"]


def test_entities_are_refused(at):
    laughs = '<!DOCTYPE w [<!ENTITY a "ha"><!ENTITY b "&a;&a;&a;&a;">]>'
    assert refused(write_raw(at, {"Valves": sheet_xml([HEADINGS, *GOOD], head=laughs)})) == ["IMP-003"]


def test_entities_in_a_small_part_are_refused(at):
    with zipfile.ZipFile(at, "w") as archive:
        archive.writestr("_rels/.rels", relations(("officeDocument", "xl/workbook.xml")))
        archive.writestr(
            "xl/workbook.xml", '<!DOCTYPE w [<!ENTITY x SYSTEM "file:///etc/passwd">]><workbook>&x;</workbook>'
        )
        archive.writestr("xl/_rels/workbook.xml.rels", relations())
    assert refused(at) == ["IMP-003"]


def test_double_headings_are_asked_about(at):
    rows = [[*HEADINGS, "Tag No."], *([*row, "other"] for row in GOOD)]
    assert refused(write_rows(at, rows)) == ["IMP-011"]


def test_a_list_without_headings_is_not_guessed(at):
    assert refused(write_rows(at, GOOD)) == ["IMP-010"]


def test_a_heading_that_is_needed_is_named(at):
    with pytest.raises(FirstliftError) as caught:
        read(write_rows(at, [HEADINGS[:-1], *(row[:-1] for row in GOOD)]))
    assert "set pressure" in str(caught.value)
    assert [problem.code for problem in caught.value.problems] == ["IMP-013"]


def test_a_value_in_the_last_of_all_columns_is_refused(at):
    xml = sheet_xml([HEADINGS, *GOOD]).replace("</sheetData>", '<row r="9"><c r="XFD9"><v>1</v></c></row></sheetData>')
    assert refused(write_raw(at, {"Valves": xml})) == ["IMP-006"]


def test_fifty_thousand_columns_are_refused(tmp_path):
    path = tmp_path / "wide.csv"
    path.write_text(",".join(HEADINGS) + "\n" + "," * 50_000 + "x\n")
    assert refused(path) == ["IMP-006"]


def test_control_characters_are_refused(tmp_path):
    path = write_csv(tmp_path / "list.csv", with_cell("Tag", "PSV\x07-1"))
    trouble = one_trouble(path)
    assert "control" in trouble.reason
    assert trouble.value == "PSV?-1"


def test_nul_is_refused(tmp_path):
    path = write_csv(tmp_path / "list.csv", with_cell("Tag", "PSV\x00-1"))
    assert refused(path) == ["IMP-008"]


def test_a_quote_that_never_closes_is_refused(tmp_path):
    path = tmp_path / "list.csv"
    path.write_text(",".join(HEADINGS) + '\n"' + "x,\n" * 100_000)
    assert refused(path) == ["IMP-008"]


@pytest.mark.parametrize("name", ["list.xlsx", "list.csv"])
def test_an_empty_file_is_refused(tmp_path, name):
    path = tmp_path / name
    path.write_bytes(b"")
    assert refused(path) == ["IMP-001"]


def test_an_empty_sheet_is_refused(at):
    assert refused(write_rows(at, [])) == ["IMP-010"]


def test_a_missing_file_is_said(tmp_path):
    assert refused(tmp_path / "nowhere.xlsx") == ["IMP-001"]


def test_a_folder_is_no_spreadsheet(tmp_path):
    assert refused(tmp_path) == ["IMP-001"]


def ole(path, inside):
    path.write_bytes(b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1" + bytes(504) + inside.encode("utf-16-le") + bytes(1000))
    return path


def test_a_workbook_with_a_password_is_named_as_such(at):
    assert refused(ole(at, "EncryptedPackage")) == ["IMP-005"]


def test_a_workbook_of_the_old_kind_is_named_as_such(at):
    with pytest.raises(FirstliftError, match="XLS"):
        read(ole(at, "Workbook"))


@pytest.mark.parametrize(
    "head", [b"%PDF-1.7\n", b"<html><table>", b"\x89PNG\r\n\x1a\n", b"\x1f\x8b\x08", bytes(range(256)) * 4]
)
def test_another_format_under_a_spreadsheets_name_is_refused(at, head):
    at.write_bytes(head)
    assert refused(at) == ["IMP-002"]


def test_a_zip_of_something_else_is_refused(at):
    with zipfile.ZipFile(at, "w") as archive:
        archive.writestr("hello.txt", "hello")
    assert refused(at) == ["IMP-002"]


def test_a_csv_under_the_name_of_a_workbook_is_read_as_what_it_is(at):
    plan, taken, _ = read(write_csv(at, [HEADINGS, *GOOD]))
    assert (plan.kind, len(taken)) == ("CSV", 3)


def test_a_torn_workbook_is_damaged(at):
    data = write_rows(at, [HEADINGS, *GOOD]).read_bytes()
    at.write_bytes(data[: len(data) // 2])
    assert refused(at) == ["IMP-003"]


@pytest.mark.parametrize("place", range(0, 1400, 97))
def test_a_flipped_byte_gives_a_result_or_a_message(at, place):
    data = bytearray(write_rows(at, [HEADINGS, *GOOD]).read_bytes())
    data[place % len(data)] ^= 0x55
    at.write_bytes(data)
    assert codes_of(at) <= {"IMP", "UNI"}


def test_a_csv_in_another_encoding_is_not_guessed(tmp_path):
    path = write_csv(tmp_path / "list.csv", with_cell("Owner", "Überwachung"), encoding="cp1252")
    assert refused(path) == ["IMP-007"]
    _, taken, _ = read(path, encoding="cp1252")
    assert taken[0].values["owner"] == "Überwachung"


@pytest.mark.parametrize("encoding", ["utf-8-sig", "utf-16"])
def test_marked_encodings_are_read(tmp_path, encoding):
    path = write_csv(tmp_path / "list.csv", with_cell("Owner", "Überwachung"), encoding=encoding)
    assert read(path)[1][0].values["owner"] == "Überwachung"


def test_an_unknown_encoding_is_refused(tmp_path):
    assert refused(write_csv(tmp_path / "list.csv", [HEADINGS, *GOOD]), encoding="klingon") == ["IMP-007"]


def test_semicolons_and_decimal_commas_are_read(tmp_path):
    rows = with_cell(PRESSURE, "1.250,5")
    rows[2][-1] = "12,5"
    rows[3][-1] = "1,250"
    _, taken, troubles = read(write_csv(tmp_path / "list.csv", rows, delimiter=";"))
    assert troubles == []
    assert [row.values["set_pressure"].text for row in taken] == ["1250.5 bar", "12.5 bar", "1.250 bar"]


def test_a_comma_that_may_be_thousands_is_asked_about(tmp_path):
    assert "--decimal" in one_trouble(write_csv(tmp_path / "list.csv", with_cell(PRESSURE, "1,250"))).reason


def test_units_that_stand_in_the_cells_are_taken_one_by_one(at):
    pairs = zip(GOOD, ("10 bar", "1 MPa", "145 psi"), strict=True)
    rows = [[*HEADINGS[:-1], "Set pressure"], *([*row[:-1], text] for row, text in pairs)]
    _, taken, troubles = read(write_rows(at, rows))
    assert troubles == []
    assert [round(row.values["set_pressure"].si / 1e5, 1) for row in taken] == [10.0, 10.0, 10.0]


def test_a_cell_that_contradicts_its_heading_is_refused(at):
    assert "psi under a heading that says bar" in one_trouble(write_rows(at, with_cell(PRESSURE, "145 psi"))).reason


def test_numbers_without_any_unit_are_asked_about_once(at):
    assert refused(write_rows(at, [[*HEADINGS[:-1], "Set pressure"], *GOOD])) == ["IMP-014"]


def test_an_absolute_pressure_in_the_heading_is_refused(at):
    assert "UNI-003" in refused(write_rows(at, [[*HEADINGS[:-1], "Set pressure [bara]"], *GOOD]))


@pytest.mark.parametrize("value", [-10.5, 0, "-3"])
def test_a_set_pressure_is_above_nothing(at, value):
    assert one_trouble(write_rows(at, with_cell(PRESSURE, value))).reason == "is not above 0"


def test_a_cell_of_ten_thousand_characters_is_refused(at):
    trouble = one_trouble(write_rows(at, with_cell("Tag", "x" * 10_000)))
    assert "10000 characters" in trouble.reason
    assert len(trouble.value) < 100


def test_a_text_without_end_is_refused(at):
    xml = sheet_xml([HEADINGS, ["@@", *GOOD[0][1:]]]).replace("@@", "y" * 9_000_000)
    codes = []
    try:
        _, taken, troubles = read(write_raw(at, {"Valves": xml}))
        codes = [trouble.reason for trouble in troubles]
        assert taken == []
    except FirstliftError as error:
        codes = [problem.code for problem in error.problems]
    assert codes in (["IMP-004"], ["a text of 9000000 characters"])


def test_macros_and_links_are_said_and_left_alone(at):
    extra = {"xl/vbaProject.bin": b"\xd0\xcf", "xl/externalLinks/externalLink1.xml": "<externalLink/>"}
    plan, taken, _ = read(write_raw(at, {"Valves": sheet_xml([HEADINGS, *GOOD])}, extra=extra))
    assert len(taken) == 3
    assert any("macros" in str(note) for note in plan.notes)
    assert any("links" in str(note) for note in plan.notes)


def test_a_shared_text_that_is_not_there_is_named(at):
    assert "does not hold" in one_trouble(write_rows(at, with_cell("Tag", '< t="s"><v>99</v>'))).reason


def test_rows_that_go_backwards_are_damage(at):
    xml = sheet_xml([HEADINGS, *GOOD]).replace('<row r="3">', '<row r="1">')
    assert refused(write_raw(at, {"Valves": xml})) == ["IMP-003"]


def test_two_parts_of_one_name_are_damage(at):
    with pytest.warns(UserWarning, match="Duplicate"):
        write_raw(at, {"Valves": sheet_xml([HEADINGS, *GOOD])}, extra={"xl/workbook.xml": "<workbook/>"})
    assert refused(at) == ["IMP-003"]


def test_a_serial_that_became_a_date_is_named(at):
    path = write_library(at, with_cell("Serial No.", dt.date(2024, 12, 3)))
    assert "turned into a date" in one_trouble(path).reason


def test_a_serial_that_lost_its_digits_is_named(at):
    assert "lost its last digits" in one_trouble(write_rows(at, with_cell("Serial No.", 12345678901234567.0))).reason


def test_an_orifice_letter_is_no_seat(at):
    rows = [[*HEADINGS, "Seat bore [mm]", "Seat OD [mm]", "Seat uncertainty [mm]"]]
    rows += [[*GOOD[0], "J", "J", 0.1], [*GOOD[1], 20, 22, 0.1], [*GOOD[2], None, None, None]]
    _, taken, troubles = read(write_rows(at, rows))
    assert len(taken) == 2
    assert {trouble.reason for trouble in troubles} == {"is not a number"}


def test_many_sheets_are_each_taken_for_what_they_are(at):
    cells = [["Serial", "Type", "Unit", "Capacity [kN]"], ["LC-1", "load cell", "kN", 20]]
    sheets = {
        "About": sheet_xml([["A list of valves"]]),
        "Valves": sheet_xml([HEADINGS, *GOOD]),
        "Cells": sheet_xml(cells),
    }
    plan, taken, troubles = read(write_raw(at, sheets))
    assert troubles == []
    assert [sheet.takes for sheet in plan.sheets] == ["valves", "instruments"]
    assert [(name, str(why)) for name, why in plan.skipped] == [("About", "no heading row was understood in it")]
    assert taken[-1].values["capacity"].si == 20e3


def test_the_last_column_name_is_that_of_the_spreadsheet():
    assert letters(16_384) == "XFD"
