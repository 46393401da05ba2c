"""Whole stories in a real browser, by whoever works there; nothing is ever asked of anywhere else.

First start to first certificate; a visit of five valves with one stuck, one stayed open and one adjusted; a pull
rejected and the certificate superseded, by keys alone; the screens of review and adjustment in every look and size.
"""

import datetime as dt
import re
from contextlib import closing
from dataclasses import replace
from uuid import UUID, uuid4

import pytest
from tests.web.app_server import served
from tests.web.conftest import SIZES, faults
from tests.web.made_pulls import Pulls
from tests.web.test_pages import ADA, EDA

from firstlift.core.register.equipment import Installation, RegisteredValve
from firstlift.core.register.places import Interval, Position, Site
from firstlift.core.register.work import Certificate, CertificateState, ValveTest
from firstlift.store.audit import audit
from firstlift.store.files import read_kept
from firstlift.store.open import create_store
from firstlift.usecases.register.place import now
from firstlift.web.settings import Settings

HELD = 1.131  # the pull that opens the invented valve at its stamp, over what opened it then
FIVE = {
    "01": {"force": HELD},
    "02": {"force": HELD, "first": 1.1},
    "03": {"force": HELD, "stays_open": True},
    "04": {"force": 1.0},
    "05": {"force": HELD},
}


def recorded_of(store, test):
    return Pulls(
        read_kept(store.folder, test.sheet_sha256).decode(), read_kept(store.folder, test.recording_sha256)
    )  # fmt: skip


def payload(files):
    kinds = {"toml": "application/toml", "csv": "text/csv"}
    return [{"name": name, "mimeType": kinds[name.rpartition(".")[2]], "buffer": data} for name, data in files]


def bring(page, files, visit=""):
    page.goto(f"/import{visit and '?visit='}{visit}")
    page.get_by_label("Files", exact=True).set_input_files(payload(files))
    page.get_by_role("button", name="Analyse and keep").press("Enter")
    page.get_by_role("heading", name="What came in").wait_for(timeout=60_000)
    assert "was not taken in" not in page.inner_text("main")


@pytest.fixture
def site(store, outside):
    """A site with five valves like the one whose recording is there."""
    with store.read() as reader:
        valve = reader.get(RegisteredValve, outside.valve_id)
        position = reader.get(Position, outside.position_id)
        owner = reader.get(Site, position.site_id).owner_id
    made = Site(uuid4(), owner, "Heron Lane works", zone="Europe/Lisbon")
    entries = [made]
    for number in FIVE:
        place = replace(position, id=uuid4(), site_id=made.id, tag=f"40-PSV-{number}", unit="Unit 40", system_id=None)
        hung = replace(valve, id=uuid4(), serial=f"TS-{number}")
        entries += [place, hung, Installation(uuid4(), hung.id, place.id, dt.date(2020, 1, 1))]
        entries.append(Interval(uuid4(), place.id, 24, dt.date(2020, 1, 1)))
    with store.work(at=now(), who="program:test") as work:
        work.add_all(entries)
    return made


