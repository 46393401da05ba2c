"""The life of a certificate in a register, from draft to superseded, and what verifying says at each step."""

import dataclasses
import datetime as dt
import json
import shutil
import uuid
from concurrent.futures import ThreadPoolExecutor

import pytest

from firstlift.certificate.keys import key_of, make_key
from firstlift.certificate.settings import PLAIN
from firstlift.certificate.verify import check_certificate
from firstlift.core.errors import FirstliftError
from firstlift.core.register.codec import new_person
from firstlift.core.register.equipment import Installation, RegisteredValve
from firstlift.core.register.people import Person, PersonalDetails
from firstlift.core.register.places import Owner, Position, Site
from firstlift.core.register.work import Certificate, CertificateState, ValveTest
from firstlift.core.units import Kind, parse_quantity
from firstlift.core.valve import Medium
from firstlift.demo.case import make_demo_case
from firstlift.store.audit import audit, named_files
from firstlift.store.files import kept_path
from firstlift.store.open import create_store
from firstlift.usecases.analyse import analyse_jobsheet
from firstlift.usecases.papers import life
from firstlift.usecases.papers.find import person_by
from firstlift.usecases.papers.record import keep_or_find, keep_sheet
from firstlift.usecases.papers.registered import look_up
from firstlift.usecases.register.analyse import analyse_in_register
from firstlift.usecases.verify import verify_certificate

AT = dt.datetime(2026, 3, 2, 8, 30, tzinfo=dt.UTC)


@pytest.fixture(scope="module")
def analysed(tmp_path_factory):
    """The demo's first pull at a quarter of its rate: quick to analyse."""
    folder = tmp_path_factory.mktemp("case")
    sheet = make_demo_case(folder)
    recording = folder / "demo-recording.csv"
    heading, *rows = recording.read_text(encoding="utf-8").splitlines()
    kept = [row for row in rows if float(row.split(",")[0]) < 16.0][::4]
    recording.write_text("\n".join([heading, *kept, ""]), encoding="utf-8")
    return analyse_jobsheet(sheet)


@pytest.fixture(scope="module")
def key(tmp_path_factory):
    return key_of(make_key("Field team", made_at=AT), None, tmp_path_factory.mktemp("k"))


@pytest.fixture(scope="module")
def filled(analysed, tmp_path_factory):
    """A store with the valve and three people in it."""
    place = tmp_path_factory.mktemp("store") / "register"
    store = create_store(place, store_id=uuid.UUID(int=11), at=AT)
    owner, site = Owner(uuid.uuid4(), "Marrow Bay Energy"), None
    site = Site(uuid.uuid4(), owner.id, "Tern Street works", "Europe/Berlin")
    position = Position(uuid.uuid4(), site.id, analysed.job.valve.tag, Medium.STEAM)
    pressure = parse_quantity(analysed.job.valve.set_pressure.text, Kind.PRESSURE)
    valve = RegisteredValve(uuid.uuid4(), owner.id, analysed.job.valve.serial, pressure)
    hung = Installation(uuid.uuid4(), valve.id, position.id, dt.date(2020, 1, 1))
    people = [
        new_person(Person(uuid.uuid4(), "technician"), PersonalDetails(uuid.uuid4().hex, name))
        for name in ("Ada Tester", "Ben Reviewer", "Cleo Signer")
    ]
    with store.work(at=AT, who="program:test") as work:
        work.add_all([owner, site, position, valve, hung, *people])
    store.close()
    return place


@pytest.fixture
def store(filled, tmp_path):
    from firstlift.store.open import open_store

    shutil.copytree(filled, tmp_path / "register")
    store = open_store(tmp_path / "register")
    yield store
    store.close()


def kept(store, analysed):
    with store.read() as reader:
        person = person_by(reader, "Ada Tester")
    return keep_sheet(store, analysed.sheet, person_id=person.id)


