"""The pages as somebody works through them, from what is due to the issued certificate."""

import datetime as dt
import re
import time
from uuid import uuid4

import pytest
from tests.web.app_server import served

from firstlift.core.register.equipment import Installation
from firstlift.core.register.people import Person
from firstlift.core.register.places import Position, Site
from firstlift.core.register.work import Certificate, HoldPoint, HowTested, SiteVisit, ValveTest
from firstlift.store.audit import audit
from firstlift.store.files import read_kept
from firstlift.store.open import create_store
from firstlift.store.search import site_summary
from firstlift.usecases.papers.find import name_of
from firstlift.usecases.register.place import now
from firstlift.web.lists import site_summaries
from firstlift.web.settings import Settings

TODAY = dt.date(2026, 11, 25)
ADA, EDA = "Ada Quillfeather", "Eda Saltgrass"


@pytest.fixture
def ada(laptop):
    return laptop.work_as(ADA)


@pytest.fixture
def recorded(store):
    """The latest test with a recording whose sheet this release still analyses, and the kept files."""
    with store.read() as reader:
        tests = [t for t in reader.list(ValveTest, order=("-at",)) if t.recording_sha256]
        test = next(t for t in tests if t.result is not None and t.result.pulls)
        sheet = read_kept(store.folder, test.sheet_sha256).decode()
        recording = read_kept(store.folder, test.recording_sha256)
    return test, sheet, recording


def pages(store):
    """Give the address of every page, with one example of each kind."""
    with store.read() as reader:
        test = next(t for t in reader.list(ValveTest, order=("-at",)) if t.recording_sha256)
        bench = next(t for t in reader.list(ValveTest, order=("-at",)) if t.kind is HowTested.BENCH)
        visit = reader.list(SiteVisit, order=("-start",))[0]
    valve = f"/valves/{test.valve_id}"
    return [
        "/", "/visits", f"/visits/{visit.id}", "/visits/new", f"/visits/new?site={visit.site_id}", "/register",
        "/register?q=10&verdict=within&due=90", "/register?q=nothing-like-it", valve, f"{valve}/plan",
        f"{valve}/seats", f"{valve}/seats/new", f"{valve}/seats/new?way=pulls", f"{valve}/seats/work?look=1&why=x",
        f"{valve}/plan?line=nonsense", f"{valve}/hazard",
        f"{valve}/hazard?bore=28+mm&fluid=Methane&temperature=20+degC",
        f"/tests/{test.id}", f"/tests/{test.id}/adjust",
        f"/tests/{bench.id}", "/papers", "/instruments", "/fleet", "/fleet/dates", "/pocket",
        "/pocket?line=8+bar&pull=141&seat=30,0+mm&set=145+psi", "/pocket?line=8+bar&pull=-1&seat=30&set=10", "/import",
        "/settings", "/account", "/people", "/clients", "/spreadsheet", "/verify", "/help", "/nothing-there",
    ]  # fmt: skip


def test_every_page_answers_and_says_who_is_working(ada, store):
    for path in pages(store):
        answer = ada.get(path)
        expected = {"/nothing-there": {404}, "/clients": {403}}.get(path, {200, 422})
        assert answer.status_code in expected, path
        assert ADA in answer.text, path
        assert "Traceback" not in answer.text, path


def test_every_link_of_every_page_leads_somewhere(ada, store):
    known = set(pages(store))
    linked = set()
    for path in known:
        linked |= set(re.findall(r'(?:href|src)="(/[^"#]*)', ada.get(path).text))
    # many links differ in their identifier only: two of a kind stand for all
    kinds = {}
    for path in sorted(linked - known):
        kinds.setdefault(re.sub(r"[0-9a-f-]{36}|=[^&]+", "*", path), []).append(path)
    for path in [path for each in kinds.values() for path in each[:2]]:
        assert ada.get(path.replace("&amp;", "&")).status_code == 200, path


