"""Every form and every address of the app, filled with anything: never an error of the server, always a clear word."""

import re
import shutil
from dataclasses import dataclass
from pathlib import Path
from urllib.parse import quote

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from tests.web.app_server import served

from firstlift.core.register.people import Person
from firstlift.core.register.work import ValveTest
from firstlift.store.audit import audit
from firstlift.store.open import open_store
from firstlift.web.settings import Settings

HOB = "Hob Driftwood"
# a code, or the refusal in its place on the page
PLAIN = re.compile(r"\b[A-Z]{3}-\d{3}\b|class=\"(?:refusal|problems)\"")
NASTY = (
    "", " ", "0", "-1", "1e400", "NaN", "99999999999999999999", "null", "true", "[]", "{}", "../../etc/passwd",
    "a\x00b",
    "\r\nX: y", "' OR 1=1 --", "<script>alert(1)</script>", "{{ 7*7 }}", "%s%n", "\u202e\ufeff", "𝕏" * 50, "x" * 5000,
    "8,5 bar", "174 psi", "10 m", "2026-02-30", "0001-01-01", "9999-12-31", "٣", "yes", "office", "night",
)  # fmt: skip


@dataclass(frozen=True)
class Target:
    """Something that can be asked: what it takes in its address and its form, with values that fit."""

    method: str
    path: str
    query: tuple[str, ...]
    fields: tuple[str, ...]
    files: tuple[str, ...]


@pytest.fixture(scope="module")
def office(grown, tmp_path_factory):
    """A single laptop where Hob of the office works, who may do everything."""
    register = Path(shutil.copytree(grown, tmp_path_factory.mktemp("fuzzed") / "register"))
    opened = open_store(register)
    with served(opened, Settings(register / "accounts.sqlite", invented=True)) as browser:
        yield browser.work_as(HOB)
    opened.close()


@pytest.fixture(scope="module")
def targets(office):
    return list(targets_of(office.app))


def targets_of(app):
    """Give every page and form that the app describes of itself."""
    described = app.openapi()
    for path, operations in sorted(described["paths"].items()):
        for method, operation in sorted(operations.items()):
            query = [one["name"] for one in operation.get("parameters", ()) if one["in"] == "query"]
            fields, files = [], []
            for kind in operation.get("requestBody", {}).get("content", {}).values():
                name = kind["schema"]["$ref"].rpartition("/")[2]
                for field, schema in described["components"]["schemas"][name]["properties"].items():
                    (files if "contentMediaType" in str(schema) or "binary" in str(schema) else fields).append(field)
            yield Target(method.upper(), path, tuple(query), tuple(fields), tuple(files))


@pytest.fixture(scope="module")
def known(office):
    """Values that fit somewhere: identifiers that are there, words that are offered."""
    store = office.app.state.store
    with store.read() as reader:
        tests = [t for t in reader.list(ValveTest, order=("-at",)) if t.recording_sha256][:2]
        people = [str(p.id) for p in reader.list(Person)[:2]]
    identifiers = {str(each) for t in tests for each in (t.id, t.valve_id, t.visit_id)}
    words, names = set(), set()
    for path in ("/import", "/spreadsheet", "/pocket", "/settings", "/people", "/clients", "/visits/new"):
        text = office.get(path).text
        words |= set(re.findall(r'<option value="([^"]*)"', text)) | set(
            re.findall(r'name="\w+" value="([^"]+)"', text)
        )
        names |= set(re.findall(r'<(?:input|select|textarea)[^>]* name="([^"]+)"', text))
    return {
        "identifiers": [*sorted(identifiers), *people],
        "words": [*sorted(word for word in words if len(word) < 100), tests[0].recording_sha256],
        "names": sorted(names - {"csrf"}),
    }


def values(known):
    return st.one_of(
        st.sampled_from(known["identifiers"]),
        st.sampled_from(known["words"]),
        st.sampled_from(NASTY),
        st.text(st.characters(exclude_categories=("Cs",)), max_size=40),
    )


def address(path, draw, known):
    """Fill a path in: a part of an address is never empty and has no stroke in it."""

    def fill(_):
        part = draw(values(known)).replace("/", "").replace("\\", "")[:300]
        return quote(part if part.strip(".") else "x", safe="")

    return re.sub(r"\{[^}]+\}", fill, path)


def still_at_work(browser, answer):
    """Begin again where the session itself was ended."""
    if "Who is working?" in answer.text and answer.status_code == 200:
        browser.work_as(HOB)


QUICK = settings(
    max_examples=120,
    deadline=None,
    derandomize=True,
    database=None,
    suppress_health_check=[HealthCheck.too_slow, HealthCheck.data_too_large],
)


@QUICK
@given(data=st.data())
def test_whatever_is_typed_or_asked_the_app_answers_plainly(office, targets, known, data):
    target = data.draw(st.sampled_from(targets))
    asked = address(target.path, data.draw, known)
    one = values(known)
    # fields of other forms come along now and then, and some of its own stay away
    offered = (*target.fields, *data.draw(st.lists(st.sampled_from(known["names"]), max_size=2)))
    form = {name: data.draw(one) for name in offered if data.draw(st.booleans())}
    query = {name: data.draw(one) for name in target.query if data.draw(st.booleans())}
    files = [(name, (data.draw(one), data.draw(st.binary(max_size=300)))) for name in target.files]
    more = {} if target.method == "GET" else {"data": {"csrf": office.token("/account"), **form}}
    if files:
        more["files"] = files
    answer = office.client.request(target.method, asked, params=query, **more)
    said = f"{target.method} {asked} {query} {form}"
    assert answer.status_code < 500, said
    assert "Traceback" not in answer.text, said
    assert "<script>alert" not in answer.text, said
    if answer.status_code >= 400:
        assert PLAIN.search(answer.text) or "application/json" in answer.headers["content-type"], said
    still_at_work(office, answer)


def test_after_all_that_the_register_is_whole(office):
    with office.app.state.store.read() as reader:
        assert audit(reader).faults == ()


TYPED = st.one_of(st.sampled_from(NASTY), st.text(st.characters(exclude_categories=("Cs",)), max_size=30))


@settings(max_examples=25, deadline=None, derandomize=True, database=None)
@given(name=TYPED, word=TYPED)
def test_whatever_is_typed_to_sign_in_nobody_comes_in_and_the_page_says_so(entrance, name, word):
    form = {"csrf": entrance.token("/sign-in"), "name": name, "next": word, "password": word}
    answer = entrance.client.post("/sign-in", data=form)
    assert answer.status_code in (401, 429)
    assert 'role="alert"' in answer.text


@pytest.fixture(scope="module")
def entrance(grown, tmp_path_factory):
    register = Path(shutil.copytree(grown, tmp_path_factory.mktemp("entrance") / "register"))
    opened = open_store(register)
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr("firstlift.web.passwords._N", 2**8)
        with served(opened, Settings(register / "accounts.sqlite", sign_in=True)) as browser:
            yield browser
    opened.close()