def draft(store, analysed, **more):
    return life.draft_certificate(store, kept(store, analysed), by="Ada Tester", **more)


def issue(store, number, key):
    life.review_certificate(store, number, by="ben reviewer")
    return life.issue_certificate(store, number, by="Cleo Signer", key=key, settings=PLAIN)


def standing(store, pdf):
    return look_up(store, check_certificate(pdf))


def test_from_draft_to_issued(store, analysed, key):
    made = draft(store, analysed, series="MB-2026")
    assert (made.text, made.state, made.zone) == ("MB-2026-00001", CertificateState.DRAFT, "Europe/Berlin")
    paper = life.print_draft(store, made.text, PLAIN)
    assert paper.document.watermark == "DRAFT"
    assert paper.manifest.state == "draft"
    issued = issue(store, made.text, key)
    with store.read() as reader:
        kept = reader.get(Certificate, made.id)
        test = reader.get(ValveTest, made.test_id)
    found = check_certificate(issued.pdf)
    assert kept.state is CertificateState.ISSUED
    assert (kept.unsigned_sha256, kept.signed_sha256) == (found.unsigned_sha256, found.file_sha256)
    assert (found.whole, found.manifest.number, found.manifest.state) == (True, "MB-2026-00001", "issued")
    assert (test.set_pressure_pa, test.verdict) == (
        analysed.analysis.result.as_found.set_pressure_pa,
        str(analysed.analysis.result.verdict.outcome),
    )
    assert standing(store, issued.pdf).state == "issued"
    verified = verify_certificate(issued.pdf, registered=standing(store, issued.pdf))
    assert verified.passed
    assert verified.recomputed.outcome == "same"
    assert life.issued_file(store, made.text).pdf == issued.pdf
    with store.read() as reader:
        assert audit(reader).faults == ()
        assert found.file_sha256 in named_files(reader.connection)


def test_who_tested_cannot_review(store, analysed):
    made = draft(store, analysed)
    with pytest.raises(FirstliftError, match="CRT-010 Ada Tester"):
        life.review_certificate(store, made.text, by="Ada Tester")
    with pytest.raises(FirstliftError, match="CRT-007 nobody active"):
        life.review_certificate(store, made.text, by="Nobody Known")


def test_a_draft_cannot_be_issued_unreviewed(store, analysed, key):
    made = draft(store, analysed)
    with pytest.raises(FirstliftError, match=r"CRT-009 .* is draft and cannot be issued"):
        life.issue_certificate(store, made.text, by="Cleo Signer", key=key, settings=PLAIN)
    with pytest.raises(FirstliftError, match="CRT-008"):
        life.review_certificate(store, "MB-9", by="Ben Reviewer")


def test_a_superseding_one_names_the_old_and_why(store, analysed, key):
    old = issue(store, draft(store, analysed).text, key)
    made = draft(store, analysed, supersedes=old.certificate.text, reason="seat diameter corrected")
    assert standing(store, old.pdf).state == "issued"
    new = issue(store, made.text, key)
    said = standing(store, old.pdf)
    assert (said.state, said.superseded_by, said.reason) == ("superseded", made.text, "seat diameter corrected")
    assert not verify_certificate(old.pdf, registered=said, again=False).passed
    manifest = check_certificate(new.pdf).manifest
    assert (manifest.supersedes, manifest.reason) == (old.certificate.text, "seat diameter corrected")
    with pytest.raises(FirstliftError, match=r"CRT-009 .* is superseded and cannot be superseded"):
        draft(store, analysed, supersedes=old.certificate.text, reason="again")


def test_a_correction_needs_a_reason_and_an_issued_one(store, analysed, key):
    old = issue(store, draft(store, analysed).text, key)
    with pytest.raises(FirstliftError, match="CRT-009 no reason"):
        draft(store, analysed, supersedes=old.certificate.text, reason=" ")
    other = draft(store, analysed)
    with pytest.raises(FirstliftError, match=r"CRT-009 .* is draft and cannot be superseded"):
        draft(store, analysed, supersedes=other.text, reason="why")


