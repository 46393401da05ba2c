"""Habits of the interface: drafts outlive a restart, nothing is ended by one press, long work can be stopped."""

import re
import threading
import time
import uuid

import pytest
from axe_playwright_python.sync_playwright import Axe
from tests.web.app_server import served
from tests.web.test_pages import ADA, recorded
from tests.web.test_spreadsheet import GOOD
from tests.web.traces_page import chromium

from firstlift.core.errors import FirstliftError
from firstlift.core.register.people import Person
from firstlift.core.register.places import Owner, Site
from firstlift.core.register.work import ValveTest
from firstlift.usecases.papers.find import name_of
from firstlift.web.bringing import Bringing, Brought, Imports, new_folder
from firstlift.web.drafts import Drafts, read_fields
from firstlift.web.pages import importing, spreadsheet
from firstlift.web.settings import Settings

__all__ = ["recorded"]


@pytest.fixture(scope="module")
def browser():
    with chromium() as started:
        yield started


@pytest.fixture
def planner(store):
    with store.read() as reader:
        return next(person for person in reader.list(Person) if name_of(person).startswith("Hob"))


def opened(browser, url, name):
    page = browser.new_page(viewport={"width": 1280, "height": 800}, base_url=url)
    page.goto("/who")
    page.get_by_role("button", name=re.compile(name)).press("Enter")
    page.wait_for_url("**/")
    return page


def test_a_half_filled_form_outlives_a_restart_and_is_gone_once_it_is_sent(browser, store, register):
    settings = Settings(register / "accounts.sqlite")
    with store.read() as reader:
        site = f"/visits/new?site={reader.list(Site)[0].id}"
    with served(store, settings) as app:
        page = opened(browser, app.url, "Hob")
        page.goto(site)
        boxes = page.get_by_role("checkbox")
        page.get_by_label("Permit number").fill("PTW-77")
        boxes.last.check()
        ticked = page.locator("input:checked").count()
        with page.expect_response("**/drafts") as kept:
            boxes.last.focus()
        assert kept.value.status == 204
        page.close()
    with served(store, settings) as app:  # another process would find no more than the file either
        page = opened(browser, app.url, "Hob")
        page.goto(site)
        said = page.locator(".kept")
        said.wait_for()
        assert "put back" in said.inner_text()
        assert page.get_by_label("Permit number").input_value() == "PTW-77"
        assert page.locator("input:checked").count() == ticked
        assert Axe().run(page).response["violations"] == []
        other = opened(browser, app.url, ADA)
        other.goto(site)
        other.wait_for_timeout(300)
        assert other.get_by_label("Permit number").input_value() == ""
        # neither an app that is away just then nor a session that is over loses it
        plan = page.get_by_role("button", name="Plan this visit")
        page.route("**/visits/new", lambda route: route.abort())
        plan.press("Enter")
        page.unroute_all()
        page.goto(site)
        said.wait_for()
        page.context.clear_cookies()
        plan.press("Enter")
        page.wait_for_url("**/who*")
        page.get_by_role("button", name=re.compile("Hob")).press("Enter")
        page.wait_for_url("**/")
        page.goto(site)
        said.wait_for()
        assert page.get_by_label("Permit number").input_value() == "PTW-77"
        plan.press("Enter")
        page.wait_for_url(re.compile(r"/visits/[0-9a-f-]{36}"))
        page.goto(site)
        page.wait_for_load_state("networkidle")
        assert page.get_by_label("Permit number").input_value() == ""
        assert page.locator(".kept").count() == 0
        page.close()
        other.close()


