"""The chart module as people use it: by keys, by touch, by what a screen reader is told, in every look."""

import contextlib
import re
import time

import pytest
from axe_playwright_python.sync_playwright import Axe
from tests.web.traces_page import chromium, demo_shown, made_shown, make_app, served

from firstlift.web.trace_source import Shown

TRACES = "document.querySelector('firstlift-traces')"


@pytest.fixture(scope="module")
def browser():
    with chromium() as started:
        yield started


@pytest.fixture(scope="module")
def shown(tmp_path_factory):
    return demo_shown(tmp_path_factory.mktemp("case"))


@pytest.fixture(scope="module")
def base(shown):
    with served(make_app(shown)) as address:
        yield address


@contextlib.contextmanager
def opened(browser, address, *, width=1366, height=768, **more):
    """Open the page; on leaving, nothing may have gone elsewhere or been complained of."""
    context = browser.new_context(viewport={"width": width, "height": height}, **more)
    page = context.new_page()
    asked, said = [], []
    page.on("request", lambda request: asked.append(request.url))
    page.on("websocket", lambda socket: asked.append(socket.url))
    page.on("console", lambda message: said.append(message.text))
    page.on("pageerror", lambda error: said.append(str(error)))
    page.goto(address)
    page.wait_for_selector(".trace-table tbody td:not(:empty)")
    yield page
    place = re.match(r"https?://[^/]+", address)[0].removeprefix("http://")
    assert [url for url in asked if re.sub(r"^(http|ws)://", "", url).split("/")[0] != place and url != "data:,"] == []
    assert said == []
    context.close()


@pytest.fixture
def page(browser, base):
    with opened(browser, base) as made:
        yield made


def settled(page):
    page.evaluate(f"{TRACES}.busy")
    page.evaluate("new Promise((done) => requestAnimationFrame(() => requestAnimationFrame(done)))")


def press(page, *keys):
    for key in keys:
        page.keyboard.press(key)
        settled(page)


def now_of(page):
    return float(page.get_attribute(".trace-stack", "aria-valuenow"))


def view_of(page):
    return page.evaluate(f"{TRACES}.view")


def until(page, condition, *, most_s=15.0):
    """Wait for a condition by asking: the page's policy lets nobody evaluate text in it."""
    ends = time.monotonic() + most_s
    while not page.evaluate(condition):
        assert time.monotonic() < ends, condition
        page.wait_for_timeout(30)


def violations(page):
    return [(v["id"], [n["target"] for n in v["nodes"]]) for v in Axe().run(page).response["violations"]]


@pytest.mark.parametrize("look", ["day", "night", "contrast"])
def test_axe_finds_nothing_in_any_look(browser, base, look):
    with opened(browser, f"{base}/?look={look}") as page:
        assert violations(page) == []
        page.focus(".trace-stack")
        press(page, "l", "+", "m", "ArrowRight")
        page.click(".trace-keys summary")
        assert violations(page) == []


def test_the_cursor_walks_from_sample_to_sample_by_keys(page):
    page.focus(".trace-stack")
    press(page, "l", *"++++", "ArrowRight")  # first lift lies between samples
    assert page.inner_text(".trace-said").endswith("every sample is drawn.")
    before = now_of(page)
    press(page, "ArrowRight")
    assert now_of(page) - before == pytest.approx(0.001, abs=1e-6)
    press(page, "Shift+ArrowLeft")
    assert now_of(page) - before == pytest.approx(-0.009, abs=1e-6)
    told = page.get_attribute(".trace-stack", "aria-valuetext")
    assert re.fullmatch(
        r"[\d.]+ s\. Pull force −?[\d.]+ N; Lift −?[\d.]+ mm; Sound [\d.]+ mV; Line pressure [\d.]+ bar", told
    )


def test_what_is_told_at_the_cursor_is_the_sample(page, shown):
    page.focus(".trace-stack")
    press(page, "l", *"++++", "ArrowRight")
    force = shown.tracks[0]
    sample = force.values[abs(force.time_s - now_of(page)).argmin()]
    told = page.inner_text(".trace-table tbody tr:nth-child(2) td:nth-child(2)")
    assert float(told.removesuffix(" N")) == pytest.approx(float(sample), abs=0.006)