def test_a_withdrawn_draft_keeps_its_number_and_frees_the_old_one(store, analysed, key):
    old = issue(store, draft(store, analysed).text, key)
    first = draft(store, analysed, supersedes=old.certificate.text, reason="first try")
    life.withdraw_certificate(store, first.text, by="Ada Tester", reason="wrong sheet")
    second = draft(store, analysed, supersedes=old.certificate.text, reason="second try")
    assert (first.number, second.number) == (2, 3)
    with pytest.raises(FirstliftError, match=r"CRT-009 .* is withdrawn"):
        life.withdraw_certificate(store, first.text, by="Ada Tester", reason="again")


def test_a_withdrawn_certificate_does_not_stand(store, analysed, key):
    issued = issue(store, draft(store, analysed).text, key)
    life.withdraw_certificate(store, issued.certificate.text, by="Cleo Signer", reason="wrong valve")
    said = standing(store, issued.pdf)
    assert (said.state, said.reason) == ("withdrawn", "wrong valve")
    verified = verify_certificate(issued.pdf, registered=said, again=False)
    assert (verified.whole, verified.current) == (True, False)


def test_a_byte_in_the_signatures_padding_is_caught_by_the_register(store, analysed, key):
    issued = issue(store, draft(store, analysed).text, key)
    changed = bytearray(issued.pdf)
    end = changed.index(b"/ByteRange") if b"/ByteRange" in changed else len(changed)
    at = changed.rindex(b"000000", 0, changed.rindex(b">", 0, max(end, changed.rindex(b"00>") + 3)))
    changed[at] = ord("1")
    assert check_certificate(bytes(changed)).whole
    said = standing(store, bytes(changed))
    assert said.state == "other bytes"
    assert not verify_certificate(bytes(changed), registered=said, again=False).whole


def test_numbers_have_no_gaps_whoever_asks_at_once(store, analysed):
    test = kept(store, analysed)
    with ThreadPoolExecutor(4) as pool:
        made = list(pool.map(lambda _: life.draft_certificate(store, test, by="Ada Tester", series="MB"), range(12)))
    assert sorted(one.number for one in made) == list(range(1, 13))
    assert draft(store, analysed, series="OTHER").number == 1
    assert draft(store, analysed).text == "FL0000-00001"


def test_a_crash_before_the_entry_leaves_it_reviewed_and_can_be_done_again(store, analysed, key, monkeypatch):
    made = draft(store, analysed)
    life.review_certificate(store, made.text, by="Ben Reviewer")

    def crash(self, entry):
        raise RuntimeError("the lights went out")

    with monkeypatch.context() as patch:
        patch.setattr("firstlift.store.work.Work.change", crash)
        with pytest.raises(RuntimeError):
            life.issue_certificate(store, made.text, by="Cleo Signer", key=key, settings=PLAIN)
    with store.read() as reader:
        assert reader.get(Certificate, made.id).state is CertificateState.REVIEWED
    issued = life.issue_certificate(store, made.text, by="Cleo Signer", key=key, settings=PLAIN)
    assert standing(store, issued.pdf).state == "issued"


def test_a_kept_result_that_is_not_computed_again_is_not_issued(store, analysed, tmp_path):
    result = analysed.analysis.result
    pull = dataclasses.replace(result.pulls[0], set_pressure_pa=result.pulls[0].set_pressure_pa * (1 + 1e-6))
    other = dataclasses.replace(result, pulls=(pull, *result.pulls[1:]))
    filled = analyse_in_register(store, analysed.sheet, tmp_path)
    moved = dataclasses.replace(filled.analysed, analysis=dataclasses.replace(filled.analysed.analysis, result=other))
    with store.read() as reader:
        person = person_by(reader, "Ada Tester")
    test = keep_or_find(store, dataclasses.replace(filled, analysed=moved), person_id=person.id)
    made = life.draft_certificate(store, test, by="Ada Tester")
    with pytest.raises(FirstliftError, match=r"CRT-011 .*pulls\[0\].set_pressure_pa"):
        life.print_draft(store, made.text, PLAIN)


