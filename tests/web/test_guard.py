"""What stands in front of every page: hosts, sizes, headers, cookies, the token of every unsafe request."""

import asyncio
import functools
import re
import shutil
from contextlib import suppress
from dataclasses import replace
from pathlib import Path

import pytest

from firstlift.store.open import open_store
from firstlift.web.app import create_app
from firstlift.web.guard import LARGEST_FORM_BYTES, Guard, host_of
from firstlift.web.here import COOKIE
from firstlift.web.settings import Settings

ADA = "Ada Quillfeather"
HEADERS = (
    "content-security-policy", "x-content-type-options", "referrer-policy", "x-frame-options",
    "cross-origin-opener-policy", "cross-origin-resource-policy", "permissions-policy",
)  # fmt: skip


app_of = functools.cache(create_app)


def ask(settings, store, path="/who", method="GET", body=(b"",), **headers):
    """Ask the app itself, with any header and a body in any stretches; gives status, headers and body."""
    sent, stretches = [], list(body)

    async def receive():
        stretch = stretches.pop(0)
        return {"type": "http.request", "body": stretch, "more_body": bool(stretches)}

    async def send(message):
        sent.append(message)

    listed = [(name.replace("_", "-").encode(), text.encode("latin-1")) for name, text in headers.items()]
    scope = {
        "type": "http", "asgi": {"version": "3.0"}, "http_version": "1.1", "method": method, "scheme": "http",
        "path": path, "raw_path": path.encode(), "query_string": b"", "root_path": "", "headers": listed,
        "client": ("127.0.0.1", 1), "server": ("127.0.0.1", 80),
    }  # fmt: skip
    # planted in one test: what was answered before it went on to the server is looked at
    with suppress(ZeroDivisionError):
        asyncio.run(app_of(store, settings)(scope, receive, send))
    given = {name.decode(): text.decode("latin-1") for name, text in sent[0]["headers"]}
    return sent[0]["status"], given, b"".join(message.get("body", b"") for message in sent[1:])


def routes(app):
    """Give method and path of every page, identifiers filled in with one that nothing has."""
    for path, operations in sorted(app.openapi()["paths"].items()):
        for method in sorted(operations):
            yield method.upper(), re.sub(r"\{[^}]+\}", "00000000-0000-0000-0000-000000000000", path)


@pytest.fixture(scope="module")
def register(grown, tmp_path_factory):
    """One copy for all: nothing here changes it."""
    return Path(shutil.copytree(grown, tmp_path_factory.mktemp("guarded") / "register"))


@pytest.fixture(scope="module")
def store(register):
    opened = open_store(register)
    yield opened
    opened.close()


@pytest.fixture
def alone(register):
    return Settings(register / "accounts.sqlite")


@pytest.fixture
def together(register):
    return Settings(register / "accounts.sqlite", sign_in=True, names=("valves.example",))


@pytest.mark.parametrize(
    ("host", "status"),
    [("127.0.0.1:8620", 200), ("localhost", 200), ("[::1]:8620", 200), ("LOCALHOST:1", 200), ("evil.example", 421),
     ("127.0.0.1.evil.example", 421), ("192.168.1.7", 421), ("", 421), ("[::1", 421), ("127.0.0.1@evil.example", 421)],
)  # fmt: skip
def test_a_laptop_answers_to_its_own_address_only(store, alone, host, status):
    assert ask(alone, store, host=host)[0] == status


@pytest.mark.parametrize("header", ["x_forwarded_for", "forwarded", "x_forwarded_host", "x_real_ip"])
def test_a_laptop_answers_nothing_that_a_proxy_passed_on(store, alone, header):
    assert ask(alone, store, host="127.0.0.1", **{header: "203.0.113.9"})[0] == 421


@pytest.mark.parametrize(
    ("host", "status"),
    [("valves.example", 200), ("VALVES.example:443", 200), ("192.168.1.7:8620", 200), ("[fd00::7]", 200),
     ("evil.example", 421), ("valves.example.evil.example", 421), ("", 421)],
)  # fmt: skip
def test_a_shared_app_answers_to_its_names_and_bare_addresses(store, together, host, status):
    assert ask(together, store, "/sign-in", host=host)[0] == status


