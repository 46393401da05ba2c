"""A seat record corrected in the app, and the tests that rest on it computed again: looked at, kept, refused."""

import re

import pytest
from tests.web.conftest import SIZES, faults
from tests.web.test_pages import ADA, EDA
from tests.web.test_seats import _reader_of, records
from tests.web.test_stories import tab_to

from firstlift.core.register.work import Certificate, CertificateState, ValveTest
from firstlift.core.seat.record import seat_of
from firstlift.store.audit import audit
from firstlift.usecases.register.analyse import recompute

WHY = "Digits <b>swapped</b> when it was entered"
LARGER = 1.05


@pytest.fixture
def valve(outside):
    return f"/valves/{outside.valve_id}"


@pytest.fixture
def preview(outside):
    return f"/tests/{outside.id}/seat"


def right_size(store, outside):
    """Give the mean diameter of a seat whose area is larger by a twentieth, as it is typed."""
    area = seat_of(own_record(store, outside)).area_m2
    return f"{(4.0 * area * LARGER / 3.141592653589793) ** 0.5 * 1e3:.6f} mm"


def own_record(store, test):
    return next(one for one in records(store, test) if one.id == test.seat_record_id)


def correct(browser, store, outside):
    """Correct the seat record that a test rests on; give the page that this leads to."""
    wrong = own_record(store, outside)
    typed = {
        "way": "measured", "mean": right_size(store, outside), "known": "0.05 mm", "tool": "CAL-3", "why": "misread",
        "date": wrong.date.isoformat(), "corrects": str(wrong.id),
    }  # fmt: skip
    page = browser.post(f"/valves/{outside.valve_id}/seats/new", typed, page="/account")
    assert page.status_code == 200, re.sub("<[^>]+>", " ", page.text)
    (word,) = [one for one in records(store, outside) if one.measured_with == ("CAL-3",)]
    return page, word


def corrections(store, test):
    with store.read() as reader:
        return reader.list(ValveTest, supersedes=test.id)


def by_hand(test):
    """Give a test's set pressure with the larger area: what the pull lifted, over 1.05."""
    pull = next(pull for pull in test.result.pulls if pull.set_pressure_pa == test.set_pressure_pa)
    return pull.line_pressure_pa + (pull.set_pressure_pa - pull.line_pressure_pa) / LARGER


@pytest.mark.parametrize("size", SIZES)
def test_a_wrong_diameter_is_corrected_and_its_test_computed_again(opened, store, outside, valve, size):
    page = opened(ADA, size)
    press = (lambda button: button.tap()) if size == "tablet" else (lambda button: button.click())
    wrong = own_record(store, outside)
    page.goto(f"{valve}/seats#record-{wrong.id}")
    row = page.locator(f"#record-{wrong.id}")
    press(row.get_by_text("This record is wrong"))
    press(row.get_by_role("link", name="Enter the right one in its place"))
    page.wait_for_url("**corrects=*")
    for name, text in (("inner", ""), ("outer", ""), ("mean", right_size(store, outside)), ("known", "0.05 mm")):
        page.locator(f"[name={name}]").fill(text)
    page.get_by_label("Measured with").fill("CAL-3")
    page.get_by_label("Why").fill("misread")
    press(page.get_by_role("button", name="Work it out"))
    page.get_by_text("can be computed again from the list of seat records").wait_for()
    press(page.get_by_role("button", name="Keep this record"))
    page.wait_for_url("**/seats#again")
    row = page.locator("#again tr", has=page.locator(f"a[href='/tests/{outside.id}/seat']"))
    press(row.get_by_role("link", name="Compute it again"))
    page.wait_for_url(f"**/tests/{outside.id}/seat")
    page.get_by_role("heading", name="Side by side").wait_for()
    stamped = page.locator(".aside .judged td").all_inner_texts()
    shown = [float(re.match(r"[\d.]+", text)[0]) for text in stamped]
    bar = {"bar": 1e5, "kPa": 1e3, "MPa": 1e6, "psi": 6894.757}[re.search(r"± [\d.]+ (\w+)", stamped[0])[1]]
    assert shown[0] * bar == pytest.approx(outside.set_pressure_pa, rel=2e-4)
    assert shown[1] * bar == pytest.approx(by_hand(outside), rel=2e-4)
    assert "misread" in page.inner_text("main")
    assert corrections(store, outside) == []
    assert faults(page) == []
    assert page.evaluate("document.documentElement.scrollWidth <= innerWidth")
    page.get_by_label("Why").fill(WHY)
    press(page.get_by_role("button", name="Keep the corrected test"))
    page.wait_for_url(lambda url: not url.endswith("/seat"))
    (made,) = corrections(store, outside)
    assert page.url.endswith(f"/tests/{made.id}")
    assert WHY in page.inner_text("main")
    assert made.set_pressure_pa == pytest.approx(by_hand(outside), rel=1e-7)
    assert (made.at, made.recording_sha256) == (outside.at, outside.recording_sha256)
    assert "Compute it again" not in page.inner_text("main")
    page.goto(f"/tests/{outside.id}")
    page.get_by_text("This test was corrected").wait_for()
    assert page.get_by_role("link", name="Compute it again").count() == 0
    page.goto(f"{valve}/seats")
    assert page.locator(f"a[href='/tests/{outside.id}/seat']").count() == 0
    with store.read() as reader:
        assert reader.get(ValveTest, outside.id) == outside
        assert recompute(reader, made) == made.result
        assert audit(reader).faults == ()


