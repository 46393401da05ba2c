"""Seat records in the app: entered, found from pulls, void after work on the seat, corrected; looked at first."""

import csv
import html
import io
import re

import numpy as np
import pytest
from tests.web.conftest import SIZES, faults
from tests.web.made_pulls import Pulls
from tests.web.test_stories import tab_to

from firstlift.core.register.work import ValveTest
from firstlift.core.seat.record import SeatRecord, Source, seat_of
from firstlift.core.seat.word import Said, SeatWord
from firstlift.store.audit import audit
from firstlift.store.files import read_kept

LINES = (("4", "424"), ("6 bar", "283 N"), ("8,0", "141"))
ADA = "Ada Quillfeather"


@pytest.fixture
def valve(store, outside):
    """The valve of a recorded test, as an address."""
    return f"/valves/{outside.valve_id}"


def records(store, outside):
    with store.read() as reader:
        return reader.list(SeatRecord, valve_id=outside.valve_id, order=("-date",))


def type_pulls(page, lines=LINES, cell="LC-01", gauge="PG-01"):
    for at, (line, pull) in enumerate(lines):
        for name, text in (("line", line), ("u_line", "0.2 %"), ("pull", pull), ("u_pull", "1")):
            page.locator(f"[name={name}]").nth(at).fill(text)
    page.get_by_label("Force cells").fill(cell)
    page.get_by_label("Gauge", exact=True).fill(gauge)
    page.get_by_label("Typed readings").check()


@pytest.mark.parametrize("size", SIZES)
def test_a_seat_is_measured_found_from_pulls_and_re_lapped(opened, store, outside, valve, size):
    page = opened(ADA, size)
    press = (lambda button: button.tap()) if size == "tablet" else (lambda button: button.click())
    page.goto(valve)
    press(page.get_by_role("link", name="Enter a seat record"))
    page.get_by_label("Bore").fill("30,0")
    page.get_by_label("Outer edge of the contact").fill("1.2284 in")
    page.get_by_label("Standard uncertainty of each").fill("0.05")
    page.get_by_label("Measured with").fill("CAL-3")
    page.get_by_label("Day").fill("2026-11-20")
    press(page.get_by_role("button", name="Work it out"))
    page.get_by_text("It would be in force from").wait_for()
    assert "736 ± 28 mm²" in page.inner_text("main")
    assert len(records(store, outside)) == 1
    press(page.get_by_role("button", name="Keep this record"))
    page.wait_for_url("**/seats#record-*")
    assert "736 ± 28 mm²" in page.locator(".in-force-now").inner_text()
    measured = records(store, outside)[0]
    assert (measured.source, measured.measured_with, measured.inner_diameter_m) == (
        Source.MEASURED, ("CAL-3",), pytest.approx(0.03),
    )  # fmt: skip

    press(page.get_by_role("link", name="Enter a seat record"))
    press(page.get_by_role("link", name="Pulls at several line pressures"))
    page.wait_for_url("**way=pulls")
    type_pulls(page)
    page.get_by_label("Day").fill("2026-11-21")
    press(page.get_by_role("button", name="Work it out"))
    page.get_by_text("707 ± 13 mm²").first.wait_for()
    assert page.locator("figure svg").get_by_text("set pressure").count() == 1
    press(page.get_by_role("button", name="Keep this record"))
    page.wait_for_url("**/seats#record-*")
    fitted = next(record for record in records(store, outside) if record.source is Source.TWO_PRESSURES)
    assert seat_of(fitted).area_m2 == pytest.approx(707e-6, rel=2e-3)
    assert "It serves only with the instruments that found it, LC-01, PG-01" in page.inner_text("main")
    # with those, it is the more certain one
    page.goto(f"{valve}/seats?serial=LC-01&serial=PG-01")
    assert "707 ± 13 mm²" in page.locator(".in-force-now").inner_text()

    press(page.get_by_role("link", name="The seat was re-lapped or renewed"))
    page.get_by_label("Why").fill("leaked at 90 %")
    press(page.get_by_role("button", name="Show what that would do"))
    page.get_by_text("No record would serve").wait_for()
    page.get_by_label("I mean this valve").check()
    press(page.get_by_role("button", name="Say that the seat is a new one"))
    page.wait_for_url("**/seats")
    assert "leaked at 90 %" in page.inner_text("#records")
    with store.read() as reader:
        (word,) = reader.list(SeatWord)
        assert (word.said, word.note) == (Said.RELAPPED, "leaked at 90 %")
        assert audit(reader).faults == ()
    assert "No seat record serves" in page.locator(".in-force-now").inner_text()