def test_what_a_proxy_says_of_the_caller_changes_nothing(store, together):
    said = {"x_forwarded_for": "127.0.0.1", "x_forwarded_host": "evil.example", "x_forwarded_proto": "https"}
    status, headers, _ = ask(together, store, "/register", host="valves.example", **said)
    assert (status, headers["location"]) == (303, "/sign-in?next=%2Fregister")


def test_a_host_is_read_without_its_port():
    assert [host_of(text) for text in ("a.b:1", "[::1]:2", "[", "x@y", "")] == ["a.b", "::1", "", "y", ""]


@pytest.mark.parametrize(
    "path", ["/who", "/nothing", "/static/app.css", "/static/nothing", "/api/v1/valves", "/api/v1/openapi.json"]
)
def test_every_answer_carries_its_guards(laptop, path):
    headers = laptop.get(path).headers
    assert [name for name in HEADERS if name not in headers] == []
    policy = dict(part.split(" ", 1) for part in headers["content-security-policy"].split("; "))
    assert policy["default-src"] == "'none'"
    assert policy["object-src"] == policy["base-uri"] == policy["frame-ancestors"] == "'none'"
    assert "unsafe" not in headers["content-security-policy"]
    assert headers["x-content-type-options"] == "nosniff"
    assert "access-control-allow-origin" not in headers
    assert "server" not in headers or "uvicorn" in headers["server"]
    if not path.startswith("/static/"):
        assert headers["cache-control"] in ("no-store", "private, no-cache")


def test_a_refused_host_gets_the_guards_too(store, alone):
    _, headers, _ = ask(alone, store, host="evil.example")
    assert [name for name in HEADERS if name not in headers] == []


def test_an_error_nobody_foresaw_says_so_plainly_and_carries_the_guards_too(store, alone, monkeypatch, capsys):
    monkeypatch.setattr("firstlift.web.pages.sign_in.name_of", lambda person: 1 / 0)
    status, headers, body = ask(alone, store, host="127.0.0.1")
    assert status == 500
    assert [name for name in HEADERS if name not in headers] == []
    assert headers["cache-control"] == "no-store"
    assert b"USE-001" in body
    assert b"Traceback" not in body
    assert "ZeroDivisionError" in capsys.readouterr().err


def test_over_tls_every_answer_says_to_stay_there_and_cookies_are_bound_to_the_host(store, register):
    settings = Settings(register / "accounts.sqlite", sign_in=True, secure=True)
    _, headers, _ = ask(settings, store, "/sign-in", host="127.0.0.1")
    assert headers["strict-transport-security"] == "max-age=31536000; includeSubDomains"
    cookie = headers["set-cookie"]
    assert cookie.startswith("__Host-firstlift-before=")
    assert {"HttpOnly", "Path=/", "SameSite=strict", "Secure"} <= set(cookie.split("; "))
    assert "Domain" not in cookie


def test_every_unsafe_route_refuses_what_brings_no_token(laptop):
    laptop.work_as(ADA)
    unsafe = [(method, path) for method, path in routes(laptop.app) if method not in ("GET", "HEAD")]
    assert len(unsafe) > 20
    for method, path in unsafe:
        answer = laptop.client.request(method, path, data={"csrf": "guessed"}, follow_redirects=False)
        # on a laptop nobody signs in: asked for, that leads to the choice of a person
        expected = {303} if path == "/sign-in" else {403, 422}
        assert answer.status_code in expected, (method, path)
        assert answer.status_code != 403 or "WEB-004" in answer.text, (method, path)
    # and nothing was changed: still at work, in the look as before
    assert ADA in laptop.get("/").text


@pytest.mark.parametrize("origin", ["http://evil.example", "null", "http://127.0.0.1"])
def test_a_form_of_a_foreign_page_changes_nothing(laptop, origin):
    laptop.work_as(ADA)
    answer = laptop.post("/settings/look", {"look": "night"}, page="/account", headers={"origin": origin})
    assert answer.status_code == 403
    assert 'data-look="night"' not in laptop.get("/").text