def test_a_search_takes_the_beginning_of_a_tag_or_a_serial(ada, store):
    with store.read() as reader:
        hung = reader.list(Installation, until=None, limit=1)[0]
        tag = reader.get(Position, hung.position_id).tag
    assert tag in ada.get("/register", params={"q": tag.lower()}).text
    partial = ada.get("/register", params={"q": tag}, headers={"hx-request": "true"}).text
    assert "<html" not in partial
    assert tag in partial


def test_the_decimal_marks_of_a_column_stand_below_one_another(ada):
    shown = re.findall(r'<td class="num">[^\d\u2007]*(\u2007*\d+)[^<]*</td>', ada.get("/register").text)
    assert len(shown) > 20
    assert {len(ahead) for ahead in shown} == {max(len(ahead.strip("\u2007")) for ahead in shown)}
    assert len({ahead.strip("\u2007") for ahead in shown}) > 5


def test_lists_are_paged_by_real_links(ada):
    first = ada.get("/register").text
    (following,) = re.findall(r'rel="next" href="([^"]+)"', first)
    second = ada.get("/register" + following.replace("&amp;", "&")).text
    plates = [set(re.findall(r'class="plate" href="([^"]+)"', text)) for text in (first, second)]
    assert len(plates[0]) == 50
    assert plates[1]
    assert not plates[0] & plates[1]


@pytest.mark.parametrize("line", ["8 bar", "8,0 bar", "8", "116.03019 psi", "0.8 MPa"])
def test_the_pocket_takes_any_unit_and_a_decimal_comma(ada, line):
    text = ada.get("/pocket", params={"line": line, "pull": "141 N", "seat": "30 mm", "set": "10 bar"}).text
    assert "9.995" in text
    assert "within" in text


def test_a_person_sees_pressures_in_the_unit_they_chose(ada, store):
    test_page = pages(store)[13]
    assert " psi" not in ada.get(test_page).text
    ada.post("/settings/look", {"look": "night", "unit": "psi"}, page="/settings")
    text = ada.get(test_page).text
    assert " psi" in text
    assert 'data-look="night"' in text


def test_a_recording_with_its_sheet_becomes_a_draft_a_review_and_an_issued_certificate(laptop, store, recorded):
    _, sheet, recording = recorded
    # a recording of its own: the last row is left out
    shorter = recording[: recording.rstrip().rfind(b"\n") + 1]
    name = re.search(r'^file = "([^"]+)"', sheet, re.MULTILINE).group(1)
    files = [("files", ("jobsheet.toml", sheet.encode())), ("files", (name, shorter))]
    laptop.work_as(ADA)
    brought = laptop.post("/import/sheets", page="/import", files=files)
    path = re.search(r'class="rowlink" href="(/tests/[0-9a-f-]+)"', brought.text).group(1)
    drafted = laptop.post(f"{path}/certificate", page=path)
    number = re.search(r"/papers/(\S+)$", str(drafted.url)).group(1)
    paper = f"/papers/{number}"
    assert b"%PDF" in laptop.get(f"{paper}/file.pdf").content[:10]
    # taken along it is a file; looked at it opens where the browser shows it
    (look,) = re.findall(rf'href="({paper}/file\.pdf\?[^"]+)" target="_blank"', laptop.get(paper).text)
    shown = [laptop.get(path).headers["content-disposition"].split(";")[0] for path in (f"{paper}/file.pdf", look)]
    assert shown == ["attachment", "inline"]

    # a technician may not review, nor may who tested
    assert laptop.post(f"{paper}/review", {"read": "yes"}, page="/settings").status_code == 403
    laptop.work_as(EDA)
    assert laptop.post(f"{paper}/issue", page="/settings").status_code == 409
    assert "Sign and issue" in laptop.post(f"{paper}/review", {"read": "yes"}, page="/settings").text
    issued = laptop.post(f"{paper}/issue", page="/settings")
    assert "Take the signed PDF" in issued.text
    pdf = laptop.get(f"{paper}/file.pdf")
    assert pdf.headers["content-disposition"] == f'attachment; filename="{number}.pdf"'
    assert pdf.content.startswith(b"%PDF")
    # a correction takes its place, with the reason on both
    laptop.work_as(ADA)
    assert f"<option selected>{number}</option>" in laptop.get(path).text
    data = {"supersedes": number, "reason": "seat measured anew"}
    second = laptop.post(f"{path}/certificate", data, page="/settings")
    correction = "/papers/" + re.search(r"/papers/(\S+)$", str(second.url)).group(1)
    laptop.work_as(EDA)
    laptop.post(f"{correction}/review", {"read": "yes"}, page="/settings")
    laptop.post(f"{correction}/issue", page="/settings")
    assert "Superseded by" in laptop.get(paper).text
    assert "seat measured anew" in laptop.get(correction).text
    old, paper = paper, correction
    assert laptop.post(f"{old}/withdraw", {"reason": "late"}, page="/settings").status_code == 409
    assert laptop.post(f"{paper}/withdraw", {"reason": " "}, page="/settings").status_code == 409
    assert "Withdrawn: wrong seat" in laptop.post(f"{paper}/withdraw", {"reason": "wrong seat"}, page="/settings").text

    with store.read() as reader:
        kept = reader.list(Certificate, text=number)[0]
        assert name_of(reader.get(Person, kept.signer_id)) == EDA
        assert audit(reader).faults == ()