def test_the_same_by_keys_alone(opened, store, outside, valve):
    page = opened(ADA)
    page.goto(f"{valve}/seats/new")
    for name, text in (("mean", "22.4 mm"), ("known", "0,05 mm"), ("tool", "CAL-3"), ("note", "calm day")):
        tab_to(page, name)
        page.keyboard.type(text)
    tab_to(page, "Work it out")
    page.keyboard.press("Enter")
    page.get_by_text("What keeping it would do").wait_for()
    tab_to(page, "Keep this record")
    page.keyboard.press("Enter")
    page.wait_for_url("**/seats#record-*")
    tab_to(page, "This record is wrong")
    page.keyboard.press("Enter")
    tab_to(page, "Enter the right one in its place")
    page.keyboard.press("Enter")
    page.wait_for_url("**corrects=*")
    for name, text in (("mean", "22.5 mm"), ("known", "0.05 mm"), ("why", "misread")):
        tab_to(page, name)
        page.keyboard.press("Control+A")
        page.keyboard.type(text)
    tab_to(page, "Work it out")
    page.keyboard.press("Enter")
    page.get_by_text("What keeping it would do").wait_for()
    tab_to(page, "Keep this record")
    page.keyboard.press("Enter")
    page.wait_for_url("**/seats#record-*")
    assert "misread" in page.inner_text("#records")
    assert "397.6" in page.locator(".in-force-now").inner_text()
    with store.read() as reader:
        (word,) = reader.list(SeatWord)
        wrong, right = reader.get(SeatRecord, word.record_id), reader.get(SeatRecord, word.replaced_by)
    assert [round(seat_of(one).area_m2 * 1e6, 1) for one in (wrong, right)] == [394.1, 397.6]


def test_work_on_a_seat_is_said_by_keys_and_taken_back(opened, store, valve):
    page = opened(ADA)
    page.goto(f"{valve}/seats/work")
    tab_to(page, "why")
    page.keyboard.type("another valve")
    tab_to(page, "Show what that would do")
    page.keyboard.press("Enter")
    page.get_by_role("heading", name="What that would do").wait_for()
    tab_to(page, "sure")
    page.keyboard.press("Space")
    tab_to(page, "Say that the seat is a new one")
    page.keyboard.press("Enter")
    page.wait_for_url("**/seats")
    assert "No seat record serves" in page.inner_text("main")
    page.goto(f"{valve}/plan")
    assert "SEA-018" in page.content() or "no seat record" in page.content().lower()
    page.goto(f"{valve}/seats")
    tab_to(page, "Take that back")
    page.keyboard.press("Enter")
    tab_to(page, "why")
    page.keyboard.type("it was the spare")
    page.keyboard.press("Enter")
    page.wait_for_url("**/seats#records")
    assert "No seat record serves" not in page.inner_text("main")
    with store.read() as reader:
        assert reader.count(SeatWord) == 2
        assert audit(reader).faults == ()


@pytest.mark.parametrize(("look", "size"), [("day", "tablet"), ("night", "laptop"), ("contrast", "tablet")])
def test_every_state_is_sound_in_every_look(opened, valve, look, size):
    page = opened(ADA, size)
    page.goto("/settings")
    page.locator("select[name=look]").select_option(look)
    page.locator("form[action='/settings/look'] button").click()
    for path in ("", "/new", "/new?way=maker", "/new?way=pulls", "/new?way=pairs", "/work"):
        page.goto(f"{valve}/seats{path}")
        assert faults(page) == [], path
        assert page.evaluate("document.documentElement.scrollWidth <= innerWidth"), path
    page.goto(f"{valve}/seats/new?way=pulls")
    type_pulls(page)
    page.get_by_role("button", name="Work it out").click()
    page.get_by_text("What keeping it would do").wait_for()
    assert faults(page) == []
    # as far apart as their own uncertainty: the pull falls from one to the next, and says next to nothing of the area
    page.locator("[name=line]").nth(0).fill("7.9")
    page.locator("[name=line]").nth(1).fill("8")
    page.locator("[name=pull]").nth(0).fill("148")
    page.locator("[name=pull]").nth(1).fill("141")
    page.get_by_role("button", name="Work it out").click()
    page.get_by_text("leave the area uncertain").wait_for()
    assert page.locator(".refusal").count() == 1
    assert page.locator("figure svg").count() == 1
    assert faults(page) == []
    for details in page.locator("details").all():
        assert details.bounding_box()["height"] >= 48