def test_what_was_refused_is_still_there_and_can_be_begun_afresh(browser, laptop):
    page = opened(browser, laptop.url, ADA)
    page.goto("/pocket")
    page.get_by_label("Line pressure").first.fill("8 furlongs")
    for label, text in (("Pull", "141"), ("Mean seat diameter", "30"), ("Stamped set pressure", "10")):
        page.get_by_label(label).first.fill(text)
    page.get_by_role("button", name="Work it out").press("Enter")
    page.locator(".refusal").first.wait_for()
    page.goto("/pocket")
    page.locator(".kept").wait_for()
    assert page.get_by_label("Line pressure").first.input_value() == "8 furlongs"
    with page.expect_response("**/drafts/drop"):
        page.get_by_role("button", name="Begin afresh").press("Enter")
    assert page.get_by_label("Line pressure").first.input_value() == ""
    page.reload()
    page.wait_for_load_state("networkidle")
    assert page.locator(".kept").count() == 0
    page.close()


def test_help_opens_over_the_page_and_gives_the_focus_back(browser, laptop):
    page = opened(browser, laptop.url, ADA)
    page.goto("/pocket")
    link = page.get_by_role("link", name="What counts as a seat area?")
    link.press("Enter")
    dialog = page.get_by_role("dialog")
    dialog.wait_for()
    assert "Never the orifice letter" in dialog.inner_text()
    assert Axe().run(page).response["violations"] == []
    page.keyboard.press("Escape")
    dialog.wait_for(state="detached")
    assert link.evaluate("link => link === document.activeElement")
    keys = page.locator("[accesskey]").evaluate_all("all => all.map(each => each.accessKey)")
    assert len(keys) == len(set(keys))
    # as a keyboard sends it: with what the key would have typed
    pressed = {"type": "char", "modifiers": 1, "key": "3", "text": "3", "unmodifiedText": "3"}
    page.context.new_cdp_session(page).send("Input.dispatchKeyEvent", pressed)
    page.wait_for_url("**/register")
    page.close()


def test_nothing_is_ended_by_one_press_and_the_consequence_is_said_first(browser, laptop):
    page = opened(browser, laptop.url, "Hob")
    second = opened(browser, laptop.url, "Hob")
    page.goto("/account")
    deed = page.get_by_role("button", name="End this session")
    assert not deed.is_visible()
    page.locator("summary", has_text=re.compile("^End it")).press("Enter")
    assert page.get_by_text("asked to come in again").is_visible()
    page.keyboard.press("Escape")
    assert not deed.is_visible()
    page.keyboard.press("Enter")
    deed.press("Enter")
    page.wait_for_load_state()
    second.goto("/visits")
    assert "/who" in second.url
    page.close()
    second.close()


def test_drafts_are_ones_own_bounded_and_read_strictly(tmp_path, planner):
    drafts = Drafts(tmp_path / "accounts.sqlite")
    for number in range(45):
        drafts.keep(planner.id, f"/visits/new|/visits/new|{number}", {"name": [str(number)]})
    kept = drafts.kept(planner.id, "/visits/new")
    assert len(kept) == 40
    assert all(draft.fields == {"name": [draft.form.rpartition("|")[2]]} for draft in kept)
    assert drafts.kept(planner.id, "/visits") == []
    for text in ("", "[1]", '{"a": "b"}', '{"a": [1]}', "[" * 5000):
        with pytest.raises(FirstliftError):
            read_fields(text)
    with pytest.raises(FirstliftError):
        drafts.keep(planner.id, "/pocket||", {"line": ["x" * 50_000]})
    with pytest.raises(FirstliftError):
        drafts.keep(planner.id, "a\nb", {})


def test_an_import_is_watched_and_stopped_after_the_sheet_it_is_at(planner, store):
    folder = new_folder()
    sheets = [folder / f"{number}.toml" for number in range(5)]
    for sheet in sheets:
        sheet.touch()
    reached, go_on = threading.Event(), threading.Event()

    def bring(sheet):
        reached.set()
        go_on.wait(5)
        if sheet.name == "0.toml":
            raise RuntimeError("unforeseen")
        return Brought(sheet.name)

    imports = Imports()
    one = Bringing(folder, sheets, bring, person_id=planner.id, visit_id=None)
    imports.begin(one)
    assert reached.wait(5)
    assert (one.now, one.over, imports.running(planner.id)) == ("0.toml", False, [one])
    with store.read() as reader:
        somebody_else = next(person for person in reader.list(Person) if person.id != planner.id)
    assert imports.find(one.id, somebody_else.id) is None
    one.stop()
    go_on.set()
    assert one.wait(5)
    assert (len(one.brought), one.left, folder.exists()) == (1, 4, False)
    assert one.brought[0].problems[0].code == "USE-001"
    assert imports.running(planner.id) == []


