"""The app in a real browser: the story to the issued certificate, axe on every page, looks, sizes, nothing fetched."""

import pytest
from tests.web.conftest import SIZES, faults
from tests.web.test_pages import ADA, EDA, pages


@pytest.mark.parametrize("look", ["day", "night", "contrast"])
def test_axe_finds_nothing_on_any_page_in_any_look(opened, laptop, store, look):
    page = opened("Hob")
    page.goto("/settings")
    page.get_by_label("Look").select_option(look)
    page.get_by_role("button", name="Keep").click()
    for path in pages(store):
        page.goto(path)
        assert faults(page) == [], path
    page.context.clear_cookies()
    page.goto("/who")
    assert faults(page) == []


def test_axe_finds_nothing_on_the_sign_in_and_its_refusal(browser, shared):
    page = browser.new_page(base_url=shared.url)
    page.goto("/")
    assert faults(page) == []
    page.get_by_label("Name").fill("Nobody")
    page.get_by_label("Password").fill("nothing of the kind")
    page.get_by_role("button", name="Sign in").click()
    assert page.get_by_role("alert").is_visible()
    assert faults(page) == []
    page.close()


@pytest.mark.parametrize("size", SIZES)
def test_no_page_is_wider_than_its_window_and_every_control_is_big_enough_for_gloves(opened, store, size):
    page = opened("Hob", size)
    controls = (
        "button, select, nav a, header a:not(.skip), summary, .plate[href], .rowlink, .button, .row[href], .crumbs a, "
        "label.tick, input:not([type=hidden]):not([type=checkbox])"
    )
    small = """kinds => [...document.querySelectorAll(kinds)]
        .filter(e => e.offsetParent && e.getBoundingClientRect().height < 47.9).map(e => e.outerHTML.slice(0, 120))"""
    for path in pages(store):
        page.goto(path)
        assert page.evaluate("document.documentElement.scrollWidth <= innerWidth"), path
        assert page.evaluate(small, controls) == [], path


def test_nothing_is_complained_of_on_the_console(opened, store):
    page = opened(ADA)
    said = []
    page.on("console", lambda message: said.append((page.url, message.text)) if message.type != "log" else None)
    page.on("pageerror", lambda error: said.append((page.url, str(error))))
    for path in pages(store):
        page.goto(path)
        page.wait_for_timeout(100)
    # what the browser says of a page that is not there, or of what was typed wrongly, is no fault of the page
    assert [each for each in said if "status of 4" not in each[1]] == []


def test_a_search_as_one_types_shows_the_valves_and_keeps_its_address(opened, store):
    page = opened(ADA)
    page.goto("/register")
    page.get_by_label("Tag or serial").press_sequentially("10-psv")
    page.wait_for_url("**/register?q=10-psv*")
    tags = page.locator("#found a.plate").all_inner_texts()
    assert tags
    assert all(tag.startswith("10-PSV") for tag in tags)
    page.go_back()
    assert page.url.endswith("/register")


def test_by_keys_alone_from_a_test_to_the_issued_certificate(opened, store):
    page = opened(ADA)
    test = next(path for path in pages(store) if path.startswith("/tests/"))
    page.goto(test)
    page.wait_for_selector("firstlift-traces canvas")
    page.get_by_role("button", name="Draft the certificate").focus()
    page.keyboard.press("Enter")
    page.wait_for_url("**/papers/*")
    assert "as technician you cannot review" in page.inner_text("main")
    paper = page.url
    second = opened(EDA, "tablet")
    second.goto(paper)
    second.get_by_role("checkbox").focus()
    second.keyboard.press("Space")
    second.keyboard.press("Tab")
    second.keyboard.press("Enter")
    second.get_by_role("button", name="Sign and issue").focus()
    second.keyboard.press("Enter")
    second.wait_for_selector("text=Take the signed PDF")
    with second.expect_download() as download:
        second.get_by_role("link", name="Take the signed PDF").press("Enter")
    assert download.value.suggested_filename.endswith(".pdf")


def test_a_printed_page_leaves_out_what_only_a_screen_can_use(opened, store):
    page = opened(ADA)
    page.goto(next(path for path in pages(store) if path.endswith("/plan")))
    page.emulate_media(media="print")
    assert not page.locator("header nav").is_visible()
    assert not page.locator("form").first.is_visible()
    assert page.get_by_text("If it goes wrong").is_visible()
