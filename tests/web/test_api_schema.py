"""The whole interface against its own description: whatever is asked, the answer is one that the description holds."""

import json
import re
from urllib.parse import quote

import jsonschema
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from tests.web.test_api import ALL, Client, a_test

from firstlift.core.register.places import Site
from firstlift.core.register.work import SiteVisit

NASTY = (
    "", " ", "0", "-1", "1.5", "1e400", "99999999999999999999", "null", "true", "[]", "../..", "a\x00b", "a\nb", "٣",
    "' OR 1=1 --", "\u202e", "x" * 300, "2026-02-30", "2026-13-01", "0001-01-01", "9999-12-31", "issued",
)  # fmt: skip
ANY_TEXT = st.one_of(st.sampled_from(NASTY), st.text(st.characters(exclude_categories=("Cs",)), max_size=30))
ANY_JSON = st.recursive(
    st.none() | st.booleans() | st.integers() | st.floats(allow_nan=False) | ANY_TEXT,
    lambda inner: st.lists(inner, max_size=3) | st.dictionaries(ANY_TEXT, inner, max_size=3),
    max_leaves=6,
)
BOUNDED = settings(
    max_examples=250,
    deadline=None,
    derandomize=True,
    database=None,
    suppress_health_check=[HealthCheck.too_slow, HealthCheck.data_too_large],
)


@pytest.fixture(scope="module")
def client(office):
    return Client(office, ALL)


@pytest.fixture(scope="module")
def described(office):
    return office.get("/api/v1/openapi.json").json()


@pytest.fixture(scope="module")
def operations(described):
    every = [(path, method) for path in sorted(described["paths"]) for method in sorted(described["paths"][path])]
    # what makes something fits by chance less often than what only asks: it is tried more often
    return [*every, *4 * [one for one in every if one[1] == "post"]]


@pytest.fixture(scope="module")
def known(office):
    """Identifiers that are there, so that answers are more than refusals."""
    store = office.app.state.store
    test = a_test(store)
    with store.read() as reader:
        visit, site = reader.list(SiteVisit)[0], reader.list(Site)[0]
    return {
        "test_id": str(test.id), "valve_id": str(test.valve_id), "visit_id": str(visit.id), "site_id": str(site.id),
    }  # fmt: skip


@pytest.fixture(scope="module")
def seen():
    """What the answers' statuses were."""
    return set()


def schema_of(described, schema):
    """Give a part of the description with all that it refers to."""
    return {**schema, "components": described["components"]}


def fitting(described, schema, known):
    """Give values that a part of the description allows, as far as it is told here."""
    if "$ref" in schema:
        return fitting(described, described["components"]["schemas"][schema["$ref"].rpartition("/")[2]], known)
    if "anyOf" in schema:
        return st.one_of([fitting(described, one, known) for one in schema["anyOf"]])
    if "enum" in schema:
        return st.sampled_from(schema["enum"])
    kind = schema.get("type")
    if kind == "object":
        there = {**known, "valves": [known["valve_id"]]}
        parts = {key: fitting(described, one, known) for key, one in schema.get("properties", {}).items()}
        parts |= {key: st.one_of(st.just(there[key]), made) for key, made in parts.items() if key in there}
        needed = {key: made for key, made in parts.items() if key in schema.get("required", ())}
        return st.fixed_dictionaries(needed, optional={k: v for k, v in parts.items() if k not in needed})
    if kind == "array":
        return st.lists(fitting(described, schema["items"], known), min_size=schema.get("minItems", 0), max_size=3)
    if kind == "integer":
        return st.integers(schema.get("minimum", 0), min(schema.get("maximum", 1000), 2**53))
    if schema.get("format") == "uuid":
        return st.one_of(st.sampled_from(sorted(known.values())), st.uuids().map(str))
    if schema.get("format") == "date":
        return st.dates().map(lambda day: day.isoformat())
    if kind == "null":
        return st.none()
    if "url" in schema.get("title", "").lower():
        return st.sampled_from(["https://127.0.0.1/x", "https://10.0.0.1/x", "http://127.0.0.1:9/", "https://[::1]/"])
    return st.text(st.characters(min_codepoint=33, max_codepoint=126), min_size=1, max_size=30)


def parts_of(described, operation, path, known, data):
    """Draw an address, headers and a body: most that fit, some that do not."""
    query, headers = {}, {}
    for one in operation.get("parameters", ()):
        fits = st.just(known[one["name"]]) if one["name"] in known else fitting(described, one["schema"], known)
        value = data.draw(st.one_of(fits, fits, ANY_TEXT))
        if one["in"] == "path":
            text = str(value).replace("/", "").strip(".") or "x"
            path = path.replace(f"{{{one['name']}}}", quote(text, safe=""))
        elif one["in"] == "query" and (one.get("required") or data.draw(st.booleans())):
            query[one["name"]] = "" if value is None else str(value)
        elif one["in"] == "header" and data.draw(st.integers(0, 9)):
            headers[one["name"]] = re.sub(r"[^!-~]", "", str(value))
    body = None
    if "requestBody" in operation:
        fits = fitting(described, operation["requestBody"]["content"]["application/json"]["schema"], known)
        body = data.draw(st.one_of(fits.map(json.dumps), fits.map(json.dumps), ANY_JSON.map(json.dumps), ANY_TEXT))
        headers["Content-Type"] = data.draw(st.sampled_from(["application/json"] * 4 + ["text/plain", "x"]))
    return path, query, headers, body


def hold(answer, described, operation, said):
    """Hold an answer to the description of its operation."""
    status = str(answer.status_code)
    assert status in operation["responses"], said
    content = operation["responses"][status].get("content", {})
    if not content:
        assert answer.content == b"", said
        return
    kind = answer.headers["content-type"].partition(";")[0]
    assert kind in content, said
    if kind == "application/json":
        jsonschema.validate(answer.json(), schema_of(described, content[kind].get("schema", {})))


@BOUNDED
@given(data=st.data())
def test_whatever_is_asked_is_answered_as_described(client, described, operations, known, seen, data):
    path, method = data.draw(st.sampled_from(operations))
    operation = described["paths"][path][method]
    address, query, headers, body = parts_of(described, operation, path, known, data)
    answer = client.ask(method, address, params=query, headers=headers, content=None if body is None else body.encode())
    said = f"{method} {address} {query} {headers} {body} -> {answer.status_code} {answer.text[:300]}"
    assert answer.status_code < 500, said
    hold(answer, described, operation, said)
    seen.add(answer.status_code)


def test_what_was_asked_led_to_answers_and_to_refusals(seen):
    assert {200, 201, 404, 422} <= seen


def test_every_operation_refuses_in_the_one_shape_without_a_token(office, described, operations, known):
    for path, method in operations:
        address = "/api/v1" + re.sub(r"\{(\w+)\}", lambda found: known.get(found.group(1), known["test_id"]), path)
        for headers in ({}, {"Authorization": "Bearer nonsense"}, {"Authorization": "Basic eDp5"}):
            answer = office.client.request(method, address, headers=headers)
            hold(answer, described, described["paths"][path][method], f"{method} {path}")
            assert answer.status_code in (401, 400, 422), (method, path)


def test_the_description_is_a_description(described):
    assert described["openapi"].startswith("3.1")
    assert described["components"]["securitySchemes"]
    for path, operations in described["paths"].items():
        for method, operation in operations.items():
            assert operation["security"], (method, path)
            assert operation["summary"], (method, path)
            assert {"401", "403", "404", "422"} <= set(operation["responses"]), (method, path)