def test_a_visit_of_five_valves_one_stuck_one_stayed_open_one_adjusted_until_within(opened, store, site, outside):
    pulls = recorded_of(store, outside)
    page = opened(ADA)
    page.set_viewport_size({"width": 1920, "height": 1080})
    page.goto(f"/visits/new?site={site.id}")
    page.get_by_label("Permit number").fill("PTW-40")
    page.get_by_label("First day").fill("2026-11-24")
    page.get_by_role("button", name="Plan this visit").press("Enter")
    page.wait_for_url(re.compile(r"/visits/[0-9a-f-]{36}$"))
    visit = page.url.rpartition("/")[2]
    assert "5 of 5 valves are left" in page.inner_text("main")
    files = []
    for number, how in FIVE.items():
        said = {"tag": f"40-PSV-{number}", "serial": f"TS-{number}", "site": site.name}
        files += pulls.files(f"v{number}", pulls.changed(**how), **said)
    bring(page, files, visit)
    page.goto(f"/visits/{visit}")
    rows = {row.inner_text().split()[0]: row.inner_text() for row in page.locator("tbody tr:not(.part)").all()}
    assert "within" in rows["40-PSV-01"]
    assert "Not fit" in rows["40-PSV-02"]
    assert "Inoperable" in rows["40-PSV-03"] or "inoperable" in rows["40-PSV-03"]
    assert "outside" in rows["40-PSV-04"]
    page.goto("/")
    assert "did not close or does not move" in page.inner_text("main")

    page.goto(f"/visits/{visit}")
    page.get_by_role("row", name="40-PSV-04").get_by_role("link", name="outside").press("Enter")
    page.get_by_role("link", name="Adjust and repeat").press("Enter")
    assert "Do not turn" in page.inner_text("main")
    page.get_by_label("Line pressure now").fill("435 psi")
    page.get_by_label("Adjusting was allowed by").fill("Plant engineer")
    page.get_by_label("The pull is let go").check()
    page.get_by_role("button", name="Work it out").press("Enter")
    page.get_by_text("flats to the right").first.wait_for()
    page.get_by_label("Turns of the screw").fill("1,75")
    page.get_by_label("Seals cut").fill("L100")
    page.get_by_label("Seals put on").fill("L101")
    page.get_by_label("When").fill("2025-09-30T13:00")
    page.get_by_role("button", name="Keep what was done").press("Enter")
    page.get_by_text("seals L100 → L101").wait_for()
    found = re.search(r"/tests/([0-9a-f-]{36})", page.url)[1]
    left = {"tag": "40-PSV-04", "serial": "TS-04", "site": site.name, "purpose": "as-left"}
    bring(page, pulls.files("left", pulls.changed(force=HELD, repeat=2), **left), visit)
    page.goto(f"/tests/{found}/adjust")
    assert "As left it lies within its limits" in page.inner_text("main")
    page.goto(f"/visits/{visit}")
    assert "within" in page.get_by_role("row", name="40-PSV-04").inner_text()
    with store.read() as reader:
        assert reader.get(ValveTest, UUID(found)).verdict == "outside"
        assert audit(reader).faults == ()


def tab_to(page, name):
    """Go on with the Tab key until a control has the focus, as one does without a mouse."""
    for _ in range(150):
        page.keyboard.press("Tab")
        if name in page.evaluate("document.activeElement.name || document.activeElement.innerText || ''"):
            return
    raise AssertionError(f"'{name}' is not reached by Tab on {page.url}")


def issue_by_keys(page, second, paper):
    second.goto(paper)
    second.get_by_role("checkbox").focus()
    second.keyboard.press("Space")
    tab_to(second, "Mark as reviewed")
    second.keyboard.press("Enter")
    second.get_by_role("button", name="Sign and issue").wait_for()
    tab_to(second, "Sign and issue")
    second.keyboard.press("Enter")
    second.get_by_text("Take the signed PDF").wait_for()


def test_by_keys_alone_a_pull_is_rejected_and_the_certificate_superseded(opened, store, outside):
    page, second = opened(ADA), opened(EDA, "tablet")
    page.goto(f"/tests/{outside.id}")
    tab_to(page, "Draft the certificate")
    page.keyboard.press("Enter")
    page.wait_for_url("**/papers/*")
    first = page.url
    issue_by_keys(page, second, first)

    page.goto(f"/tests/{outside.id}")
    tab_to(page, "Reject a pull")
    page.keyboard.press("Enter")
    tab_to(page, "pull")
    page.keyboard.press("ArrowDown")
    tab_to(page, "reason")
    page.keyboard.type("Somebody leaned on the rig")
    tab_to(page, "Keep it, and judge again")
    page.keyboard.press("Enter")
    page.wait_for_url(lambda url: str(outside.id) not in url)
    said = page.get_by_role("region", name="Said by hand").inner_text()
    assert "Somebody leaned on the rig" in said
    assert "does not count" in said
    assert faults(page) == []

    tab_to(page, "supersedes")
    tab_to(page, "reason")
    page.keyboard.type("Pull 2 does not count")
    tab_to(page, "Draft the certificate")
    page.keyboard.press("Enter")
    page.wait_for_url("**/papers/*")
    issue_by_keys(page, second, page.url)
    second.goto(first)
    assert "Superseded by" in second.inner_text("main")
    with store.read() as reader:
        states = sorted(str(paper.state) for paper in reader.list(Certificate) if paper.text in (first + second.url))
        assert CertificateState.SUPERSEDED in states


