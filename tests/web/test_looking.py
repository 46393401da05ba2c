"""The look at a large spreadsheet: how far it is, a way to stop it, and what it found in the end."""

import re
import threading
import time

import pytest
from openpyxl import Workbook
from tests.web.conftest import faults

from firstlift.core.errors import FirstliftError, Problem
from firstlift.core.register.equipment import RegisteredValve
from firstlift.core.register.people import Person
from firstlift.usecases.import_sheet import preview_sheet
from firstlift.web.bringing import Imports, Looking
from firstlift.web.pages import spreadsheet

HEADS = ("Owner", "Site", "Tag", "Serial", "Medium", "Set pressure [bar]")
ROWS = 50_000


@pytest.fixture(scope="module")
def large(tmp_path_factory):
    """A workbook of fifty thousand valves, the last without a pressure that can be read."""
    book = Workbook(write_only=True)
    sheet = book.create_sheet("Valves")
    sheet.append(HEADS)
    for i in range(ROWS - 1):
        sheet.append(("Marrow Bay Energy", f"Site {i % 20}", f"PSV-{i}", f"N{i}", "gas", 10 + i % 40 / 2))
    sheet.append(("Marrow Bay Energy", "Site 1", "PSV-X", "NX", "gas", "high"))
    path = tmp_path_factory.mktemp("large") / "valves.xlsx"
    book.save(path)
    return path


def bring(page, path):
    page.goto("/spreadsheet")
    page.get_by_label("Spreadsheet").set_input_files(path)
    page.get_by_role("button", name="Look at it").press("Enter")


def rows_so_far(page):
    return int(re.findall(r"\d+", page.get_by_role("status").inner_text())[0])


def test_the_look_at_a_large_workbook_shows_how_far_it_is_and_can_be_stopped(opened, store, large, monkeypatch):
    def on_a_slow_machine(path, mapping, progress):
        def told(share, rows):
            time.sleep(0.03)
            progress(share, rows)

        return preview_sheet(path, mapping, told)

    monkeypatch.setattr(spreadsheet, "preview_sheet", on_a_slow_machine)
    page = opened("Hob")
    bring(page, large)
    stop = page.get_by_role("button", name="Stop reading")
    stop.wait_for(timeout=60_000)
    assert page.get_by_role("progressbar").get_attribute("value") != ""
    assert faults(page) == []
    first = rows_so_far(page)
    # it asks again by itself, and what has the focus keeps it
    stop.focus()
    page.wait_for_function(
        "first => parseInt(document.querySelector('[role=status]').textContent) > first", arg=first, timeout=60_000
    )
    assert stop.evaluate("stop => stop === document.activeElement")
    stop.press("Enter")
    page.wait_for_url("**/spreadsheet?stopped=yes")
    said = page.get_by_role("status")
    assert "Nothing was taken in" in said.inner_text()
    assert said.evaluate("said => said === document.activeElement")

    # looked at again from its beginning, to the end; meanwhile one may be elsewhere
    bring(page, large)
    stop.wait_for(timeout=60_000)
    look = page.url
    page.goto("/register")
    page.goto(look)
    page.get_by_role("heading", name="What would go where").wait_for(timeout=120_000)
    assert f"{ROWS - 1} rows can be taken, 1 cannot" in page.inner_text("main")
    with store.read() as reader:
        assert reader.list(RegisteredValve, serial="N1") == []


def test_the_same_look_is_found_again_and_a_stopped_one_ends_without_a_report(store):
    with store.read() as reader:
        one, other = reader.list(Person)[:2]
    go_on = threading.Event()

    def look(progress):
        for row in range(1000):
            progress(row / 1000, row)
            go_on.wait(0.01)
        raise AssertionError("nobody stopped it")

    looks: Imports[Looking] = Imports()
    first = Looking(look, person_id=one.id, asked=("hash", "a.xlsx", ""))
    assert Looking(look, person_id=one.id, asked=("hash", "a.xlsx", "")).id == first.id
    assert Looking(look, person_id=one.id, asked=("hash", "a.xlsx", "bar")).id != first.id
    assert Looking(look, person_id=other.id, asked=("hash", "a.xlsx", "")).id != first.id
    looks.begin(first)
    while not first.rows:
        time.sleep(0.005)
    assert looks.find(first.id, other.id) is None
    assert (looks.find(first.id, one.id), first.stopped) == (first, False)
    first.stop()
    assert first.wait(5)
    assert (first.stopped, first.report, first.problems) == (True, None, ())
    looks.forget(first.id)
    assert looks.find(first.id, one.id) is None

    def refuse(_):
        raise FirstliftError(Problem("IMP-003", "it is damaged"))

    failed = Looking(refuse, person_id=one.id, asked=("hash", "b.xlsx"))
    looks.begin(failed)
    assert failed.wait(5)
    assert (failed.stopped, [problem.code for problem in failed.problems]) == (False, ["IMP-003"])
