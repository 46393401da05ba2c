"""The stories of the app by keyboard alone: no pointer, and no control given the focus but by keys.

At every stop of the Tab key the focus is seen (tests/web/keyboard.py); after every deed it stands where the work goes
on. The visit and the review are in test_keyboard_work.py, sign-in and roles in test_keyboard_people.py.
"""

from contextlib import closing
from uuid import uuid4

import pytest
from tests.web.app_server import served
from tests.web.conftest import faults
from tests.web.keyboard import Keys, out_of_order, walk
from tests.web.test_pages import ADA
from tests.web.test_stories import HELD, payload, recorded_of

from firstlift.core.register.equipment import RegisteredValve
from firstlift.core.register.places import Site
from firstlift.store.open import create_store
from firstlift.usecases.register.place import now
from firstlift.web.settings import Settings

HEADS = "Owner;Site;Tag;Serial;Medium;Set pressure [bar]"


def sheet_of(name, *rows):
    text = "\n".join((HEADS, *rows, ""))
    return [{"name": name, "mimeType": "text/csv", "buffer": text.encode()}]


def test_from_the_first_start_to_the_first_certificate(browser, tmp_path, monkeypatch, store, outside):
    monkeypatch.setenv("FIRSTLIFT_HOME", str(tmp_path / "home"))
    pulls = recorded_of(store, outside)
    with (
        closing(create_store(tmp_path / "new", store_id=uuid4(), at=now())) as new,
        served(new, Settings(tmp_path / "first.sqlite")) as app,
    ):
        context = browser.new_context(base_url=app.url, viewport={"width": 1280, "height": 800})
        page = context.new_page()
        page.goto("/")
        keys = Keys(page)
        keys.fill("Your name", "Una Newcomer").follow("^Begin$")
        keys.skip().follow("Take valves in")
        keys.files("Spreadsheet", sheet_of("valves.csv", "Marrow Bay Energy;Gullstone terminal;PSV-1;A1;liquid;44,7"))
        keys.follow("Look at it").landed("1 row can be taken")
        keys.follow("Take 1 row in").landed("1 row was taken in")
        keys.follow("Go to the register").skip().follow("PSV-1").skip().follow("Bring in a recording").skip()
        day = now().date()
        keys.files("^Files", payload(pulls.files("first", pulls.changed(force=HELD), tag="PSV-1", serial="A1", on=day)))
        keys.follow("Analyse and keep").landed()
        page.get_by_role("heading", name="What came in").wait_for(timeout=60_000)
        keys.settled().landed("What came in").follow("first.toml")
        keys.skip().follow("Draft the certificate").landed("waits for a reviewer")

        keys.to("Una Newcomer", key="Shift+Tab")
        with keys.leaving():
            keys("Enter")
        keys.skip().follow("Somebody else works now")
        keys.to("Somebody else", tag="summary")("Enter")
        keys.fill("Your name", "Otto Second").pick("You work here as", "engineer").follow("^Begin$")
        keys.skip().follow("draft next: review").skip()
        keys.to("I have read the draft", type="checkbox")("Space")
        keys.follow("Mark as reviewed").landed("Signed and issued")
        keys.follow("Sign and issue").landed("Signed and issued")
        keys.to("Take the signed PDF", key="Shift+Tab")
        with page.expect_download() as download:
            keys("Enter")
        assert download.value.suggested_filename.endswith(".pdf")
        context.close()


def test_a_spreadsheet_with_errors_is_put_right_and_taken_in(hands, store):
    keys = hands("Hob Driftwood")
    page = keys.page
    keys.follow("^Register$").skip().follow("Take valves in").skip()
    # what is no spreadsheet is refused on a page that has the focus, and the way back is there
    keys.files("Spreadsheet", [{"name": "x.csv", "mimeType": "text/csv", "buffer": b"\x00\x01\x02\x03"}])
    keys.to("Look at it")("Enter")
    page.locator(".refusal").first.wait_for()
    keys.landed(tag="div")
    keys.to("Take valves in", key="Shift+Tab")
    with keys.leaving():
        keys("Enter")
    rows = ("Marrow Bay Energy;North quay;PSV-1;Q1;gas;12", "Marrow Bay Energy;North quay;PSV-2;Q2;steam;high")
    bare = sheet_of("valves.csv", *rows)
    bare[0]["buffer"] = bare[0]["buffer"].replace(b" [bar]", b"")
    keys.skip().files("Spreadsheet", bare).follow("Look at it").landed("unit")
    assert page.get_by_role("heading", name="To be settled first").is_visible()
    keys.fill("without a unit", "bar").follow("Look again").landed("1 row can be taken, 1 cannot")
    # sent without the tick, the browser leads to it and nothing is taken
    keys.to("Take 1 row in")("Enter")
    keys.landed("Leave the row above out", type="checkbox")
    keys("Space").follow("Take 1 row in").landed("1 row was taken in")
    assert "1 row was left out" in page.inner_text("main")
    assert faults(page) == []
    with store.read() as reader:
        assert [one.serial for one in reader.list(RegisteredValve) if one.serial in ("Q1", "Q2")] == ["Q1"]


def test_another_language_is_chosen_and_the_way_stays_the_same(hands):
    keys = hands(ADA)
    page = keys.page
    keys.follow(ADA).skip().pick("^Language", "Deutsch").follow("^Keep$")
    assert page.evaluate("document.documentElement.lang") == "de"
    keys.landed(tag="h1")
    assert out_of_order(walk(page)) == []
    keys.skip().to("^Sprache", tag="select")("End")("ArrowUp").follow("", type="submit")
    assert page.evaluate("document.documentElement.dir") == "rtl"
    keys.landed(tag="h1")
    assert out_of_order(walk(page), rtl=True) == []
    # before anybody is known, each language is a link by its own name
    keys.skip()
    page.context.clear_cookies()
    page.goto("/who")
    keys.follow("^Polski$")
    assert page.evaluate("document.documentElement.lang") == "pl"


PAGES = ("/", "/visits", "/register?q=10", "/papers", "/verify", "/instruments", "/fleet", "/pocket", "/settings",
         "/people", "/clients", "/help", "/import", "/spreadsheet", "/account", "/visits/new?site={site}",
         "/valves/{valve}", "/valves/{valve}/plan", "/valves/{valve}/hazard", "/tests/{test}", "/tests/{test}/adjust",
         "/nowhere")  # fmt: skip


@pytest.mark.parametrize(("size", "look"), [("laptop", ""), ("tablet", "night"), ("laptop", "contrast")])
def test_every_page_is_gone_through_by_tab_in_reading_order(hands, store, outside, size, look):
    keys = hands("Hob Driftwood", size)
    page = keys.page
    if look:
        keys.follow("Hob Driftwood").skip().pick("^Look", look if look == "night" else "high").follow("^Keep$")
    with store.read() as reader:
        ids = {"site": reader.list(Site)[0].id, "valve": outside.valve_id, "test": outside.id}
    for path in PAGES:
        page.goto(path.format(**ids))
        if path.startswith("/tests/{test}") and "adjust" not in path:
            page.wait_for_selector("firstlift-traces canvas")
        keys.settled()
        stops = walk(page)
        assert stops[0]["html"].startswith('<a class="skip"'), path
        assert out_of_order(stops) == [], path
        assert [stop["html"] for stop in stops if 'tabindex="0"' in stop["html"] and "role" not in stop["html"]] == []