def test_from_the_first_start_to_the_first_certificate(browser, tmp_path, monkeypatch, store, outside):
    monkeypatch.setenv("FIRSTLIFT_HOME", str(tmp_path / "home"))
    pulls = recorded_of(store, outside)
    with (
        closing(create_store(tmp_path / "new", store_id=uuid4(), at=now())) as new,
        served(new, Settings(tmp_path / "first.sqlite")) as app,
    ):
        context = browser.new_context(base_url=app.url)
        page, asked = context.new_page(), []
        page.on("request", lambda request: asked.append(request.url))
        page.goto("/")
        page.get_by_label("Your name").fill("Una Newcomer")
        page.get_by_role("button", name="Begin").press("Enter")
        page.wait_for_url("**/")
        page.goto("/spreadsheet")
        heads = "Owner;Site;Tag;Serial;Medium;Set pressure [bar]"
        row = f"{heads}\nMarrow Bay Energy;Gullstone terminal;PSV-1;A1;liquid;44,7\n"
        page.get_by_label("Spreadsheet").set_input_files(
            [{"name": "valves.csv", "mimeType": "text/csv", "buffer": row.encode()}]
        )
        page.get_by_role("button", name="Look at it").press("Enter")
        page.get_by_role("button", name="Take 1 row in").press("Enter")
        page.get_by_role("heading", name="1 row was taken in").wait_for()
        bring(page, pulls.files("first", pulls.changed(force=HELD), tag="PSV-1", serial="A1", on=now().date()))
        page.get_by_role("link", name="first.toml").press("Enter")
        assert "within" in page.locator("p.stands").first.inner_text()
        page.get_by_role("button", name="Draft the certificate").press("Enter")
        page.wait_for_url("**/papers/*")
        paper = page.url
        page.goto("/settings")
        page.get_by_role("button", name="Somebody else works now").press("Enter")
        page.get_by_text("Somebody else", exact=True).press("Enter")
        page.get_by_label("Your name").fill("Otto Second")
        page.get_by_label("You work here as").select_option("engineer")
        page.get_by_role("button", name="Begin").press("Enter")
        page.wait_for_url("**/")
        page.goto(paper)
        page.get_by_role("checkbox").check()
        page.get_by_role("button", name="Mark as reviewed").press("Enter")
        page.get_by_role("button", name="Sign and issue").press("Enter")
        with page.expect_download() as download:
            page.get_by_role("link", name="Take the signed PDF").press("Enter")
        assert download.value.suggested_filename.endswith(".pdf")
        context.close()
        assert [url for url in asked if not url.startswith((app.url, "data:", "blob:"))] == []


def test_review_and_adjustment_are_fit_for_every_look_and_size(opened, store, outside):
    page = opened(ADA)
    review, turn = f"/tests/{outside.id}", f"/tests/{outside.id}/adjust?line=30+bar&off=1&by=x&rate=120+N/mm&pitch=2+mm"
    for look in ("day", "night", "contrast"):
        page.goto("/settings")
        page.get_by_label("Look").select_option(look)
        page.get_by_role("button", name="Keep").press("Enter")
        page.goto(review)
        page.locator("#review > summary").press("Enter")
        assert faults(page) == [], look
    for path in (turn, f"/tests/{outside.id}/adjust?line=30+N"):
        page.goto(path)
        assert faults(page) == [], path
    controls = "button, select, summary, input:not([type=hidden]):not([type=checkbox])"
    small = """kinds => [...document.querySelectorAll(kinds)]
        .filter(e => e.offsetParent && e.getBoundingClientRect().height < 48).map(e => e.outerHTML.slice(0, 120))"""
    for width, height in (*SIZES.values(), (1920, 1080)):
        page.set_viewport_size({"width": width, "height": height})
        page.goto(review)
        page.locator("#review > summary").press("Enter")
        for _ in ("review", "turn"):
            assert page.evaluate("document.documentElement.scrollWidth <= innerWidth"), (width, page.url)
            assert page.evaluate(small, controls) == [], (width, page.url)
            page.goto(turn)


def test_the_moment_under_the_cursor_is_taken_as_first_lift(opened, store, outside):
    page = opened(ADA, "tablet")
    page.goto(f"/tests/{outside.id}")
    page.wait_for_selector("firstlift-traces canvas")
    page.locator("#review > summary").press("Enter")
    page.wait_for_function("Number.isFinite(document.querySelector('firstlift-traces').at)")
    page.get_by_role("button", name="Take the moment under the cursor").press("Enter")
    moment = float(page.get_by_label("First lift was at").input_value())
    assert moment == pytest.approx(outside.result.pulls[0].first_lift_s, abs=0.05)
    page.get_by_label("What").select_option("move")
    page.get_by_label("Why").fill("The lift left its line here")
    page.get_by_role("button", name="Keep it, and judge again").press("Enter")
    page.wait_for_url(lambda url: str(outside.id) not in url)
    assert "first lift moved" in page.get_by_role("region", name="Said by hand").inner_text()