def test_the_same_by_keys_alone_from_the_page_of_the_test(opened, ada, store, outside):
    correct(ada, store, outside)
    page = opened(ADA)
    page.goto(f"/tests/{outside.id}")
    tab_to(page, "Compute it again")
    page.keyboard.press("Enter")
    page.wait_for_url("**/seat")
    tab_to(page, "why")
    page.keyboard.type("misread")
    tab_to(page, "Keep the corrected test")
    page.keyboard.press("Enter")
    page.wait_for_url(lambda url: not url.endswith("/seat"))
    (made,) = corrections(store, outside)
    assert made.note.endswith(": misread")


def test_pages_say_what_rests_on_the_wrong_record(ada, store, outside, valve, preview):
    assert "Tests to compute again" not in ada.get(f"{valve}/seats").text
    assert "was found to be wrong" not in ada.get(f"/tests/{outside.id}").text
    page, right = correct(ada, store, outside)
    assert str(page.url).endswith("/seats#again")
    assert "Tests to compute again" in page.text
    assert preview in page.text
    assert "was found to be wrong: <bdi>misread</bdi>" in ada.get(f"/tests/{outside.id}").text
    looked = ada.get(preview)
    assert looked.status_code == 200
    assert str(right.id) in looked.text


def test_what_cannot_be_computed_again_is_refused_and_nothing_is_kept(ada, store, outside, preview):
    def keep(test=outside, **more):
        typed = {"why": "misread", "record": str(now.id), **more}
        return ada.post(f"/tests/{test.id}/seat", typed, page="/account")

    now = own_record(store, outside)
    for answer, status in ((ada.get(preview), 422), (keep(), 409)):
        assert (answer.status_code, "SEA-026" in answer.text or "Nothing changes" in answer.text) == (status, True)
    with store.read() as reader:
        tests = reader.list(ValveTest, order=("-at",))
    bare = next(t for t in tests if not t.recording_sha256)
    answer = ada.get(f"/tests/{bare.id}/seat")
    assert (answer.status_code, "keeps no recording to compute from" in answer.text) == (422, True)
    _, now = correct(ada, store, outside)
    for more, said in (
        ({"why": "  "}, "No reason is given"),
        ({"record": str(outside.seat_record_id)}, "no longer the one that was looked at"),
        ({"record": "7"}, "There is no such page"),
    ):
        answer = keep(**more)
        assert (400 <= answer.status_code < 500, said in answer.text) == (True, True), more
    assert ada.client.post(preview, data={"why": "misread", "record": str(now.id)}).status_code == 403
    assert corrections(store, outside) == []
    assert keep().status_code == 200
    (made,) = corrections(store, outside)
    answer = keep()
    assert (answer.status_code, str(made.id) in answer.text) == (409, True)
    assert ada.get(preview).status_code == 422


