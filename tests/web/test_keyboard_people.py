"""Sign-in, roles and a session that was ended, by keyboard alone: the office, a technician, and one's own browsers."""

from contextlib import contextmanager

import pytest
from tests.web.conftest import faults
from tests.web.keyboard import Keys
from tests.web.test_people import ADA, HOB, OTHERS, WORDS, give

from firstlift.web.roles import Role

MINE = "amber trellis quietly 9"


pytestmark = pytest.mark.usefixtures("quick")


@pytest.fixture
def comes(comes):
    """The same, with hands that use the keyboard only."""

    @contextmanager
    def with_keys(size="laptop"):
        with comes(size) as page:
            yield Keys(page)

    return with_keys


def sign_in(keys, name, password):
    """The cursor stands in the name; Tab leads to the password, Enter sends."""
    keys.landed("Name", field="name")("Control+a").type(name)
    keys.tab()
    keys.landed("Password").type(password)
    with keys.leaving():
        keys("Enter")


def choose_password(keys, old, new, again):
    for name, text in (("Your password now", old), ("^New password", new), ("The new one again", again)):
        keys.fill(name, text)
    with keys.leaving():
        keys("Enter")


def test_a_sign_in_is_given_used_changed_and_ended(comes, shared, store):
    give(shared, store, HOB, Role.OFFICE)
    give(shared, store, ADA, Role.READER)
    with comes() as office, comes("tablet") as ada:
        sign_in(office, HOB, WORDS)
        office.follow(HOB).skip().follow("People and roles").skip()
        office.to(ADA, tag="summary")("Enter").pick("^Role", "technician").fill("New password", OTHERS)
        with office.leaving():
            office("Enter")
        office.landed(f"{ADA} technician signs in as technician", tag="summary")

        # Ada comes with what the office chose, and has to choose her own before anything else
        sign_in(ada, ADA, OTHERS)
        ada.landed("Somebody else chose your password")
        choose_password(ada, OTHERS, MINE, MINE[:-1])
        ada.landed("differ")
        assert faults(ada.page) == []
        choose_password(ada, OTHERS, MINE, MINE)
        ada.landed("The new password holds")
        # a technician brings in recordings, and makes no tokens for other systems
        ada.page.goto("/import")
        ada.settled().skip().to("^Files", type="file")
        ada.page.goto("/clients")
        ada.settled().landed("could not be done")
        assert faults(ada.page) == []

        # the office ends her sessions: what it will do first, then the deed; Escape goes back
        ended = ("End their sessions", "End their sessions now")
        office("Enter").to(f"^{ended[0]}", tag="summary")("Enter").to(ended[1], tag="button")("Escape")
        office.landed(ended[0], tag="summary")("Enter").follow(ended[1]).landed(ADA, tag="summary")
        ada.follow("^Visits$")
        assert "/sign-in?next=" in ada.page.url
        sign_in(ada, ADA, OTHERS)
        ada.landed("do not fit").tab()
        sign_in(ada, ADA, MINE)
        assert ada.page.url.endswith("/visits")
        ada.follow(ADA).skip().follow("Sign out")
        assert ada.page.url.endswith("/sign-in")
        ada.landed("Name")


def test_one_person_ends_the_other_browser(comes, shared, store):
    give(shared, store, ADA, Role.TECHNICIAN)
    with comes() as here, comes("tablet") as elsewhere:
        for keys in (here, elsewhere):
            sign_in(keys, ADA, WORDS)
        here.follow(ADA).skip().follow("Sessions and password").skip()
        here.to("End all but this one", tag="summary")("Enter").follow("End the others").landed(tag="h1")
        assert here.page.get_by_text("this one", exact=True).count() == 1
        elsewhere.follow("^Register$")
        assert "/sign-in" in elsewhere.page.url
