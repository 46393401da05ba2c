"""The interface for other systems: tokens and scopes, paging, tags, one shape of refusal, what it says of itself."""

import jsonschema
import pytest

from firstlift.core.register.work import ValveTest
from firstlift.web.tokens import Scope

ALL = tuple(Scope)


class Client:
    def __init__(self, browser, scopes):
        self.browser = browser
        self.secret = browser.app.state.tokens.make("a client", scopes, "program:test")

    def get(self, path, **headers):
        sent = {"Authorization": f"Bearer {self.secret}", **headers}
        return self.browser.client.get(f"/api/v1{path}", headers=sent)


@pytest.fixture
def client(shared):
    return Client(shared, ALL)


@pytest.fixture
def described(client):
    return client.browser.get("/api/v1/openapi.json").json()


def a_test(store):
    with store.read() as reader:
        return next(t for t in reader.list(ValveTest, order=("-at",)) if t.recording_sha256)


def refusal(answer, described):
    """Hold an answer to the one shape of every refusal; give its first code."""
    schema = {"$ref": "#/components/schemas/Failed", "components": described["components"]}
    jsonschema.validate(answer.json(), schema)
    return answer.json()["errors"][0]["code"]


def test_nothing_is_read_without_a_token_that_holds(shared, client, described):
    without = shared.client.get("/api/v1/valves")
    assert (without.status_code, refusal(without, described)) == (401, "WEB-001")
    assert without.headers["www-authenticate"] == "Bearer"
    (token,) = shared.app.state.tokens.every()
    shared.app.state.tokens.revoke(token.mark)
    assert client.get("/valves").status_code == 401


def test_a_session_of_the_browser_is_no_token(laptop):
    laptop.work_as("Hob")
    assert laptop.get("/api/v1/valves").status_code == 401


@pytest.mark.parametrize(
    ("path", "scope"), [("/valves", "valves"), ("/due", "valves"), ("/certificates", "certificates")]
)
def test_a_token_reads_within_its_scopes_only(shared, described, path, scope):
    assert Client(shared, [Scope(scope)]).get(path).status_code == 200
    outside = Client(shared, [other for other in ALL if other != scope]).get(path)
    assert (outside.status_code, refusal(outside, described)) == (403, "WEB-003")


def test_valves_are_paged_and_each_comes_once(client):
    first = client.get("/valves?limit=20").json()
    rest = [client.get(f"/valves?limit=20&offset={at}").json() for at in range(20, first["total"], 20)]
    every = [one["valve_id"] for page in (first, *rest) for one in page["items"]]
    assert len(every) == len(set(every)) == first["total"] > 20


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
    ],
)
def test_a_refusal_has_one_shape_whatever_was_wrong(client, described, path, status):
    answer = client.get(path)
    assert answer.status_code == status
    assert refusal(answer, described).startswith(("WEB-", "REG-", "CRT-"))


def test_answers_are_as_they_are_described(client, described, store):
    test = a_test(store)
    asked = {
        "/valves": "/valves",
        "/due": "/due",
        "/certificates": "/certificates",
        "/valves/{valve_id}/tests": f"/valves/{test.valve_id}/tests",
        "/tests/{test_id}/result": f"/tests/{test.id}/result",
    }
    for path, address in asked.items():
        schema = described["paths"][path]["get"]["responses"]["200"]["content"]["application/json"]["schema"]
        jsonschema.validate(client.get(address).json(), {**schema, "components": described["components"]})


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