def test_what_was_typed_waits_until_the_record_is_kept(opened, valve):
    page = opened(ADA)
    page.goto(f"{valve}/seats/new")
    page.get_by_label("or mean diameter").fill("22.4 mm")
    page.get_by_label("Measured with").fill("CAL-3")
    page.get_by_role("button", name="Work it out").click()
    page.get_by_text("What keeping it would do").wait_for()
    page.goto(f"{valve}/seats/new")
    page.get_by_text("What you had typed was put back").wait_for()
    assert page.get_by_label("or mean diameter").input_value() == "22.4 mm"
    page.get_by_role("button", name="Work it out").click()
    page.get_by_role("button", name="Keep this record").click()
    page.wait_for_url("**/seats#record-*")
    page.goto(f"{valve}/seats/new")
    page.wait_for_timeout(500)
    assert page.get_by_label("or mean diameter").input_value() == ""


REFUSED = {
    "a letter": ({"way": "maker", "area": "K", "reference": "plate"}, "is an orifice letter"),
    "a letter's area": ({"way": "maker", "area": "1186", "reference": "data sheet"}, "orifice letter K"),
    "a letter's area in inches": (
        {"way": "maker", "area": "1.838", "area_unit": "in2", "reference": "data sheet"}, "orifice letter K",
    ),
    "no paper": ({"way": "maker", "mean": "30"}, "names no paper"),
    "nothing": ({"way": "measured"}, "No size is typed"),
    "two ways": ({"way": "measured", "mean": "30", "inner": "29", "tool": "C"}, "not given in one way"),
    "no tool": ({"way": "measured", "mean": "30"}, "does not say what measured it"),
    "swapped": ({"way": "measured", "inner": "31", "outer": "30", "tool": "C"}, "does not exceed"),
    "no date": ({"way": "measured", "mean": "30", "tool": "C", "date": "soon"}, "is not a date"),
    "to come": ({"way": "measured", "mean": "30", "tool": "C", "date": "2100-01-01"}, "is still to come"),
    "no way": ({"way": "guess"}, "is no way to know a seat area"),
    "no reading": ({"way": "pulls"}, "No reading is typed"),
    "half a row": ({"way": "pulls", "line": ["4"], "pull": [""]}, "No pull"),
    "not the same": (
        {"way": "pulls", "line": ["4", "8"], "pull": ["424", "141"], "cell": "L", "gauge": "G"}, "Nobody confirmed",
    ),
    "too close": (
        {"way": "pulls", "line": ["7.9", "8"], "pull": ["148", "141"], "cell": "L", "gauge": "G", "same": "1"},
        "leave the area uncertain",
    ),
    "no cell": ({"way": "pulls", "line": ["4", "8"], "pull": ["424", "141"], "gauge": "G", "same": "1"}, "not named"),
    "no such test": ({"way": "pulls", "test": ["7"]}, "There is no such page"),
}  # fmt: skip


def test_what_cannot_be_a_seat_record_is_refused_with_its_reason_and_nothing_is_kept(ada, store, outside, valve):
    for case, (typed, said) in REFUSED.items():
        looked = ada.get(f"{valve}/seats/new", params={**typed, "look": "1"})
        assert said in html.unescape(looked.text), case
        assert 400 <= looked.status_code < 500, case
        kept = ada.post(f"{valve}/seats/new", typed, page="/account")
        assert 400 <= kept.status_code < 500, case
    assert len(records(store, outside)) == 1


def test_only_who_may_test_enters_anything(laptop, store, outside, valve):
    page = laptop.work_as(_reader_of(laptop))
    with store.read() as reader:
        before = audit(reader).entries
    assert "Enter a seat record" not in page.get(f"{valve}/seats").text
    assert page.get(f"{valve}/seats").status_code == 200
    token = page.token("/account")
    record = records(store, outside)[0]
    for path in ("new", "work", f"{record.id}/wrong", f"said/{record.id}/back"):
        assert page.client.post(f"{valve}/seats/{path}", data={"csrf": token, "why": "x"}).status_code == 403
        assert page.client.post(f"{valve}/seats/{path}", data={"why": "x"}).status_code == 403
    for path in ("new", "work"):
        assert page.get(f"{valve}/seats/{path}").status_code == 403
    with store.read() as reader:
        assert audit(reader).entries == before


