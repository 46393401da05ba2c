"""Traces in the app itself: only who works here sees or hears them, and only from the app's own pages."""

import pytest
from websockets.exceptions import InvalidStatus
from websockets.sync.client import connect

from firstlift.core.register.work import ValveTest
from firstlift.web.here import COOKIE
from firstlift.web.trace_points import unpack


@pytest.fixture
def test_id(store):
    with store.read() as reader:
        return next(test.id for test in reader.stream(ValveTest) if test.recording_sha256)


def listen(browser, test_id, *, origin=None, cookie=True):
    kept = browser.client.cookies.get(COOKIE)
    headers = {"Cookie": f"{COOKIE}={kept}"} if cookie else {}
    address = f"{browser.url.replace('http', 'ws')}/replay/{test_id}"
    return connect(address, origin=browser.url if origin is None else origin, additional_headers=headers, max_size=None)


def test_a_test_s_page_shows_its_traces_and_the_app_gives_them(laptop, test_id):
    laptop.work_as("Ada")
    assert f'src="/traces/{test_id}" replay="/replay/{test_id}"' in laptop.get(f"/tests/{test_id}").text
    about = laptop.get(f"/traces/{test_id}/about")
    assert about.headers["cache-control"] == "no-store"
    frame = unpack(laptop.get(f"/traces/{test_id}", params={"px": 300}).content)
    assert len(frame.points) == len(about.json()["channels"])
    assert frame.to_s == about.json()["to_s"]


def test_nobody_known_sees_no_traces(laptop, test_id):
    laptop.client.follow_redirects = False
    for path in (f"/traces/{test_id}", f"/traces/{test_id}/about"):
        answer = laptop.get(path)
        assert answer.status_code == 303
        assert answer.headers["location"].startswith("/who")


def test_a_replay_plays_for_who_works_here_and_for_nobody_else(laptop, test_id):
    laptop.work_as("Ada")
    with listen(laptop, test_id) as socket:
        assert unpack(socket.recv(timeout=20)).number == 1
    for refused in ({"cookie": False}, {"origin": "http://elsewhere.example"}):
        with pytest.raises(InvalidStatus) as raised:
            listen(laptop, test_id, **refused)
        assert raised.value.response.status_code == 403


def test_a_session_that_was_ended_hears_nothing(laptop, test_id, store):
    laptop.work_as("Ada")
    sessions = laptop.app.state.sessions
    sessions.end_all(sessions.find(laptop.client.cookies.get(COOKIE)).person_id)
    with pytest.raises(InvalidStatus) as raised:
        listen(laptop, test_id)
    assert raised.value.response.status_code == 403
