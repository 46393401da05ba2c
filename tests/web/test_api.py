"""The interface for other systems: tokens and scopes, paging, tags, one shape of refusal, what it says of itself."""

import json
from concurrent.futures import ThreadPoolExecutor
from dataclasses import replace
from uuid import uuid4

import httpx
import jsonschema
import pytest
import sqlalchemy as sa

from firstlift.certificate.settings import PLAIN
from firstlift.core.register.places import Site
from firstlift.core.register.work import SiteVisit, ValveTest
from firstlift.core.seat.record import SeatRecord, seat_of
from firstlift.store.tables import audit_table
from firstlift.usecases.keys import signing_key
from firstlift.usecases.papers.life import draft_certificate, issue_certificate, review_certificate
from firstlift.usecases.register.place import now
from firstlift.web.sessions import hashed
from firstlift.web.tokens import Scope, Tokens

ALL = tuple(Scope)


class Client:
    def __init__(self, browser, scopes):
        self.browser = browser
        self.tokens = browser.app.state.tokens
        self.secret = self.tokens.make("a client", scopes, "program:test")

    @property
    def token(self):
        return self.tokens.find(self.secret)

    def ask(self, method, path, **more):
        headers = {"Authorization": f"Bearer {self.secret}", **more.pop("headers", {})}
        return self.browser.client.request(method, f"/api/v1{path}", headers=headers, **more)

    def get(self, path, **headers):
        return self.ask("GET", path, headers=headers)

    def post(self, path, body, key):
        return self.ask("POST", path, json=body, headers={"Idempotency-Key": key})


@pytest.fixture(scope="module")
def client(office):
    return Client(office, ALL)


@pytest.fixture(scope="module")
def store(office):
    return office.app.state.store


@pytest.fixture(scope="module")
def described(office):
    return office.get("/api/v1/openapi.json").json()


def a_test(store):
    with store.read() as reader:
        return next(t for t in reader.list(ValveTest, order=("-at",)) if t.recording_sha256)


@pytest.fixture(scope="module")
def issued(store):
    """A certificate that was issued, by three people."""
    made = draft_certificate(store, a_test(store), by="Ada Quillfeather")
    review_certificate(store, made.text, by="Eda Saltgrass")
    key = signing_key(None, None, at=now())
    return issue_certificate(store, made.text, by="Hob Driftwood", key=key, settings=PLAIN)


def refusal(answer, described):
    """Hold an answer to the one shape of every refusal; give its first code."""
    schema = {"$ref": "#/components/schemas/Failed", "components": described["components"]}
    jsonschema.validate(answer.json(), schema)
    return answer.json()["errors"][0]["code"]


def test_nothing_is_read_without_a_token_that_holds(office, described):
    without = office.client.get("/api/v1/valves")
    assert (without.status_code, refusal(without, described)) == (401, "WEB-001")
    assert without.headers["www-authenticate"] == "Bearer"
    client = Client(office, ALL)
    assert client.get("/valves").status_code == 200
    office.app.state.tokens.revoke(client.token.mark)
    assert client.get("/valves").status_code == 401


def test_every_operation_but_its_own_description_needs_a_token(office, described):
    for path, operations in described["paths"].items():
        for method in operations:
            address = "/api/v1" + path.replace("{", "").replace("}", "")
            # no identifier is read before the token is: what is not known is not told apart
            answer = office.client.request(method, address.replace("_id", ""), headers={"Idempotency-Key": "k"})
            assert answer.status_code in (401, 422), (method, path)
            assert "items" not in answer.text


def test_a_token_is_kept_as_its_hash_only(office, client):
    with Tokens(office.app.state.settings.accounts).opened() as connection:
        text = "\n".join(connection.iterdump())
    assert client.secret not in text
    assert hashed(client.secret) in text


def test_a_session_of_the_browser_is_no_token(laptop):
    laptop.work_as("Hob")
    assert laptop.get("/api/v1/valves").status_code == 401


