"""Sign-in, roles and a session that was ended, as three people see it in a real browser, by keys alone."""

import re

import pytest
from tests.web.conftest import faults
from tests.web.test_people import ADA, HOB, OTHERS, WORDS, give

from firstlift.web.roles import Role

MINE = "amber trellis quietly 9"


pytestmark = pytest.mark.usefixtures("quick")


def send(page, button=None):
    """Press Enter, on a button or where the cursor stands, and wait for the page that comes."""
    with page.expect_navigation():
        page.keyboard.press("Enter") if button is None else button.press("Enter")


def sign_in(page, name, password):
    page.get_by_label("Name").fill(name)
    page.get_by_label("Password").fill(password)
    send(page)


def test_a_sign_in_is_given_used_and_ended(comes, shared, store):
    hob = give(shared, store, HOB, Role.OFFICE)
    give(shared, store, ADA, Role.READER)
    with comes() as office, comes("tablet") as ada:
        sign_in(office, HOB, WORDS)
        office.goto("/people")
        person = office.locator("details.person", has_text=ADA).first
        person.locator("summary").first.press("Enter")
        person.get_by_label("Role").select_option("technician")
        person.get_by_label("New password").fill(OTHERS)
        send(office)
        office.locator("summary", has_text=ADA).get_by_text("signs in as technician").wait_for()
        # Ada comes with the password that the office chose, and has to choose her own
        sign_in(ada, ADA, OTHERS)
        assert ada.get_by_role("status").inner_text().startswith("Somebody else chose your password")
        assert faults(ada) == []
        ada.goto("/register")
        assert ada.url.endswith("/account")
        ada.get_by_label("Your password now").fill(OTHERS)
        for label in ("New password", "The new one again"):
            ada.get_by_label(label).fill(MINE[:-1] if label.startswith("The") else MINE)
        send(ada)
        assert "differ" in ada.get_by_role("alert").inner_text()
        assert faults(ada) == []
        ada.get_by_label("Your password now").fill(OTHERS)
        for label in ("New password", "The new one again"):
            ada.get_by_label(label).fill(MINE)
        send(ada)
        ada.get_by_text("The new password holds").wait_for()
        # a technician brings in tests, and neither gives sign-ins nor makes tokens
        assert ada.goto("/import").status == 200
        assert ada.goto("/clients").status == 403
        assert "as technician you cannot" in ada.inner_text("main").lower()
        ada.goto("/people")
        assert ada.get_by_role("button", name=re.compile("sign-in")).count() == 0
        # the office ends her sessions: her next step leads to the sign-in, and after it to where she was going
        office.goto("/people")
        person = office.locator("details.person", has_text=ADA).first
        person.locator("summary").first.press("Enter")
        person.locator("summary", has_text="End their sessions").press("Enter")
        send(office, person.get_by_role("button", name="End their sessions now"))
        ada.goto("/visits")
        assert "/sign-in?next=" in ada.url
        assert faults(ada) == []
        sign_in(ada, ADA, OTHERS)
        assert ada.get_by_role("alert").is_visible()
        sign_in(ada, ADA, MINE)
        assert ada.url.endswith("/visits")
        # and signed out, the way back shows nothing
        ada.goto("/account")
        send(ada, ada.get_by_role("button", name="Sign out"))
        assert ada.url.endswith("/sign-in")
        ada.go_back()
        ada.wait_for_load_state()
        assert "/sign-in" in ada.url
        assert hob.id in shared.app.state.accounts.roles()


def test_one_person_in_two_browsers_ends_the_other(comes, shared, store):
    give(shared, store, ADA, Role.TECHNICIAN)
    with comes() as here, comes("tablet") as elsewhere:
        for page in (here, elsewhere):
            sign_in(page, ADA, WORDS)
        here.goto("/account")
        assert here.get_by_text("this one", exact=True).count() == 1
        here.locator("summary", has_text="End all but this one").press("Enter")
        send(here, here.get_by_role("button", name="End the others"))
        elsewhere.goto("/")
        assert "/sign-in" in elsewhere.url
        here.goto("/")
        assert here.get_by_text("Ada Quillfeather").first.is_visible()