def test_the_same_recording_twice_is_refused_and_says_so(ada, recorded):
    _, sheet, recording = recorded
    name = re.search(r'^file = "([^"]+)"', sheet, re.MULTILINE).group(1)
    files = [("files", ("jobsheet.toml", sheet.encode())), ("files", (name, recording))]
    text = ada.post("/import/sheets", page="/import", files=files).text
    assert "was not taken in" in text
    assert "REG-025" in text
    # what is done next is done here: no option of the command line is named
    assert "correct it there: reject a pull" in text
    assert "--supersedes" not in text


def test_a_sheet_that_cannot_be_read_does_not_hold_up_the_others(ada, recorded):
    _, sheet, recording = recorded
    name = re.search(r'^file = "([^"]+)"', sheet, re.MULTILINE).group(1)
    shorter = recording[: recording.rstrip().rfind(b"\n") + 1]
    files = [("files", ("a.toml", b"no sheet")), ("files", ("b.toml", sheet.encode())), ("files", (name, shorter))]
    text = ada.post("/import/sheets", page="/import", files=files).text
    assert "JOB-003" in text
    assert len(re.findall(r'href="/tests/', text)) == 1


def test_a_recording_without_a_sheet_is_analysed_by_the_columns_that_are_named(ada, store, recorded):
    test, sheet, recording = recorded
    with store.read() as reader:
        position = reader.get(Position, test.position_id)
        site = reader.get(Site, position.site_id).name
    shorter = recording[: recording.rstrip().rfind(b"\n") + 1]
    data = {"tag": position.tag, "site": site, "purpose": "as-found", "date": test.day.isoformat()}
    page = ada.post("/import/recording", data, page="/import", files=[("files", ("pull.csv", shorter))])
    assert "What each column measures" in page.text
    serials = dict(re.findall(r'^column = "([^"]+)"\nserial = "([^"]+)"', sheet, re.MULTILINE))
    form = dict(re.findall(r'<input type="hidden" name="([^"]+)" value="([^"]*)"', page.text))
    for block in re.findall(r"<fieldset.+?</fieldset>", page.text, re.DOTALL):
        number, column = re.search(r'name="column-(\d+)" value="([^"]+)"', block).groups()
        guess = re.search(r'<option value="([^"]+)" selected>', block)
        form[f"measures-{number}"] = guess.group(1) if guess else ""
        form[f"serial-{number}"] = serials.get(column, "")
    kept = ada.client.post("/import/columns", data=form)
    assert kept.status_code == 200, re.sub(r"<[^>]+>", " ", kept.text)
    assert re.search(r"/tests/[0-9a-f-]{36}$", str(kept.url))
    assert "Pulls and what each channel said" in kept.text