@pytest.mark.parametrize(
    ("path", "scope"),
    [
        ("/valves", "valves"),
        ("/due", "valves"),
        ("/sites", "valves"),
        ("/events", "results"),
        ("/certificates", "certificates"),
        ("/visits", "visits"),
        ("/web-hooks", "web-hooks"),
    ],
)
def test_a_token_reads_within_its_scopes_only(office, described, path, scope):
    assert Client(office, [Scope(scope)]).get(path).status_code == 200
    outside = Client(office, [other for other in ALL if other != scope]).get(path)
    assert (outside.status_code, refusal(outside, described)) == (403, "WEB-003")


def test_valves_are_paged_and_each_comes_once(client):
    first = client.get("/valves?limit=20").json()
    rest = [client.get(f"/valves?limit=20&offset={at}").json() for at in range(20, first["total"], 20)]
    every = [one["valve_id"] for page in (first, *rest) for one in page["items"]]
    assert len(every) == len(set(every)) == first["total"] > 20


def test_seat_records_of_a_valve_are_paged_and_tagged_and_one_is_in_force(client, store, described):
    valve_id = a_test(store).valve_id
    with store.read() as reader:
        kept = reader.list(SeatRecord, valve_id=valve_id, order=("-date", "id"))
    whole = client.get(f"/valves/{valve_id}/seat-records")
    page = whole.json()
    assert page["total"] == len(kept) == len(page["items"])
    assert [one["in_force"] for one in page["items"]].count(True) == 1
    assert page["items"][0]["area_m2"] == seat_of(kept[0]).area_m2
    assert client.get(f"/valves/{valve_id}/seat-records?offset={len(kept)}").json()["items"] == []
    same = client.get(f"/valves/{valve_id}/seat-records", **{"If-None-Match": whole.headers["etag"]})
    assert same.status_code == 304
    unknown = client.get(f"/valves/{uuid4()}/seat-records")
    assert (unknown.status_code, refusal(unknown, described)) == (404, "REG-010")


def test_due_dates_rise_and_end_where_asked(client):
    days = [one["due"] for one in client.get("/due?by=2027-06-30&limit=200").json()["items"]]
    assert days
    assert days == sorted(days)
    assert days[-1] <= "2027-06-30"


def test_a_result_is_the_one_that_is_kept(client, store, described):
    test = a_test(store)
    result = client.get(f"/tests/{test.id}/result").json()
    assert result["format"] == "firstlift-result-1"
    assert [pull["set_pressure_pa"] for pull in result["pulls"]] == [p.set_pressure_pa for p in test.result.pulls]
    history = client.get(f"/valves/{test.valve_id}/tests").json()
    assert str(test.id) in [one["test_id"] for one in history]


def test_what_has_not_changed_is_not_sent_again(client):
    first = client.get("/valves")
    again = client.get("/valves", **{"If-None-Match": first.headers["etag"]})
    assert (again.status_code, again.content) == (304, b"")
    assert client.get("/valves?offset=1", **{"If-None-Match": first.headers["etag"]}).status_code == 200


@pytest.mark.parametrize(
    ("path", "status"),
    [
        ("/nothing", 404),
        ("/valves?limit=0", 422),
        ("/valves?limit=100000", 422),
        ("/valves?offset=-1", 422),
        ("/valves?offset=99999999999999999999", 422),
        ("/due?by=yesterday", 422),
        ("/tests/nonsense/result", 422),
        ("/tests/00000000-0000-0000-0000-000000000000/result", 404),
        ("/certificates?state=lost", 422),
        ("/certificates/NONE-1", 404),
        ("/certificates/NONE-1/file", 404),
        ("/certificates/%00", 404),
        ("/certificates/a%0Ab/file", 404),
        ("/due?by=0", 422),
        ("/valves/00000000-0000-0000-0000-000000000000", 404),
        ("/valves/00000000-0000-0000-0000-000000000000/tests", 404),
        ("/events?after=-1", 422),
    ],
)
def test_a_refusal_has_one_shape_whatever_was_wrong(client, described, path, status):
    answer = client.get(path)
    assert answer.status_code == status
    assert refusal(answer, described).startswith(("WEB-", "REG-", "CRT-"))