def test_a_damaged_kept_file_is_told(store, analysed, key):
    issued = issue(store, draft(store, analysed).text, key)
    path = kept_path(store.folder, issued.certificate.signed_sha256)
    data = bytearray(path.read_bytes())
    data[len(data) // 2] ^= 1
    path.write_bytes(data)
    with pytest.raises(FirstliftError, match="STO-011"):
        life.issued_file(store, issued.certificate.text)


def test_who_drafted_cannot_review_either(store, analysed):
    made = life.draft_certificate(store, kept(store, analysed), by="Cleo Signer")
    with pytest.raises(FirstliftError, match="CRT-010 Cleo Signer"):
        life.review_certificate(store, made.text, by="Cleo Signer")
    assert life.review_certificate(store, made.text, by="Ben Reviewer").state is CertificateState.REVIEWED


def test_the_history_of_the_valve_is_drawn(store, analysed):
    made = draft(store, analysed)
    with store.work(at=AT, who="program:test") as work:
        test = work.get(ValveTest, made.test_id)
        earlier = dataclasses.replace(
            test, id=uuid.uuid4(), day=dt.date(2023, 5, 3), at=AT - dt.timedelta(days=1000), recording_sha256="f" * 64
        )
        work.add(earlier)
    titles = [section.title for section in life.print_draft(store, made.text, PLAIN).document.sections]
    assert "History of this valve" in titles


def test_another_store_does_not_know_it(store, analysed, key, tmp_path):
    issued = issue(store, draft(store, analysed).text, key)
    other = create_store(tmp_path / "other", store_id=uuid.UUID(int=12), at=AT)
    assert standing(other, issued.pdf).state == "unknown"
    assert standing(other, b"nothing").state == "unknown"
    other.close()


def test_the_commands_do_the_same(store, analysed, tmp_path, monkeypatch, capsys):
    from firstlift.cli.main import main

    monkeypatch.setenv("FIRSTLIFT_HOME", str(tmp_path / "home"))
    monkeypatch.setenv("FIRSTLIFT_STORE", str(store.folder))
    out = tmp_path / "out.pdf"
    draft_pdf = tmp_path / "draft.pdf"
    assert main(["certificate", "draft", str(analysed.sheet), "--by", "Ada Tester", "--out", str(draft_pdf)]) == 0
    number = capsys.readouterr().out.split()[0]
    assert main(["verify", str(draft_pdf), "--store", str(store.folder), "--json"]) == 1
    assert json.loads(capsys.readouterr().out)["state"] == "draft"
    assert main(["certificate", "review", number, "--by", "Ben Reviewer"]) == 0
    assert main(["certificate", "issue", number, "--by", "Cleo Signer", "--out", str(out)]) == 0
    assert "signed with a key that this program made" in capsys.readouterr().err
    assert main(["verify", str(out), "--store", str(store.folder), "--json"]) == 0
    said = json.loads(capsys.readouterr().out)
    assert (said["register"], said["superseded_by"], said["recomputed"]) == ("issued", None, "same")
    assert main(["certificate", "copy", number, "--out", str(tmp_path / "copy.pdf")]) == 0
    assert (tmp_path / "copy.pdf").read_bytes() == out.read_bytes()
    assert main(["certificate", "withdraw", number, "--by", "Cleo Signer", "--reason", "tried out"]) == 0
    assert main(["verify", str(out), "--store", str(store.folder)]) == 1
    assert "withdrawn in the register. tried out" in capsys.readouterr().out
    assert main(["certificate", "list", "--json"]) == 0
    assert json.loads(capsys.readouterr().out)["state"] == "withdrawn"