def test_a_folder_of_sheets_shows_how_far_it_is_and_can_be_stopped(
    browser, laptop, store, recorded, tmp_path, monkeypatch
):
    _, sheet, recording = recorded
    name = re.search(r'file = "([^"]+)"', sheet).group(1)
    for number in range(3):  # a folder each, as teams keep them: the names are the same
        place = tmp_path / "visit" / f"valve {number}"
        place.mkdir(parents=True)
        (place / "jobsheet.toml").write_text(sheet)
        (place / name).write_bytes(recording)
    analyse, go_on = importing.analyse_in_register, threading.Event()

    def slowly(*values):
        go_on.wait(20)
        return analyse(*values)

    monkeypatch.setattr(importing, "analyse_in_register", slowly)
    with store.read() as reader:
        before = reader.count(ValveTest)
    page = opened(browser, laptop.url, ADA)
    page.goto("/import")
    page.locator("[webkitdirectory]").set_input_files(tmp_path / "visit")
    page.get_by_role("button", name="Analyse and keep").press("Enter")
    page.wait_for_url("**/import/running/*")
    assert "0 of 3 job sheets" in page.get_by_role("status").inner_text()
    stop = page.get_by_role("button", name="Stop after this sheet")
    stop.focus()
    with page.expect_response("**/import/running/*?seen=0") as again:
        pass  # it asks again by itself, and does not move what is under one's finger
    assert again.value.status == 204
    assert stop.evaluate("stop => stop === document.activeElement")
    assert Axe().run(page).response["violations"] == []
    stop.press("Enter")
    page.get_by_text("It stops after the sheet").wait_for()
    go_on.set()
    page.get_by_role("heading", name="What came in").wait_for()
    assert "Stopped: 1 of 3" in page.get_by_role("status").inner_text()
    # the same recording twice is refused: the folder's own names were kept, and the sheet was read
    assert "valve 0" in page.inner_text("main")
    with store.read() as reader:
        assert reader.count(ValveTest) == before
    page.close()


def test_rows_being_taken_in_can_be_stopped_and_leave_nothing(browser, laptop, store, monkeypatch, tmp_path):
    begun = threading.Event()

    def many_rows(store, path, mapping, *, at, who, take_good_rows, progress):
        with store.work(at=at, who=who) as work:
            work.add(Owner(uuid.uuid4(), "half an import"))
            begun.set()
            for _ in range(200):
                progress(0.5, 400)
                time.sleep(0.1)

    monkeypatch.setattr(spreadsheet, "import_sheet", many_rows)
    sheet = tmp_path / "valves.csv"
    sheet.write_text(GOOD)
    page = opened(browser, laptop.url, "Hob")
    page.goto("/spreadsheet")
    page.get_by_label("Spreadsheet").set_input_files(sheet)
    page.get_by_role("button", name="Look at it").press("Enter")
    page.get_by_role("button", name=re.compile("^Take 2 rows")).press("Enter")
    page.wait_for_url("**/spreadsheet/taking/*")
    assert begun.is_set()
    page.get_by_text("400 rows so far").wait_for()
    assert Axe().run(page).response["violations"] == []
    page.get_by_role("button", name="Stop; keep nothing").press("Enter")
    page.get_by_role("heading", name="Stopped: nothing was taken in").wait_for()
    with store.read() as reader:
        assert "half an import" not in [owner.name for owner in reader.list(Owner)]
    page.close()