def test_first_lift_is_reached_by_key_and_lies_under_its_mark(page, shown):
    lifts = [pull["first_lift_s"] for pull in shown.about["pulls"]]
    page.focus(".trace-stack")
    seen = []
    for _ in lifts:
        press(page, "l")
        seen.append(now_of(page))
    assert sorted(seen) == pytest.approx(sorted(lifts), abs=1e-6)
    press(page, "Shift+L")
    assert now_of(page) == pytest.approx(seen[-2], abs=1e-6)
    cursor = page.locator(".trace-cursor").bounding_box()["x"]
    joint = page.locator(".trace-joint:visible").bounding_box()["x"]
    assert abs(cursor - joint) < 3
    marks = page.locator(".trace-panel[data-measures=spindle_lift] .trace-lift:visible")
    assert marks.count() == 1
    assert re.fullmatch(r"[\d.]+ s ± [\d.]+ ms", marks.inner_text())


def test_keys_zoom_move_and_go_back_to_the_whole(page, shown):
    page.focus(".trace-stack")
    whole = view_of(page)
    assert whole == [shown.from_s, shown.to_s]
    press(page, "+")
    closer = view_of(page)
    assert closer[1] - closer[0] == pytest.approx((whole[1] - whole[0]) / 2)
    press(page, "PageDown")
    assert view_of(page)[0] == pytest.approx(closer[0] + (closer[1] - closer[0]) / 2)
    press(page, "PageUp", "-")
    press(page, "0")
    assert view_of(page) == whole
    press(page, "End")
    assert now_of(page) == pytest.approx(shown.to_s)


def test_the_window_never_leaves_the_recording_nor_gets_shorter_than_samples(page, shown):
    page.focus(".trace-stack")
    press(page, "Home", *(["+"] * 20), "PageUp")
    start, stop = view_of(page)
    assert start == shown.from_s
    assert stop - start == pytest.approx(0.006, rel=1e-3)


def test_the_mark_gives_differences(page, shown):
    """The mark stands at first lift, between samples; the cursor goes on from the sample next to it."""
    page.focus(".trace-stack")
    press(page, "l", *"++++", "m")
    marked, times = now_of(page), shown.tracks[0].time_s
    press(page, *(["ArrowRight"] * 3))
    assert now_of(page) == pytest.approx(times[abs(times - marked).argmin() + 3], abs=1e-6)
    cells = page.locator(".trace-table tbody tr:first-child td").all_inner_texts()
    assert float(cells[2].removesuffix(" s")) == pytest.approx(now_of(page) - marked, abs=1e-4)
    press(page, "Escape")
    assert page.locator(".trace-table tbody tr:first-child td").all_inner_texts()[1] == "–"


def test_a_drag_zooms_to_what_was_drawn_over(page):
    box = page.locator(".trace-over").bounding_box()
    whole = view_of(page)
    per_pixel = (whole[1] - whole[0]) / box["width"]
    page.mouse.move(box["x"] + 300, box["y"] + 60)
    page.mouse.down()
    page.mouse.move(box["x"] + 420, box["y"] + 80, steps=4)
    page.mouse.move(box["x"] + 500, box["y"] + 80, steps=4)
    page.mouse.up()
    settled(page)
    start, stop = view_of(page)
    assert start == pytest.approx(whole[0] + 300 * per_pixel, abs=2 * per_pixel)
    assert stop == pytest.approx(whole[0] + 500 * per_pixel, abs=2 * per_pixel)
    page.mouse.dblclick(box["x"] + 200, box["y"] + 60)
    settled(page)
    assert view_of(page) == whole


def test_every_button_is_large_enough_for_a_glove_and_works_by_touch(browser, base, shown):
    with opened(browser, base, width=820, height=1180, has_touch=True) as page:
        for button in page.locator("button, summary, .trace-choice").all():
            assert button.bounding_box()["height"] >= 48
        page.get_by_role("button", name="Pull 2").tap()
        settled(page)
        start, stop = view_of(page)
        assert start < shown.about["pulls"][1]["first_lift_s"] < stop
        assert stop - start < 0.6 * (shown.to_s - shown.from_s)
        assert page.evaluate("document.documentElement.scrollWidth <= innerWidth")
        scroll = page.locator(".trace-scroll")
        assert scroll.evaluate("(e) => e.scrollWidth <= e.clientWidth")