@pytest.mark.parametrize("name", ["../../etc/passwd", "a/b.csv", "", "x\x00.csv"])
def test_no_address_reads_another_file(ada, name):
    answer = ada.get("/import/columns", params={"recording": "0" * 64, "name": name})
    assert answer.status_code == 422
    assert "WEB-009" in answer.text


def test_a_visit_is_planned_and_its_hold_points_are_confirmed(ada, store):
    with store.read() as reader:
        site = reader.list(SiteVisit)[0].site_id
    page = f"/visits/new?site={site}"
    valves = re.findall(r'name="valve" value="([^"]+)"', ada.get(page).text)[:3]
    data = {"site": str(site), "start": "2026-12-01", "permit": "PTW-1", "valve": valves}
    planned = ada.post("/visits/new", data, page=page)
    assert "<b>3</b> of 3 valves are left" in planned.text
    visit = re.search(r"/visits/([0-9a-f-]{36})", str(planned.url)).group(1)
    done = ada.post(f"/visits/{visit}/confirm", {"code": "hold-permit", "note": "seen"}, page=f"/visits/{visit}")
    assert f"{ADA}," in done.text
    with store.read() as reader:
        (point,) = [p for p in reader.list(HoldPoint) if str(p.visit_id) == visit]
        assert (point.code, point.note, name_of(reader.get(Person, point.person_id))) == ("hold-permit", "seen", ADA)
    assert "<b>4</b> things are not confirmed" in done.text
    without = ada.post(f"/visits/{visit}/take-back", {"code": "hold-permit"}, page=f"/visits/{visit}")
    assert without.status_code == 422
    back = {"code": "hold-permit", "note": "the permit ended at noon"}
    taken = ada.post(f"/visits/{visit}/take-back", back, page=f"/visits/{visit}").text
    assert "<b>5</b> things are not confirmed" in taken
    assert "the permit ended at noon" in taken
    again = ada.post(f"/visits/{visit}/confirm", {"code": "hold-permit"}, page=f"/visits/{visit}").text
    assert "<b>4</b> things are not confirmed" in again
    with store.read() as reader:
        words = [p.released for p in reader.list(HoldPoint, order=("at",)) if str(p.visit_id) == visit]
    assert words == [True, False, True]


def test_a_reader_reads_and_changes_nothing(laptop, store):
    laptop.work_as("Greta Lowtide")
    assert laptop.get("/visits").status_code == 200
    assert laptop.get("/import").status_code == 403
    assert laptop.get("/visits/new").status_code == 403
    with store.read() as reader:
        visit = reader.list(SiteVisit)[0].id
    answer = laptop.post(f"/visits/{visit}/confirm", {"code": "hold-permit"}, page="/settings")
    assert answer.status_code == 403
    assert "As reader you cannot" in answer.text


def test_the_office_gives_a_sign_in_and_nobody_else_does(laptop, store):
    with store.read() as reader:
        bo = next(p for p in reader.list(Person) if name_of(p) == "Bo Tarnwater")
    data = {"role": "technician", "password": "seven grey herons wade"}
    laptop.work_as(ADA)
    assert laptop.post(f"/people/{bo.id}", data, page="/settings").status_code == 403
    laptop.work_as("Hob Driftwood")
    assert "signs in as technician" in laptop.post(f"/people/{bo.id}", data, page="/people").text
    assert "WEB-006" in laptop.post(f"/people/{bo.id}", {**data, "password": "short"}, page="/people").text


def test_next_dates_are_worked_out_beside_and_then_shown(ada):
    assert "are being weighed" in ada.get("/fleet/dates?group=none").text
    until = time.monotonic() + 120
    while "are being weighed" in (text := ada.get("/fleet/dates?group=none").text) and time.monotonic() < until:
        time.sleep(0.5)
    assert "Years from overhaul" in text
    assert "Next dates" in text


def test_the_fleet_counts_every_site_as_the_register_does(ada, store):
    text = ada.get("/fleet").text
    with store.read() as reader:
        together = site_summaries(reader, TODAY)
        alone = {site.id: site_summary(reader, site.id, on=TODAY) for site in reader.list(Site)}
    assert together == alone
    for summary in alone.values():
        assert f"<b>{summary.valves}</b> valves in use" in text


