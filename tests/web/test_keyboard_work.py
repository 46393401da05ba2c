"""A visit and a review by keyboard alone.

Five valves with one stuck, one stayed open, one out of tolerance that is adjusted and tested again; a pull rejected and
a first lift moved to a sample found in the traces, and the certificate superseded.
"""

import re
from uuid import UUID

import pytest
from tests.web.conftest import faults
from tests.web.made_pulls import Pulls
from tests.web.test_pages import ADA, EDA
from tests.web.test_stories import FIVE, HELD, payload, recorded_of, site

from firstlift.core.register.work import Certificate, CertificateState, ValveTest
from firstlift.store.audit import audit

__all__ = ["Pulls", "site"]


def bring(keys, files):
    """From a page of bringing in: choose the files, send them, wait until all came in."""
    keys.files("^Files", payload(files)).follow("Analyse and keep").landed()
    keys.page.get_by_role("heading", name="What came in").wait_for(timeout=90_000)
    keys.settled().landed("What came in")
    assert "was not taken in" not in keys.page.inner_text("main")


def test_a_visit_of_five_valves_one_stuck_one_stayed_open_one_adjusted_until_within(hands, store, site, outside):
    pulls = recorded_of(store, outside)
    keys = hands(ADA)
    page = keys.page
    keys.follow("^Visits$").skip().follow("Plan a visit").skip().pick("^Site", site.name).follow("Show its valves")
    keys.landed("First day")("Tab")("Tab")("Tab")
    keys.fill("Permit number", "PTW-40").follow("Plan this visit").landed(tag="h1")
    visit = page.url
    assert "5 of 5 valves are left" in page.inner_text("main")
    # what is confirmed stands below with who and when, and has the focus
    keys.to("Permit and authority", tag="summary")("Enter").fill("Note", "shown at the gate").follow("I confirm it")
    keys.landed("Permit and authority .* shown at the gate", tag="li")

    files = []
    for number, how in FIVE.items():
        said = {"tag": f"40-PSV-{number}", "serial": f"TS-{number}", "site": site.name}
        files += pulls.files(f"v{number}", pulls.changed(**how), **said)
    bring(keys.skip().follow("Bring in recordings").skip(), files)
    keys.follow("Go to the visit")
    rows = {row.inner_text().split()[0]: row.inner_text() for row in page.locator("tbody tr:not(.part)").all()}
    found = {"01": "within", "02": "Not fit", "03": "noperable", "04": "outside", "05": "within"}
    assert [number for number, word in found.items() if word not in rows[f"40-PSV-{number}"]] == []

    keys.skip().to("40-PSV-04").follow("outside").skip()
    test = UUID(re.findall(r"/tests/([0-9a-f-]{36})", page.url)[0])
    keys.follow("Adjust and repeat")
    assert "Do not turn" in page.inner_text("main")
    keys.skip().fill("Line pressure now", "435 psi").fill("Adjusting was allowed by", "Plant engineer")
    keys.to("The pull is let go", type="checkbox")("Space").follow("Work it out").landed("How far to turn")
    assert "flats to the right" in page.inner_text("main")
    # turns that nobody can have made are refused, and what was typed is still there
    keys.fill("Turns of the screw", "50").fill("Seals put on", "L101").follow("Keep what was done").landed("could not")
    keys.follow("Back to what you typed")
    page.locator(".kept").wait_for()
    keys.skip().fill("Turns of the screw", "1,75").fill("Seals cut", "L100")
    assert page.get_by_label("Seals put on").input_value() == "L101"
    keys.to("^When").type("09302025")("Tab").type("0100P").follow("Keep what was done").landed("Pull again, as left")
    assert "seals L100 → L101" in page.inner_text("main")
    left = {"tag": "40-PSV-04", "serial": "TS-04", "site": site.name, "purpose": "as-left"}
    made = pulls.files("left", pulls.changed(force=HELD, repeat=2), **left)
    bring(keys.follow("Bring in the pulls as left").skip(), made)
    page.goto(visit)
    assert "within" in page.get_by_role("row", name="40-PSV-04").inner_text()
    with store.read() as reader:
        assert reader.get(ValveTest, test).verdict == "outside"
        assert audit(reader).faults == ()


def issue(keys, paper):
    keys.page.goto(paper)
    keys.settled().skip().to("I have read the draft", type="checkbox")("Space")
    keys.follow("Mark as reviewed").landed("Signed and issued").follow("Sign and issue").landed("Signed and issued")


def test_a_pull_is_rejected_first_lift_is_moved_and_the_certificate_superseded(hands, store, outside):
    keys, second = hands(ADA), hands(EDA, "tablet")
    page = keys.page
    page.goto(f"/tests/{outside.id}")
    keys.settled().skip().follow("Draft the certificate")
    first = page.url
    issue(second, first)

    page.goto(f"/tests/{outside.id}")
    keys.settled().skip().to("Reject a pull", tag="summary")("Enter").to("^Pull", tag="select")("ArrowDown")
    keys.fill("^Why", "Somebody leaned on the rig", field="reason").follow("Keep it, and judge again")
    keys.landed("2 rejected .* Somebody leaned on the rig", tag="tr")
    assert "does not count" in page.inner_text("main")

    # first lift of the first pull: to the sample, in the traces, by keys
    page.wait_for_selector("firstlift-traces canvas")
    keys.settled().skip().to("Next first lift")("Enter").to("Cursor over the traces")
    found = "document.querySelector('firstlift-traces').at"
    keys("0", "Home", "l")
    lift = outside.result.pulls[0].first_lift_s
    assert page.evaluate(found) == pytest.approx(lift, abs=1e-3)
    for _ in range(14):
        keys("+")
        page.wait_for_timeout(80)
    page.wait_for_function("document.querySelector('.trace-said').textContent.includes('every sample')")
    keys("ArrowLeft", "ArrowLeft", "ArrowLeft")
    sample = page.evaluate(found)
    assert 0 < lift - sample < 0.05
    keys.to("Reject a pull", tag="summary")("Enter").to("^Pull", tag="select").pick("^What", "move")
    keys.to("Take the moment under the cursor")("Enter").landed("First lift was at")
    assert float(page.evaluate("document.activeElement.value")) == pytest.approx(sample, abs=1e-4)
    keys.fill("^Why", "The lift left its line here", field="reason").follow("Keep it, and judge again")
    keys.landed("1 first lift moved .* The lift left its line here", tag="tr")
    assert faults(page) == []

    keys.skip().to("Takes the place of", tag="select").fill("^Why", "Pull 2 does not count", field="reason")
    keys.follow("Draft the certificate")
    issue(second, page.url)
    second.page.goto(first)
    assert "Superseded by" in second.page.inner_text("main")
    with store.read() as reader:
        states = [paper.state for paper in reader.list(Certificate) if first.endswith(f"/{paper.text}")]
        assert states == [CertificateState.SUPERSEDED]
