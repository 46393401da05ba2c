"""What the routes of traces give, whom they refuse, and how a test is played again."""

import asyncio
import contextlib
import json
import threading
import urllib.error
import urllib.request
from uuid import uuid4

import numpy as np
import pytest
from fastapi import HTTPException, WebSocketException
from tests.web.traces_page import TEST_ID, demo_shown, made_shown, make_app, served
from websockets.exceptions import InvalidStatus
from websockets.sync.client import connect

from firstlift.core.errors import FirstliftError, Problem
from firstlift.core.register.work import ValveTest
from firstlift.web.trace_points import unpack
from firstlift.web.trace_source import Shelf, read_shown
from firstlift.web.traces import NOT_ALLOWED, Playing, put_newest, window_of


@pytest.fixture(scope="module")
def shown(tmp_path_factory):
    return demo_shown(tmp_path_factory.mktemp("case"))


@pytest.fixture(scope="module")
def base(shown):
    with served(make_app(shown)) as address:
        yield address


def get(address):
    with urllib.request.urlopen(address, timeout=10) as answer:
        return answer.read()


def status_of(address):
    with pytest.raises(urllib.error.HTTPError) as raised:
        get(address)
    raised.value.close()
    return raised.value.code


def replay(base, query="", origin=None):
    address = f"{base.replace('http', 'ws')}/replay/{TEST_ID}{query}"
    return connect(address, origin=base if origin is None else origin, open_timeout=10, max_size=None)


def test_about_says_channels_pulls_and_what_each_channel_saw(base):
    about = json.loads(get(f"{base}/traces/{TEST_ID}/about"))
    assert [c["measures"] for c in about["channels"]] == ["pull_force", "spindle_lift", "acoustic", "line_pressure"]
    assert [p["number"] for p in about["pulls"]] == [1, 2, 3]
    for lift, pull in zip(about["channels"][0]["lifts"], about["pulls"], strict=True):
        assert lift["pull"] == pull["number"]
        assert pull["start_s"] < lift["at_s"] < pull["end_s"]
        assert abs(lift["at_s"] - pull["first_lift_s"]) < 10 * lift["u_s"]
    assert about["channels"][3]["lifts"] == []
    assert not about["channels"][0]["together"]
    assert about["channels"][0]["rate_hz"] == pytest.approx(1000.0, rel=1e-6)


def test_a_window_holds_what_was_asked(base, shown):
    frame = unpack(get(f"{base}/traces/{TEST_ID}?from_s=6&to_s=7&px=200"))
    assert (frame.start_s, frame.stop_s, frame.to_s) == (6.0, 7.0, shown.to_s)
    assert len(frame.points) == 4
    for points, track in zip(frame.points, shown.tracks, strict=True):
        inside = (track.time_s >= 6.0) & (track.time_s <= 7.0)
        assert points.values.max() >= track.values[inside].max()
        assert points.time_s.size < 420


def test_the_whole_is_given_where_nothing_is_asked(base, shown):
    frame = unpack(get(f"{base}/traces/{TEST_ID}"))
    assert (frame.start_s, frame.stop_s) == (shown.from_s, shown.to_s)


def test_a_window_outside_or_turned_round_is_put_right(shown):
    frame = window_of(shown, 1e9, -5.0, 100)
    assert (frame.start_s, frame.stop_s) == (shown.from_s, shown.to_s)


@pytest.mark.parametrize("query", ["px=0", "px=99999", "from_s=nan", "to_s=inf", "px=x"])
def test_an_impossible_window_is_refused(base, query):
    assert status_of(f"{base}/traces/{TEST_ID}?{query}") == 422


def test_who_may_not_see_gets_nothing(shown):
    def nobody():
        raise HTTPException(403)

    with served(make_app(shown, may_see=nobody)) as base:
        assert status_of(f"{base}/traces/{TEST_ID}") == 403
        assert status_of(f"{base}/traces/{TEST_ID}/about") == 403


@pytest.mark.parametrize("origin", ["http://elsewhere.example", "null", "http://127.0.0.1:1"])
def test_a_socket_from_another_origin_is_refused_before_it_opens(base, origin):
    with pytest.raises(InvalidStatus) as raised:
        replay(base, origin=origin)
    assert raised.value.response.status_code == 403


def test_a_socket_without_a_session_is_refused_before_it_opens(shown):
    def nobody():
        raise WebSocketException(NOT_ALLOWED)

    with served(make_app(shown, may_listen=nobody)) as base, pytest.raises(InvalidStatus) as raised:
        replay(base)
    assert raised.value.response.status_code == 403