def _reader_of(laptop):
    names = re.findall(r"<strong>([^<]+)</strong>\s*<span>([^<]+)</span>", laptop.get("/who").text)
    return next(name for name, role in names if role.strip() in ("inspector", "reader"))


def at_another_pressure(pulls, sheet, share):
    """Give the recording as it had been at a share of its line pressure: the pull grows by the area for every unit."""
    rows = list(csv.reader(io.StringIO(pulls.changed().decode())))
    values = np.array(rows[1:], dtype=float)
    (line,) = [i for i, name in enumerate(rows[0]) if name == _column(sheet, "line_pressure")]
    at = float(np.median(values[:, line]))
    opening = pulls.opening / at  # set pressure over line pressure
    values[:, line] *= share
    values[:, pulls.column("cell", "force")] *= (opening - share) / (opening - 1.0)
    text = io.StringIO()
    text.write(",".join(rows[0]) + "\n")
    np.savetxt(text, values, fmt="%.7g", delimiter=",")
    return text.getvalue().encode()


def _column(sheet, measures):
    channels = sheet.split("[[channel]]")[1:]
    (found,) = [part for part in channels if f'"{measures}"' in part]
    return re.search(r'column = "([^"]+)"', found)[1]


def test_the_area_is_found_from_the_tests_of_the_valve(ada, store, outside, valve):
    sheet = read_kept(store.folder, outside.sheet_sha256).decode()
    pulls = Pulls(sheet, read_kept(store.folder, outside.recording_sha256), every=1)
    pull = next(pull for pull in outside.result.pulls if pull.set_pressure_pa)
    unit = re.search(
        rf'column = "{re.escape(_column(sheet, "line_pressure"))}"[^\[]*?unit = "([^"]+)"', sheet, re.DOTALL
    )[1]
    pulls.opening = pull.set_pressure_pa / {"bar": 1e5, "kPa": 1e3, "MPa": 1e6, "psi": 6894.757}[unit]
    made = at_another_pressure(pulls, sheet, 0.8)
    files = [("files", file) for file in pulls.files("lower", made)]
    answer = ada.post("/import/sheets", page="/import", files=files)
    assert "was not taken in" not in answer.text
    with store.read() as reader:
        lower = next(
            t for t in reader.list(ValveTest, valve_id=outside.valve_id) if t.recording_sha256 and t.id != outside.id
        )
    typed = {"way": "pulls", "test": [str(outside.id), str(lower.id)]}
    looked = ada.get(f"{valve}/seats/new", params={**typed, "look": "1"})
    assert looked.status_code == 200, re.findall(r'class="refusal".*?</div>', looked.text, re.DOTALL)
    ada.post(f"{valve}/seats/new", typed, page="/account")
    fitted = next(record for record in records(store, outside) if record.source is Source.TWO_PRESSURES)
    stated = seat_of(records(store, outside)[-1]).area_m2
    assert abs(fitted.area_m2 - stated) < 2.5 * fitted.u_area_m2
    cells = {name for name in re.findall(r'serial = "([^"]+)"', sheet.split("[[channel]]", 1)[1]) if name[:2] == "LC"}
    assert cells < set(fitted.serials)
    assert len(set(fitted.serials) - cells) == 1
    one_alone = ada.get(f"{valve}/seats/new", params={"way": "pulls", "test": [str(lower.id)], "look": "1"})
    assert one_alone.status_code == 422


def test_pairs_of_bench_and_on_line_give_an_area(ada, store, outside, valve):
    typed = {
        "way": "pairs", "line": ["7 bar", "6 bar"], "pull": ["212 N", "283 N"], "bench": ["10 bar", "1 MPa"],
        "cell": "LC-01, LC-02", "gauge": "PG-01", "bench_gauge": "PG-01", "same": "1",
    }  # fmt: skip
    looked = ada.get(f"{valve}/seats/new", params={**typed, "look": "1"})
    assert looked.status_code == 200
    assert "bench less line pressure" in looked.text
    ada.post(f"{valve}/seats/new", typed, page="/account")
    fitted = next(record for record in records(store, outside) if record.source is Source.BENCH)
    assert fitted.area_m2 == pytest.approx(707e-6, rel=5e-3)
    assert set(fitted.serials) == {"LC-01", "LC-02", "PG-01"}