def test_channels_hide_and_show_but_one_stays(page):
    boxes = page.locator(".trace-choice input")
    for i in range(4):
        boxes.nth(i).click()
    assert page.locator(".trace-panel:visible").count() == 1
    boxes.nth(0).click()
    assert page.locator(".trace-panel:visible").count() == 2
    assert "Line pressure" in page.get_attribute(".trace-stack", "aria-valuetext")


def test_a_gap_is_told_and_not_drawn_over(browser):
    made = made_shown(samples=2000, rate_hz=100.0, channels=1)
    made.tracks[0].values[500:1500] = float("nan")
    with served(make_app(made)) as base, opened(browser, base) as page:
        page.evaluate(f"{TRACES}.at = 10; {TRACES}.setMark()")
        assert page.inner_text(".trace-table tbody tr:nth-child(2) td:nth-child(2)") == "gap"
        box = page.locator(".trace-over").bounding_box()
        drawn = page.evaluate(
            """() => {
              const canvas = document.querySelector('.trace-plot canvas');
              const pen = canvas.getContext('2d');
              const { data, width, height } = pen.getImageData(0, 12, canvas.width, canvas.height - 50);
              const ink = (x) => {  // pixels as dark as the line, in a column
                let count = 0;
                for (let y = 0; y < height; y++) {
                  const i = 4 * (y * width + x);
                  if (data[i] < 80 && data[i + 3] > 200) count += 1;
                }
                return count;
              };
              const middle = Math.round(width / 2);
              const sum = (from) => [0, 1, 2, 3].reduce((total, x) => total + ink(from + x), 0);
              return [sum(174), sum(middle - 40)];
            }"""
        )
        assert box["width"] > 1000
        assert drawn[0] > 0
        assert drawn[1] == 0


def test_a_replay_draws_stops_and_goes_on_from_there(page):
    page.get_by_role("button", name="Play").click()
    until(page, f"{TRACES}.draws > 15")
    assert page.inner_text(".trace-said").startswith("replay")
    page.get_by_role("button", name="Pause").click()
    settled(page)
    stopped = page.evaluate(f"{TRACES}.resume")
    assert stopped > 0.4
    assert now_of(page) == pytest.approx(stopped)
    assert "samples" in page.inner_text(".trace-said") or "every" in page.inner_text(".trace-said")
    page.get_by_role("button", name="Play").click()
    until(page, f"{TRACES}.live.stop > {stopped + 0.3}")
    assert page.evaluate(f"{TRACES}.live.start") == pytest.approx(stopped)


def test_a_replay_that_ended_says_so(browser, shown: Shown):
    made = made_shown(samples=600, rate_hz=500.0, channels=6)
    with served(make_app(made)) as base, opened(browser, base) as page:
        page.get_by_role("button", name="Play").click()
        until(page, "document.querySelector('.trace-said').textContent.includes('ended')")
        assert page.get_by_role("button", name="Play").is_visible()


def test_traces_that_cannot_be_read_say_so_and_can_be_tried_again(browser, base):
    context = browser.new_context()
    page = context.new_page()
    page.route("**/about", lambda route: route.fulfill(status=503))
    page.goto(base)
    page.wait_for_selector("[role=alert]")
    assert "503" in page.inner_text("[role=alert]")
    assert violations(page) == []
    page.unroute("**/about")
    page.get_by_role("button", name="Try again").click()
    page.wait_for_selector(".trace-table")
    context.close()


def test_the_app_s_own_words_are_shown_and_a_lost_session_is_said(browser, base):
    context = browser.new_context()
    page = context.new_page()
    told = '{"problems": [{"code": "STO-011", "what": "a kept file is damaged", "next": "Bring it back"}]}'
    page.route("**/about", lambda route: route.fulfill(status=422, content_type="application/json", body=told))
    page.goto(base)
    page.wait_for_selector("[role=alert]")
    assert "cannot be shown: a kept file is damaged. Bring it back." in page.inner_text("[role=alert]")
    page.unroute("**/about")
    page.get_by_role("button", name="Try again").click()
    page.wait_for_selector(".trace-table")
    page.evaluate(f"{TRACES}.setAttribute('src', '/gone')")
    page.get_by_role("button", name="Closer").click()
    page.wait_for_selector("[role=alert]")
    assert "signed out" in page.inner_text("[role=alert]")
    context.close()