def test_only_who_may_test_computes_anything_again(laptop, ada, store, outside, valve, preview):
    _, now = correct(ada, store, outside)
    page = laptop.work_as(_reader_of(laptop))
    told = page.get(f"/tests/{outside.id}").text
    assert "was found to be wrong" in told
    for text in (told, page.get(f"{valve}/seats").text):
        assert "Compute it again" not in text
    assert page.get(preview).status_code == 403
    token = page.token("/account")
    answer = page.client.post(preview, data={"csrf": token, "why": "x", "record": str(now.id)})
    assert answer.status_code == 403
    assert corrections(store, outside) == []


def drafted(browser, test, **more):
    answer = browser.post(f"/tests/{test.id}/certificate", more, page=f"/tests/{test.id}")
    return re.search(r"/papers/([^/?#]+)", str(answer.url))[1]


def test_a_draft_is_withdrawn_with_the_test_it_was_of(ada, store, outside, preview):
    number = drafted(ada, outside)
    _, now = correct(ada, store, outside)
    assert number in ada.get(preview).text
    ada.post(preview, {"why": WHY, "record": str(now.id)}, page=preview)
    with store.read() as reader:
        (paper,) = reader.list(Certificate, text=number)
    assert (paper.state, WHY in paper.reason) == (CertificateState.WITHDRAWN, True)


def test_an_issued_certificate_stands_until_the_corrected_tests_takes_its_place(laptop, ada, store, outside, preview):
    number = drafted(ada, outside)
    laptop.work_as(EDA)
    laptop.post(f"/papers/{number}/review", {"read": "yes"}, page="/settings")
    laptop.post(f"/papers/{number}/issue", page="/settings")
    _, now = correct(laptop, store, outside)
    looked = laptop.get(preview).text
    assert number in looked
    assert "must be superseded or withdrawn" in looked
    typed = {"why": "misread", "record": str(now.id)}
    answer = laptop.post(preview, typed, page=preview)
    assert (answer.status_code, "must be superseded or withdrawn" in answer.text) == (409, True)
    assert corrections(store, outside) == []
    page = laptop.post(preview, {**typed, "certificate": "1"}, page=preview)
    assert page.status_code == 200
    (made,) = corrections(store, outside)
    assert f"<option selected>{number}</option>" in page.text
    with store.read() as reader:
        assert reader.list(Certificate, text=number)[0].state is CertificateState.ISSUED

    laptop.work_as(ADA)
    newer = drafted(laptop, made, supersedes=number, reason="seat area corrected")
    laptop.work_as(EDA)  # who computed it again is one of its testers
    assert laptop.post(f"/papers/{newer}/review", {"read": "yes"}, page="/settings").status_code == 403


@pytest.mark.parametrize(("look", "size"), [("day", "tablet"), ("night", "laptop"), ("contrast", "tablet")])
def test_every_state_is_sound_in_every_look(opened, ada, store, outside, valve, preview, look, size):
    drafted(ada, outside)
    page = opened(ADA, size)
    page.goto("/settings")
    page.locator("select[name=look]").select_option(look)
    page.locator("form[action='/settings/look'] button").click()
    page.goto(preview)
    assert page.locator(".refusal").count() == 1
    assert faults(page) == []
    correct(ada, store, outside)
    for path in (preview, f"{valve}/seats", f"/tests/{outside.id}"):
        page.goto(path)
        assert page.locator("#again, .aside, .refusal").count() >= 1, path
        assert faults(page) == [], path
        assert page.evaluate("document.documentElement.scrollWidth <= innerWidth"), path