def test_a_replay_gives_every_frame_in_order_until_the_end(base, shown):
    with replay(base, f"?from_s={shown.to_s - 1.0}&speed=2&points=6000") as socket:
        frames = [unpack(message) for message in socket]
    assert [f.number for f in frames] == list(range(1, len(frames) + 1))
    assert frames[-1].stop_s == shown.to_s
    times = np.concatenate([f.points[0].time_s for f in frames])
    assert np.all(np.diff(times) > 0)
    assert times[0] >= shown.to_s - 1.0
    for i, track in enumerate(shown.tracks):
        late = track.time_s >= shown.to_s - 1.0
        got = np.concatenate([f.points[i].values for f in frames])
        assert got.max() == track.values[late].max()
        assert got.min() == track.values[late].min()


def test_a_replay_runs_at_its_own_speed(base, shown):
    with replay(base, f"?from_s={shown.to_s - 1.5}") as socket:
        frames = [unpack(message) for message in socket]
    took = frames[-1].sent_s - frames[0].sent_s
    assert took == pytest.approx(frames[-1].stop_s - frames[0].stop_s, abs=0.2)


def test_a_browser_that_goes_ends_its_replay(base):
    with replay(base) as socket:
        unpack(socket.recv(timeout=5))
    with replay(base) as socket:  # and the next is served
        assert unpack(socket.recv(timeout=5)).number == 1


def test_played_points_keep_each_sample_once():
    made = made_shown(samples=20_000, rate_hz=2000.0, channels=2)
    playing = Playing(made, 0.0, 1e9)
    times = [playing.frame(float(step)).points[0].time_s for step in np.linspace(0.013, made.to_s, 177)]
    assert playing.done
    assert np.array_equal(np.concatenate(times), made.tracks[0].time_s)


def test_a_full_queue_drops_its_oldest():
    queue = asyncio.Queue(2)
    for item in (b"1", b"2", b"3"):
        put_newest(queue, item)
    assert [queue.get_nowait(), queue.get_nowait()] == [b"2", b"3"]


def test_the_shelf_reads_once_however_many_ask():
    made = made_shown(samples=100, rate_hz=10.0, channels=1)
    shelf, reads, both = Shelf(), [], threading.Barrier(4)

    def read():
        reads.append(1)
        threading.Event().wait(0.05)
        return made

    def ask():
        both.wait(5)
        assert shelf.shown(TEST_ID, read) is made

    threads = [threading.Thread(target=ask) for _ in range(4)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join(5)
    assert len(reads) == 1


def test_the_shelf_lets_the_oldest_go():
    made = made_shown(samples=1000, rate_hz=10.0, channels=1)
    shelf, reads = Shelf(most_bytes=int(1.5 * made.nbytes)), []

    def read():
        reads.append(1)
        return made

    first, second = uuid4(), uuid4()
    for test_id in (first, second, second, first):
        shelf.shown(test_id, read)
    assert len(reads) == 3


def test_a_reading_that_failed_is_tried_again():
    shelf = Shelf()

    def fail():
        raise KeyError

    with pytest.raises(KeyError):
        shelf.shown(TEST_ID, fail)
    made = made_shown(samples=10, rate_hz=10.0, channels=1)
    assert shelf.shown(TEST_ID, lambda: made) is made


def test_a_kept_test_is_read_from_the_register(store):
    with store.read() as reader:
        test = next(each for each in reader.stream(ValveTest) if each.recording_sha256)
        shown = read_shown(reader, test.id)
    assert shown.about["test"] == str(test.id)
    assert [p["first_lift_s"] for p in shown.about["pulls"]] == [p.first_lift_s for p in test.result.pulls]
    evidence = [
        (pull.number, each.first_lift_s)
        for pull in test.result.pulls
        for each in pull.evidence
        if each.first_lift_s is not None
    ]
    kinds = {c["measures"]: [(lift["pull"], lift["at_s"]) for lift in c["lifts"]] for c in shown.about["channels"]}
    assert sorted(evidence) == sorted(lift for lifts in kinds.values() for lift in lifts)
    assert max(track.samples for track in shown.tracks) == test.result.recording.samples
    assert shown.to_s - shown.from_s == pytest.approx(test.result.recording.duration_s, abs=0.1)


def test_a_test_without_a_recording_says_so(store):
    with store.read() as reader:
        test = next(each for each in reader.stream(ValveTest) if not each.recording_sha256)
        with pytest.raises(FirstliftError) as raised:
            read_shown(reader, test.id)
    assert raised.value.problems[0].code == "REG-026"


def test_what_is_wrong_with_a_test_comes_in_words_for_the_chart():
    @contextlib.contextmanager
    def none_kept():
        raise FirstliftError(Problem("STO-011", "a kept file is damaged", "x", "its bytes", "Bring it back"))
        yield

    with served(make_app(None, read=none_kept)) as base:
        for path in ("", "/about"):
            with pytest.raises(urllib.error.HTTPError) as raised:
                get(f"{base}/traces/{TEST_ID}{path}")
            told = json.loads(raised.value.read())["problems"][0]
            raised.value.close()
            assert raised.value.code == 422
            assert (told["code"], told["what"], told["next"]) == ("STO-011", "a kept file is damaged", "Bring it back")
        with pytest.raises(InvalidStatus):
            replay(base)
