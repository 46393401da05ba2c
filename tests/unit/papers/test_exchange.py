"""A visit's data: the same numbers in JSON, CSV and XLSX; nothing in it is a formula."""

import csv
import io
import json

import openpyxl
import pytest

from firstlift.core.errors import FirstliftError
from firstlift.core.result import VerdictOutcome, from_json
from firstlift.store.open import open_store
from firstlift.usecases.visitpapers.exchange import TEST_COLUMNS, exchange_bytes, visit_data

from .conftest import fill, make_result


@pytest.fixture
def data(store):
    return visit_data(store, "May round")


def test_json_holds_whole_results(data):
    read = json.loads(exchange_bytes(data, ".json"))
    assert read["format"] == "firstlift-visit-1"
    assert [test["tag"] for test in read["tests"]] == ["PSV-1", "PSV-2", "PSV-2", "PSV-3", "PSV-4"]
    results = {key: from_json(value) for key, value in read["results"].items()}
    assert len(results) == 4
    first = results[read["tests"][0]["test_id"]]
    assert first == make_result(read["tests"][0]["found_pa"], VerdictOutcome.WITHIN)
    assert read["visit"]["invented"] is True


def test_csv_holds_a_line_a_test(data):
    raw = exchange_bytes(data, ".csv")
    assert raw.startswith(b"\xef\xbb\xbf")
    rows = list(csv.DictReader(io.StringIO(raw.decode("utf-8-sig"))))
    assert tuple(rows[0]) == TEST_COLUMNS
    assert [float(row["found_pa"]) for row in rows[:4]] == [test["found_pa"] for test in data["tests"][:4]]
    assert (rows[4]["not_tested"], rows[4]["found_pa"]) == ("no-access", "")


def test_xlsx_holds_a_sheet_a_kind_with_the_same_numbers(data):
    book = openpyxl.load_workbook(io.BytesIO(exchange_bytes(data, ".xlsx")))
    assert book.sheetnames == ["visit", "tests", "pulls", "findings", "adjustments"]
    heads, *rows = book["tests"].iter_rows(values_only=True)
    assert heads == TEST_COLUMNS
    at = heads.index("found_pa")
    found = [test["found_pa"] for test in data["tests"]]
    # a table keeps sixteen digits
    assert [row[at] for row in rows[:-1]] == pytest.approx(found[:-1], rel=1e-15)
    assert (rows[-1][at], found[-1]) == (None, None)
    (turned,) = list(book["adjustments"].iter_rows(min_row=2, values_only=True))
    assert turned[3] == -0.25


def test_a_formula_in_a_field_stays_text(tmp_path):
    fill(tmp_path / "register", serial="=HYPERLINK({})")
    store = open_store(tmp_path / "register")
    try:
        data = visit_data(store, "May round")
    finally:
        store.close()
    rows = list(csv.DictReader(io.StringIO(exchange_bytes(data, ".csv").decode("utf-8-sig"))))
    assert rows[0]["serial"] == "'=HYPERLINK(1)"
    book = openpyxl.load_workbook(io.BytesIO(exchange_bytes(data, ".xlsx")))
    cell = book["tests"].cell(2, TEST_COLUMNS.index("serial") + 1)
    assert (cell.value, cell.data_type) == ("=HYPERLINK(1)", "s")


def test_another_ending_is_refused(data):
    with pytest.raises(FirstliftError, match="PAP-006"):
        exchange_bytes(data, ".ods")