def test_one_persons_token_is_not_anothers(laptop, store):
    laptop.work_as(ADA)
    token = laptop.token("/account")
    laptop.work_as("Hob")
    assert laptop.client.post("/settings/look", data={"csrf": token, "look": "night"}).status_code == 403


def test_the_text_before_signing_in_is_only_taken_as_this_app_made_it(shared):
    shared.client.cookies.set("firstlift-before", "x")
    answer = shared.client.post("/sign-in", data={"csrf": "x", "name": ADA, "password": "no"})
    assert answer.status_code == 403


def test_only_signing_in_is_open_to_nobody(shared):
    asked = list(routes(shared.app))
    assert len(asked) > 50
    for method, path in asked:
        answer = shared.client.request(method, path, follow_redirects=False)
        if path in ("/sign-in", "/who"):
            continue
        assert answer.status_code in (303, 422), (method, path)
        if answer.status_code == 303:
            assert answer.headers["location"].startswith("/sign-in"), path
        else:
            # what was asked cannot even be read: nothing of the register is in the answer
            assert "WEB-009" in answer.text, path


def chunks(total):
    return [b"x" * 100_000] * (total // 100_000)


def test_a_form_beyond_measure_is_refused_whether_it_says_so_or_not(store, alone):
    asked = {"path": "/settings/look", "method": "POST", "host": "127.0.0.1"}
    kind = {"content_type": "application/x-www-form-urlencoded"}
    too_long = str(LARGEST_FORM_BYTES + 1)
    assert ask(alone, store, **asked, **kind, content_length=too_long)[0] == 413
    status, _, body = ask(alone, store, **asked, **kind, body=chunks(LARGEST_FORM_BYTES + 200_000))
    assert status == 413
    assert b"WEB-010" in body


def test_only_who_is_known_may_send_files_and_no_more_than_allowed(laptop, store, alone):
    laptop.work_as(ADA)
    settings = replace(alone, largest_upload_bytes=2_500_000)
    begin = b'--b\r\nContent-Disposition: form-data; name="files"; filename="a.toml"\r\n\r\n'
    asked = {"path": "/import/sheets", "method": "POST", "host": "127.0.0.1"}
    asked["content_type"] = "multipart/form-data; boundary=b"
    known = {"cookie": f"{COOKIE}={laptop.client.cookies[COOKIE]}"}

    def sent(megabytes, **who):
        return ask(settings, store, **asked, **who, body=[begin, *chunks(megabytes * 1_000_000), b"\r\n--b--\r\n"])[0]

    assert sent(2) == 413
    # taken in, and refused for its token only
    assert sent(2, **known) == 403
    assert sent(3, **known) == 413


@pytest.mark.parametrize("length", ["-1", "1e9", "9" * 5000, "²", ""])
def test_a_length_that_is_none_is_refused(store, alone, length):
    assert ask(alone, store, host="127.0.0.1", content_length=length)[0] == 413


@pytest.mark.parametrize("cookie", ["", "x", "a" * 4000, "é", '"; drop', "%00"])
def test_a_session_that_is_made_up_is_none(store, together, cookie):
    status, headers, _ = ask(together, store, "/register", host="127.0.0.1", cookie=f"{COOKIE}={cookie}")
    assert (status, headers["location"]) == (303, "/sign-in?next=%2Fregister")


def test_the_guard_leaves_other_traffic_alone():
    seen = []

    async def app(scope, receive, send):
        seen.append(scope["type"])

    guard = Guard(app, sign_in=False, secure=False, names=(), largest_upload_bytes=1, known=lambda _: False)
    asyncio.run(guard({"type": "lifespan"}, None, None))
    assert seen == ["lifespan"]


def test_values_in_an_address_that_cannot_be_read_get_a_page_that_says_so(laptop):
    laptop.work_as(ADA)
    far = "9" * 20
    for path in ("/papers?page=x", f"/register?page={far}", f"/register?page=-{far}", f"/visits?page={far}"):
        answer = laptop.get(path)
        assert answer.status_code in (200, 422), path
        assert "<h1" in answer.text, path
