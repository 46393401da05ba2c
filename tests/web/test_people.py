"""Who may do what: sign-in, sessions, tokens, roles, headers."""

import datetime as dt
import sqlite3
from uuid import uuid4

import pytest

from firstlift.core.errors import FirstliftError
from firstlift.core.register.people import Person
from firstlift.usecases.papers.find import person_by
from firstlift.web import accounts as accounts_module
from firstlift.web.here import COOKIE, local_target
from firstlift.web.passwords import check_password, fits, keep_password
from firstlift.web.roles import Role

WORDS = "copper lantern drifts 7"


def person_of(store, name):
    with store.read() as reader:
        return person_by(reader, name)


@pytest.fixture
def ada(shared, store):
    """Ada has a sign-in as a technician."""
    person = person_of(store, "Ada Quillfeather")
    shared.app.state.accounts.add(person.id, "Ada Quillfeather", WORDS, Role.TECHNICIAN)
    return person


def sign_in(browser, name="Ada Quillfeather", password=WORDS, **more):
    return browser.post("/sign-in", {"name": name, "password": password, **more}, page="/sign-in")


def test_a_laptop_asks_who_is_working_and_then_shows_the_day(laptop):
    assert "Who is working?" in laptop.get("/").text
    assert "overdue" in laptop.work_as("Ada").get("/").text


def test_somebody_new_can_begin(laptop, store):
    answer = laptop.post("/who", {"name": "Una Newcomer", "role": "technician"}, page="/who")
    assert "Una Newcomer" in answer.text
    assert person_of(store, "Una Newcomer").role == "technician"


def test_a_laptop_answers_to_its_own_address_only(laptop):
    assert laptop.get("/who", headers={"host": "evil.example"}).status_code == 421
    assert laptop.get("/who", headers={"host": "127.0.0.1:8620"}).status_code == 200


def test_name_and_password_open_a_session(shared, ada):
    assert "overdue" in sign_in(shared).text


def test_the_page_asked_for_comes_after_signing_in(shared, ada):
    assert "next=%2Finstruments" in str(shared.get("/instruments").url)
    assert str(sign_in(shared, next="/instruments").url).endswith("/instruments")


@pytest.mark.parametrize("target", ["//evil.example", "https://evil.example", "/\\evil.example", "evil", "/a\nb"])
def test_signing_in_never_leads_elsewhere(target):
    assert local_target(target) == "/"


def test_a_wrong_password_and_an_unknown_name_get_the_same_answer(shared, ada):
    wrong, unknown = sign_in(shared, password="no"), sign_in(shared, name="Nobody")
    assert (wrong.status_code, unknown.status_code) == (401, 401)
    assert "Name and password do not fit" in wrong.text
    assert "Name and password do not fit" in unknown.text


def test_many_wrong_tries_make_the_next_wait_but_lock_nobody_out(shared, ada, monkeypatch):
    for _ in range(5):
        assert sign_in(shared, password="no").status_code == 401
    assert sign_in(shared).status_code == 429
    later = accounts_module.now() + dt.timedelta(minutes=6)
    monkeypatch.setattr(accounts_module, "now", lambda: later)
    assert sign_in(shared).status_code == 200


def test_a_revoked_session_is_over_at_once(shared, ada):
    sign_in(shared)
    shared.app.state.accounts.revoke_all(ada.id)
    assert "Sign in" in shared.get("/").text


def test_an_idle_session_is_over(shared, ada, monkeypatch):
    sign_in(shared)
    later = accounts_module.now() + dt.timedelta(hours=2, minutes=1)
    monkeypatch.setattr(accounts_module, "now", lambda: later)
    assert "Sign in" in shared.get("/").text


def test_a_closed_account_is_out(shared, ada):
    sign_in(shared)
    shared.app.state.accounts.close_account(ada.id)
    assert "Sign in" in shared.get("/").text
    assert sign_in(shared).status_code == 401


def test_signing_in_gives_a_new_identifier_that_scripts_and_other_sites_do_not_get(shared, ada):
    sign_in(shared)
    first = shared.client.cookies[COOKIE]
    answer = shared.client.post(
        "/sign-in",
        data={"csrf": shared.token("/sign-in"), "name": "Ada Quillfeather", "password": WORDS},
        follow_redirects=False,
    )
    cookie = next(c for c in answer.headers.get_list("set-cookie") if c.startswith(COOKIE))
    assert shared.client.cookies[COOKIE] != first
    assert "HttpOnly" in cookie
    assert "samesite=strict" in cookie.lower()


def test_the_file_of_sessions_holds_neither_password_nor_identifier(shared, ada, register):
    sign_in(shared)
    rows = sqlite3.connect(register / "accounts.sqlite").iterdump()
    text = "\n".join(rows)
    assert WORDS not in text
    assert shared.client.cookies[COOKIE] not in text
    assert (register / "accounts.sqlite").stat().st_mode & 0o077 == 0


def test_a_form_without_its_token_changes_nothing(laptop):
    laptop.work_as("Ada")
    answer = laptop.client.post("/settings/look", data={"look": "night"})
    assert answer.status_code == 403
    assert "WEB-004" in answer.text


def test_a_form_of_a_foreign_page_changes_nothing(laptop):
    laptop.work_as("Ada")
    answer = laptop.post(
        "/settings/look", {"look": "night"}, page="/settings", headers={"origin": "http://evil.example"}
    )
    assert answer.status_code == 403


def test_every_answer_carries_its_guards(laptop):
    for path in ("/who", "/nothing", "/static/app.css"):
        headers = laptop.get(path).headers
        assert "default-src 'self'" in headers["content-security-policy"]
        assert "unsafe" not in headers["content-security-policy"]
        assert headers["x-content-type-options"] == "nosniff"
    assert laptop.get("/who").headers["cache-control"] == "no-store"


@pytest.mark.parametrize(
    "password", ["short one", "aaaaaaaaaaaaaaaa", "Ada Quillfeather", "ada-firstlift-1", "x" * 129, "password1234"]
)
def test_a_weak_password_is_refused(password):
    with pytest.raises(FirstliftError, match="WEB-006"):
        check_password(password, "Ada Quillfeather")


def test_a_password_is_kept_salted_and_found_again():
    one, other = keep_password(WORDS), keep_password(WORDS)
    assert one != other
    assert fits(WORDS, one)
    assert not fits(WORDS + " ", one)


def test_a_person_who_left_the_register_is_out(laptop, store):
    laptop.work_as("Ada")
    ada = person_of(store, "Ada Quillfeather")
    with store.work(at=accounts_module.now(), who="program:test") as work:
        work.change(type(ada)(ada.id, ada.role, ada.organisation, ada.details, ada.details_sha256, active=False))
    assert "Who is working?" in laptop.get("/").text


def test_an_unknown_person_gets_no_session(laptop, store):
    answer = laptop.post("/who", {"person": str(uuid4())}, page="/who")
    assert answer.status_code == 404
    with store.read() as reader:
        assert reader.count(Person) == 8