def test_the_file_of_a_certificate_is_the_one_that_was_issued(client, issued):
    number = issued.certificate.text
    assert client.get(f"/certificates/{number}").json()["sha256"] == issued.certificate.signed_sha256
    answer = client.get(f"/certificates/{number}/file")
    assert (answer.headers["content-type"], answer.content) == ("application/pdf", issued.pdf)


def test_answers_are_as_they_are_described(client, described, store, issued):
    test = a_test(store)
    with store.read() as reader:
        visit = reader.list(SiteVisit)[0]
    number = issued.certificate.text
    asked = {
        "/valves": "/valves",
        "/valves/{valve_id}": f"/valves/{test.valve_id}",
        "/due": "/due",
        "/sites": "/sites",
        "/events": "/events",
        "/certificates": "/certificates",
        "/certificates/{number}": f"/certificates/{number}",
        "/valves/{valve_id}/tests": f"/valves/{test.valve_id}/tests",
        "/tests/{test_id}/result": f"/tests/{test.id}/result",
        "/visits": "/visits",
        "/visits/{visit_id}": f"/visits/{visit.id}",
    }
    for path, address in asked.items():
        answer = client.get(address)
        assert answer.status_code == 200, path
        schema = described["paths"][path]["get"]["responses"]["200"]["content"]["application/json"]["schema"]
        jsonschema.validate(answer.json(), {**schema, "components": described["components"]})


def test_the_office_makes_a_token_sees_it_once_and_ends_it(laptop):
    laptop.work_as("Ada")
    assert laptop.get("/clients").status_code == 403
    laptop.work_as("Hob")
    made = laptop.post("/clients", {"name": "maintenance", "scope": ["valves"]}, page="/clients")
    secret = made.text.split('<code class="hash">')[1].split("<")[0]
    sent = {"Authorization": f"Bearer {secret}"}
    assert laptop.get("/api/v1/valves", headers=sent).status_code == 200
    assert secret not in laptop.get("/clients").text
    (token,) = laptop.app.state.tokens.every()
    laptop.post("/clients/revoke", {"mark": token.mark}, page="/clients")
    assert laptop.get("/api/v1/valves", headers=sent).status_code == 401
    with laptop.app.state.store.read() as reader:
        written = reader.connection.execute(sa.select(audit_table.c.after).where(audit_table.c.kind == "deed"))
        deeds = [json.loads(text)["deed"] for text in written.scalars()]
    assert deeds[-2:] == ["token-made", "token-ended"]


def test_the_methods_of_an_address_are_told(client):
    answer = client.ask("DELETE", "/visits")
    assert (answer.status_code, answer.headers["allow"]) == (405, "GET, POST")


def a_visit(store):
    with store.read() as reader:
        return {
            "site_id": str(reader.list(Site)[0].id),
            "start": "2027-03-01",
            "valves": [str(a_test(store).valve_id)],
            "permits": ["PTW-7"],
        }


def visits_named(store, name):
    with store.read() as reader:
        return reader.list(SiteVisit, name=name)


def test_a_visit_is_planned_once_however_often_it_is_asked(client, store, described):
    body = {**a_visit(store), "name": "once"}
    first, again = (client.post("/visits", body, "key-1") for _ in range(2))
    assert (first.status_code, again.status_code) == (201, 201)
    assert first.json() == again.json()
    assert (first.headers.get("idempotent-replayed"), again.headers["idempotent-replayed"]) == (None, "true")
    (visit,) = visits_named(store, "once")
    assert (str(visit.id), visit.permits) == (first.json()["visit_id"], ("PTW-7",))
    other = client.post("/visits", {**body, "name": "another"}, "key-1")
    assert (other.status_code, refusal(other, described)) == (422, "WEB-012")
    with store.read() as reader:
        query = sa.select(audit_table.c.who).where(audit_table.c.entry_id == visit.id)
        assert reader.connection.execute(query).scalar_one() == client.token.who