def test_an_empty_register_says_what_to_do_first(tmp_path):
    store = create_store(tmp_path / "new", store_id=uuid4(), at=now())
    with served(store, Settings(tmp_path / "accounts.sqlite")) as browser:
        assert "begin with yourself" in browser.get("/").text
        browser.post("/who", {"name": "Una Newcomer", "role": "planner"}, page="/who")
        for path, said in {
            "/": "The register is empty",
            "/visits": "No visit yet",
            "/register": "No valve is in the register yet",
            "/papers": "No certificate",
            "/instruments": "No instrument",
            "/fleet": "No site",
        }.items():
            assert said in browser.get(path).text, path
    store.close()


def test_the_picture_of_a_pull_is_drawn_from_the_kept_recording(ada, recorded):
    answer = ada.get(f"/tests/{recorded[0].id}/pull.svg")
    assert answer.headers["content-type"] == "image/svg+xml"
    assert "first lift" in answer.text
    assert answer.text.startswith("<svg")


def test_without_a_certificate_the_latest_tests_from_recordings_are_offered(ada, store):
    def offered():
        return re.findall(r'<a class="row offered" href="/tests/([^"]+)"', ada.get("/papers").text)

    with store.read() as reader:
        recorded = [t for t in reader.list(ValveTest, order=("-at", "id")) if t.recording_sha256]
        corrected = {t.supersedes for t in recorded}
        first = next(t for t in recorded if t.id not in corrected)
        tag = reader.get(Position, first.position_id).tag
    latest = [str(t.id) for t in recorded if t.id not in corrected]
    assert len(latest) > 2
    assert offered() == latest[:6]
    shown = re.search(rf'<a class="row offered" href="/tests/{first.id}">.*?</a>', ada.get("/papers").text)[0]
    assert tag in shown
    assert f"{first.day:%Y}" in shown
    assert f'class="sign {first.verdict}"' in shown

    # drafted where the offer leads, it is offered no longer: the next one is
    page = f"/tests/{first.id}"
    assert ada.post(f"{page}/certificate", page=page).status_code == 200
    assert offered() == latest[1:7]
    # who looks for certificates in a state is offered none
    assert "offered" not in ada.get("/papers", params={"state": "issued"}).text


def test_when_to_test_next_says_no_number_of_years_that_is_none(ada):
    page = "/fleet/dates?group=unit&share=2"
    for _ in range(300):
        text = ada.get(page).text
        if "<th>Years from overhaul" in text:
            break
        time.sleep(0.1)
    groups, valves = re.findall(r"<tbody>(.*?)</tbody>", text, re.DOTALL)
    years = [float(number) for number in re.findall(r"<b>([\d.]+)</b>", groups)]
    assert len(years) == groups.count("<tr>")
    assert min(years) > 0.0
    assert not re.search(r">\s*0\.0\s*<", groups + valves)
    # what a lift cannot see is due for an overhaul, not after so many years
    at_once = re.findall(r"<tr>(?:(?!</tr>).)*at once.*?</tr>", valves, re.DOTALL)
    assert at_once
    assert all("overhaul due" in row and ">–<" in row for row in at_once)
    assert f"For {len(at_once)} of these valves" in text
    assert "another lift will not help" in text


def test_what_people_typed_is_never_markup(laptop):
    answer = laptop.post("/who", {"name": "<script>alert(1)</script>"}, page="/who")
    assert "<script>alert" not in answer.text
    assert "&lt;script&gt;alert(1)" in answer.text


def test_an_upload_beyond_measure_is_refused(store, register):
    settings = Settings(register / "accounts.sqlite", largest_upload_bytes=1000)
    with served(store, settings) as browser:
        browser.work_as(ADA)
        answer = browser.post("/import/sheets", page="/import", files=[("files", ("a.toml", b"x" * 2000))])
        assert answer.status_code == 413
