"""Sending and the screen of deeds in a real browser, by keys, in every look and size; nothing is asked of elsewhere."""

import os
import re
from pathlib import Path

import pytest
from tests.web.app_server import served
from tests.web.conftest import SIZES, faults
from tests.web.test_sending import contact, hung, mail, paper, people_of  # noqa: F401  fixtures

from firstlift.web.postman import Postman
from firstlift.web.settings import Settings

PICTURES = os.environ.get("FIRSTLIFT_PICTURES")


@pytest.fixture
def laptop(store, register, mail):  # noqa: F811
    """The app, with a mail server that it may send by."""
    settings = Settings(register / "accounts.sqlite", invented=True, mail=mail.settings)
    with served(store, settings) as browser:
        yield browser


def picture(page, name):
    if PICTURES:
        page.screenshot(path=str(Path(PICTURES) / f"{name}.png"), full_page=True)


def fits(page):
    return page.evaluate("document.documentElement.scrollWidth <= document.documentElement.clientWidth")


def small(page):
    """Give what is pressed and lower than a glove needs."""
    return page.evaluate(
        """() => [...document.querySelectorAll('main button, main a.button, main select, main input, main summary')]
        .filter(e => e.offsetParent && e.type !== 'hidden' && e.type !== 'checkbox')
        .filter(e => e.getBoundingClientRect().height < 47.5).map(e => e.outerHTML.slice(0, 80))"""
    )


def staggered(page):
    """Give rows of acts whose buttons are not of one height, or that stand on one line but not level."""
    return page.evaluate(
        """() => [...document.querySelectorAll('.acts')].filter(row => {
          const boxes = [...row.querySelectorAll('button, a.button, summary')].filter(e => e.checkVisibility())
            .map(e => e.getBoundingClientRect());
          return boxes.some(a => boxes.some(b =>
            Math.abs(a.height - b.height) > 0.5 || (a.top !== b.top && Math.abs(a.top - b.top) < a.height)));
        }).map(row => row.outerHTML.slice(0, 80))"""
    )


@pytest.mark.parametrize("size", SIZES)
def test_a_technician_sends_a_certificate_by_keys_and_sees_how_it_went(opened, laptop, store, hung, paper, mail, size):  # noqa: F811
    page = opened("Ada", size)
    page.goto(f"/papers/{paper.text}")
    page.get_by_role("link", name="Send it", exact=True).press("Enter")
    page.get_by_role("heading", name="Send papers").wait_for()
    picture(page, f"send-empty-{size}")
    assert faults(page) == []
    # nobody is kept yet: the form to add somebody stands open
    page.get_by_label("Name", exact=True).fill("Björn Beispiel")
    page.get_by_label("Mail address").fill("bjoern@example.org")
    page.get_by_label("Language of the message").select_option("de")
    page.get_by_role("button", name="Keep the contact").press("Enter")
    page.get_by_label("Björn Beispiel").press("Space")
    page.get_by_label("A note of yours").fill("See you on Monday.")
    page.get_by_role("button", name="Look at the message").press("Enter")
    page.get_by_role("heading", name="This message goes out").wait_for()
    assert "Guten Tag Björn Beispiel," in page.inner_text("main")
    assert (faults(page), small(page), fits(page)) == ([], [], True)
    picture(page, f"send-{size}")
    page.get_by_role("button", name="Send by the mail server").press("Enter")
    page.wait_for_url(re.compile("/outbox"))
    assert "1 message waits." in page.inner_text("main")
    picture(page, f"outbox-waiting-{size}")
    mail.fails = "rcpt-unknown"
    postman = Postman(store, laptop.app.state.outbox, mail.settings)
    postman.go_once()
    page.get_by_role("link", name="Look again").press("Enter")
    page.get_by_text("550 5.1.1").wait_for()
    assert (faults(page), small(page), fits(page), staggered(page)) == ([], [], True, [])
    picture(page, f"outbox-failed-{size}")
    mail.fails = ""
    page.get_by_text("Send it again", exact=True).press("Enter")
    page.get_by_role("button", name="Send it again now").press("Enter")
    page.wait_for_load_state()
    assert postman.go_once() == 1
    page.goto(f"/papers/{paper.text}")
    section = page.locator("section", has=page.get_by_role("heading", name="Sent to"))
    assert "Björn Beispiel" in section.inner_text()
    assert re.search(r"^sent$", section.inner_text(), re.MULTILINE)
    assert faults(page) == []
    picture(page, f"paper-sent-{size}")
    page.goto("/contacts")
    assert (faults(page), small(page), fits(page)) == ([], [], True)
    page.locator("summary", has_text="Björn Beispiel").press("Enter")
    picture(page, f"contacts-{size}")
    page.get_by_text("Remove the personal data").press("Enter")
    page.get_by_role("button", name="Remove them now").press("Enter")
    page.get_by_text("Somebody whose personal data were removed").first.wait_for()
    assert "Björn" not in page.inner_text("main")


@pytest.mark.parametrize("size", SIZES)
def test_the_office_finds_what_was_done_and_proves_the_chain(opened, size):
    page = opened("Hob", size)
    page.goto("/people")
    page.get_by_role("link", name="What was done").press("Enter")
    page.get_by_role("button", name="Prove the chain now").press("Enter")
    for _ in range(60):
        if page.get_by_text("It holds to entry").count():
            break
        page.wait_for_timeout(500)
        page.goto("/deeds")
    assert re.search(r"It holds to entry \d+\.", page.inner_text("#proof"))
    assert (faults(page), small(page), fits(page)) == ([], [], True)
    picture(page, f"deeds-{size}")
    page.locator("select[name=group]").select_option("group-proofs")
    page.get_by_role("button", name="Show", exact=True).press("Enter")
    page.wait_for_url(re.compile("group=group-proofs"))
    assert "proved the chain" in page.inner_text("table")
    with page.expect_download() as taken:
        page.get_by_role("link", name="All of it as a table").press("Enter")
    assert taken.value.suggested_filename == "firstlift-chain.csv"


@pytest.mark.parametrize("look", ["day", "night", "contrast"])
def test_every_look_of_the_new_screens_is_clean(opened, laptop, store, hung, paper, contact, look):  # noqa: F811
    page = opened("Hob")
    person = page.context.cookies()
    assert person
    page.goto("/settings")
    page.get_by_label(re.compile("^Look")).select_option(look)
    page.get_by_role("button", name="Keep", exact=True).press("Enter")
    page.wait_for_load_state()
    page.goto(f"/papers/{paper.text}/send")
    page.get_by_label("Björn Beispiel").press("Space")
    page.get_by_role("button", name="Look at the message").press("Enter")
    page.get_by_role("heading", name="This message goes out").wait_for()
    assert faults(page) == []
    picture(page, f"send-{look}")
    page.get_by_role("button", name="Make it ready").press("Enter")
    page.wait_for_url(re.compile("/outbox"))
    # a link, a form's button and what is asked for twice, all in one row
    shown = page.locator(".acts > a.button, .acts > form > button, .acts > .sure > summary")
    assert shown.count() == 3
    assert (faults(page), staggered(page)) == ([], [])
    picture(page, f"outbox-{look}")
    for path in ("/contacts", "/deeds", f"/papers/{paper.text}", f"/visits/{hung[0].visit_id}/send"):
        page.goto(path)
        assert faults(page) == [], path
    picture(page, f"visit-send-{look}")