def test_a_key_is_a_clients_own(office, client, store):
    body = {**a_visit(store), "name": "two clients"}
    for each in (client, Client(office, ALL)):
        assert each.post("/visits", body, "the same key").status_code == 422
        assert each.post("/visits", body, "the-same-key").status_code == 201
    assert len(visits_named(store, "two clients")) == 2


def test_the_same_asked_at_the_same_time_is_done_once(office, client, store):
    body = {**a_visit(store), "name": "at once"}

    def ask(_):
        headers = {"Authorization": f"Bearer {client.secret}", "Idempotency-Key": "at-once"}
        return httpx.post(f"{office.url}/api/v1/visits", json=body, headers=headers, timeout=60).status_code

    with ThreadPoolExecutor(6) as pool:
        statuses = set(pool.map(ask, range(6)))
    assert 201 in statuses
    assert statuses <= {201, 409}
    assert len(visits_named(store, "at once")) == 1


def test_a_crash_in_between_makes_nothing_twice(client, store):
    body = {**a_visit(store), "name": "crashed"}
    made = client.post("/visits", body, "crashed").json()
    # as if the answer had never been kept
    with client.tokens.opened() as connection:
        connection.execute("UPDATE answered SET status = NULL, body = NULL, at = '2026' WHERE key = 'crashed'")
    assert client.post("/visits", body, "crashed").json() == made
    assert len(visits_named(store, "crashed")) == 1


@pytest.mark.parametrize(
    ("change", "key", "status", "code"),
    [
        ({}, None, 400, "WEB-011"),
        ({"valves": []}, "a", 422, "WEB-009"),
        ({"start": "soon"}, "b", 422, "WEB-009"),
        ({"start": 0}, "c", 422, "WEB-009"),
        ({"site_id": str(uuid4())}, "d", 404, "REG-010"),
        ({"valves": [str(uuid4())]}, "e", 404, "REG-010"),
        ({"people": [str(uuid4())]}, "f", 422, "WEB-009"),
        ({"name": "x" * 201}, "g", 422, "WEB-009"),
        ({"name": "nul \0"}, "h", 422, "WEB-009"),
    ],
)
def test_a_visit_that_cannot_be_planned_is_refused_with_the_place(client, store, described, change, key, status, code):
    headers = {} if key is None else {"Idempotency-Key": key}
    answer = client.ask("POST", "/visits", json={**a_visit(store), **change}, headers=headers)
    assert (answer.status_code, refusal(answer, described)) == (status, code)
    assert code != "WEB-009" or next(iter(change)) in answer.json()["errors"][0]["where"]
    if key is not None:
        # what was refused may be asked again, put right
        assert client.post("/visits", a_visit(store), key).status_code == 201


def test_a_body_beyond_measure_is_refused_in_the_one_shape(client, described):
    def stretches():
        for _ in range(3):
            yield b" " * 500_000

    headers = {"Idempotency-Key": "k", "Content-Type": "application/json"}
    answer = client.ask("POST", "/visits", content=stretches(), headers=headers)
    assert (answer.status_code, refusal(answer, described)) == (413, "WEB-010")


def test_events_are_told_in_order_each_once_whoever_made_them(client, store, issued):
    every, after = [], 0
    while page := client.get(f"/events?after={after}&limit=7").json()["items"]:
        assert len(page) <= 7
        every += page
        after = page[-1]["number"]
    assert len({one["id"] for one in every}) == len(every) > 7
    assert [one["number"] for one in every] == sorted(one["number"] for one in every)
    with store.read() as reader:
        outside = [t.id for t in reader.list(ValveTest) if t.verdict == "outside"]
    assert [one["certificate"] for one in every if one["certificate"]] == [issued.certificate.text]
    assert {one["test_id"] for one in every if one["type"] == "found-outside"} == {str(one) for one in outside}
    stuck = replace(a_test(store), id=uuid4(), verdict="", disposition="inoperable", result=None)
    with store.work(at=now(), who="program:another") as work:
        work.add(stuck)
    (told,) = client.get(f"/events?after={after}").json()["items"]
    assert (told["type"], told["test_id"], told["disposition"]) == ("found-unfit", str(stuck.id), "inoperable")
