"""A pull rejected and a first lift moved in the app: judged again, kept with the reason, printed, computed again."""

import io
import re

import pypdfium2
import pytest
from tests.web.test_pages import ADA, EDA

from firstlift.core.register.work import Certificate, CertificateState, ValveTest
from firstlift.store.audit import audit
from firstlift.usecases.register.analyse import recompute
from firstlift.usecases.verify import verify_certificate

WHY = "The rig was knocked; <b>seen</b> by both"


@pytest.fixture
def test(store):
    """The latest test with two pulls that lifted."""
    with store.read() as reader:
        return next(t for t in reader.list(ValveTest, order=("-at",)) if t.recording_sha256 and len(t.result.pulls) > 1)


def say(browser, test, **word):
    data = {"pull": "2", "action": "reject", "reason": WHY, **{k: str(v) for k, v in word.items()}}
    return browser.post(f"/tests/{test.id}/review", data, page=f"/tests/{test.id}")


def newest(store, test):
    with store.read() as reader:
        return reader.list(ValveTest, supersedes=test.id)[0]


def text_of(pdf):
    document = pypdfium2.PdfDocument(io.BytesIO(pdf))
    text = " ".join(page.get_textpage().get_text_range() for page in document)
    return re.sub(r"\s+", " ", text)


def test_a_rejected_pull_is_kept_with_its_reason_and_goes_all_the_way_to_the_certificate(laptop, ada, store, test):
    number = re.search(r"/papers/(.+)$", str(ada.post(f"/tests/{test.id}/certificate", page=f"/tests/{test.id}").url))[
        1
    ]
    page = say(ada, test)
    assert page.status_code == 200
    assert "does not count" in page.text
    assert "&lt;b&gt;seen&lt;/b&gt;" in page.text
    reviewed = newest(store, test)
    assert str(page.url).partition("#")[0].endswith(str(reviewed.id))
    assert [pull.accepted for pull in reviewed.result.pulls] == [True, False]
    assert reviewed.result.pulls[1].set_pressure_pa == test.result.pulls[1].set_pressure_pa
    assert (reviewed.at, reviewed.verdict, reviewed.recording_sha256) == (test.at, test.verdict, test.recording_sha256)
    assert WHY in reviewed.note
    with store.read() as reader:
        assert recompute(reader, reviewed) == reviewed.result
        (draft,) = reader.list(Certificate, text=number)
        assert draft.state is CertificateState.WITHDRAWN
        assert WHY in draft.reason
        assert audit(reader).faults == ()
    assert "This test was corrected" in ada.get(f"/tests/{test.id}").text
    assert f"/tests/{reviewed.id}" in ada.get(f"/visits/{test.visit_id}").text

    drafted = ada.post(f"/tests/{reviewed.id}/certificate", page=f"/tests/{reviewed.id}")
    paper = re.search(r"/papers/[^/?#]+", str(drafted.url))[0]
    laptop.work_as(EDA)
    laptop.post(f"{paper}/review", {"read": "yes"}, page="/settings")
    laptop.post(f"{paper}/issue", page="/settings")
    pdf = laptop.get(f"{paper}/file.pdf").content
    assert f"This pull was rejected by hand: {WHY} ({ADA}" in text_of(pdf)
    verified = verify_certificate(pdf)
    assert verified.whole
    assert verified.recomputed.outcome == "same"


def test_a_moved_first_lift_shows_both_values_and_can_be_taken_back(ada, store, test):
    was = test.result.pulls[0]
    page = say(ada, test, pull=1, action="move", first_lift=f"{was.first_lift_s - 0.05:.2f}".replace(".", ","))
    assert page.status_code == 200, re.sub("<[^>]+>", " ", page.text)
    moved = newest(store, test)
    now = moved.result.pulls[0]
    assert now.first_lift_s == pytest.approx(was.first_lift_s - 0.05, abs=6e-3)
    assert now.set_pressure_pa != was.set_pressure_pa
    assert now.expanded_uncertainty_pa > was.expanded_uncertainty_pa
    assert abs(now.set_pressure_pa - was.set_pressure_pa) < now.expanded_uncertainty_pa
    (said,) = [f for f in moved.result.findings if f.code == "first-lift-moved"]
    assert said.parameters["read_set_pressure_pa"] == was.set_pressure_pa
    assert "moment moved by hand" in page.text
    back = say(ada, moved, pull=1, action="take-back", reason="looked at it again")
    assert back.status_code == 200
    with store.read() as reader:
        assert newest(store, moved).result == recompute(reader, test)


REFUSED = (
    ({"reason": "  "}, "REV-005"),
    ({"action": "hide"}, "REV-005"),
    ({"action": "take-back"}, "REV-005"),
    ({"pull": 99}, "REV-001"),
    ({"action": "move", "first_lift": "0.001"}, "REV-003"),
    ({"action": "move", "first_lift": "3 bar"}, "UNI-002"),
    ({"action": "move", "first_lift": ""}, "UNI-004"),
)


def test_what_cannot_be_said_is_refused_and_nothing_is_kept(ada, store, test):
    for word, code in REFUSED:
        answer = say(ada, test, **word)
        assert (answer.status_code, code in answer.text) == (422, True), word
    with store.read() as reader:
        assert reader.list(ValveTest, supersedes=test.id) == []


def test_a_corrected_test_is_not_reviewed_again_and_a_reader_reviews_nothing(laptop, ada, store, test):
    token = ada.token(f"/tests/{test.id}")
    assert say(ada, test).status_code == 200
    word = {"csrf": token, "pull": "1", "action": "reject", "reason": "late"}
    answer = ada.client.post(f"/tests/{test.id}/review", data=word)
    assert (answer.status_code, "REV-004" in answer.text) == (409, True)


def test_who_speaks_of_a_pull_does_not_review_its_certificate(laptop, store, test):
    laptop.work_as(EDA)
    assert say(laptop, test).status_code == 200
    reviewed = newest(store, test)
    laptop.work_as(ADA)
    drafted = laptop.post(f"/tests/{reviewed.id}/certificate", page=f"/tests/{reviewed.id}")
    paper = re.search(r"/papers/[^/?#]+", str(drafted.url))[0]
    laptop.work_as(EDA)
    assert laptop.post(f"{paper}/review", {"read": "yes"}, page="/settings").status_code == 403
