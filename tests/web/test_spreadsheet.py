"""Valves taken in from a spreadsheet: looked at first, errors named by row, then all or what was ticked."""

import re
from uuid import uuid4

import pytest
from tests.web.app_server import served

from firstlift.core.register.equipment import RegisteredValve
from firstlift.store.open import create_store
from firstlift.usecases.register.place import now
from firstlift.web.settings import Settings

GOOD = (
    "Owner;Site;Tag;Serial;Medium;Set pressure [bar]\n"
    "Marrow Bay Energy;North quay;PSV-1;A1;gas;12,5\n"
    "Marrow Bay Energy;North quay;PSV-2;A2;steam;8\n"
)
WRONG = GOOD + "Marrow Bay Energy;North quay;PSV-3;A3;gas;high\n"
BARE = "Tag;Serial;Medium;Set pressure\nPSV-1;A1;gas;12\n"


@pytest.fixture
def empty(tmp_path):
    store = create_store(tmp_path / "new", store_id=uuid4(), at=now())
    with served(store, Settings(tmp_path / "accounts.sqlite")) as browser:
        browser.post("/who", {"name": "Una Newcomer", "role": "planner"}, page="/who")
        browser.store = store
        yield browser
    store.close()


def bring(browser, text):
    files = [("files", ("valves.csv", text.encode()))]
    return browser.post("/spreadsheet", page="/spreadsheet", files=files)


def take(browser, page, **more):
    form = dict(re.findall(r'<input type="hidden" name="([^"]+)" value="([^"]*)"', page.text))
    return browser.client.post("/spreadsheet/take", data={**form, **more})


def serials(browser):
    with browser.store.read() as reader:
        return sorted(valve.serial for valve in reader.list(RegisteredValve))


def test_an_empty_register_is_filled_from_a_spreadsheet(empty):
    assert "/spreadsheet" in empty.get("/").text
    page = bring(empty, GOOD)
    assert "<b>2</b> rows can be taken" in page.text
    assert serials(empty) == []
    assert "2 rows were taken in" in take(empty, page).text
    assert serials(empty) == ["A1", "A2"]
    assert "PSV-1" in empty.get("/register").text


def test_a_row_that_cannot_be_taken_is_named_and_keeps_the_rest_out_until_it_is_ticked(empty):
    page = bring(empty, WRONG)
    assert "1 cannot" in page.text
    assert "high" in page.text
    assert take(empty, page).status_code == 422
    assert serials(empty) == []
    assert "1 row was left out" in take(empty, page, good_rows="yes").text
    assert serials(empty) == ["A1", "A2"]


def test_what_the_sheet_does_not_say_is_asked_and_can_be_answered(empty):
    page = bring(empty, BARE)
    assert "To be settled first" in page.text
    answered = empty.get(f"{page.url}&unit=bar&owner=Marrow+Bay+Energy&site=North+quay")
    assert "<b>1</b> row can be taken" in answered.text
    assert take(empty, answered).status_code == 200
    assert serials(empty) == ["A1"]


def test_what_is_no_spreadsheet_is_told(empty):
    assert bring(empty, "\x00\x01\x02").status_code == 422
    assert empty.get("/spreadsheet/look", params={"file": "0" * 64, "name": "../x"}).status_code == 422


def test_a_reader_takes_nothing_in(laptop):
    laptop.work_as("Greta Lowtide")
    assert laptop.get("/spreadsheet").status_code == 403
