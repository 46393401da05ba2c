"""The page where a certificate is handed in: what it says of each kind of file, in words and in a real browser."""

import json
import re
import shutil
import zlib

import pytest
from axe_playwright_python.sync_playwright import Axe
from tests.web.app_server import served
from tests.web.test_pages import ADA, EDA
from tests.web.traces_page import chromium

from firstlift.certificate.keys import key_of, make_key
from firstlift.certificate.model import CertificateDetails
from firstlift.certificate.settings import PLAIN
from firstlift.certificate.sign import sign_certificate
from firstlift.certificate.verify import check_certificate
from firstlift.core.register.work import ValveTest
from firstlift.store.open import open_store
from firstlift.usecases.certify import make_certificate as certify
from firstlift.usecases.papers import life
from firstlift.usecases.papers.record import kept_test
from firstlift.usecases.register.place import now
from firstlift.web.page import environment
from firstlift.web.pages import verify as page_of_verify
from firstlift.web.settings import Settings
from firstlift.words.place import written_in


@pytest.fixture(scope="module")
def place(grown, tmp_path_factory):
    """A copy of the register for all tests here, with its app."""
    folder = shutil.copytree(grown, tmp_path_factory.mktemp("verify") / "register")
    store = open_store(folder)
    with served(store, Settings(folder / "accounts.sqlite", invented=True)) as browser:
        yield store, browser.work_as(EDA)
    store.close()


@pytest.fixture(scope="module")
def key():
    return key_of(make_key("Field team two", made_at=now()), None, "memory")


@pytest.fixture(scope="module")
def papers(place, key):
    """A superseded certificate, the one in its place, a withdrawn one, a draft, and one of another register."""
    store, _ = place
    with store.read() as reader:
        tests = [t for t in reader.list(ValveTest, order=("-at",), limit=400) if t.recording_sha256 and t.result]
        test = next(t for t in tests if t.result.pulls)
        with kept_test(reader, test) as analysed:
            details = CertificateDetails("ELSE-1", "somewhere else", test.day, "0.1.0")
            apart = certify(analysed, details, attach_up_to=0)

    def issued(number):
        life.review_certificate(store, number, by=EDA)
        return life.issue_certificate(store, number, by=EDA, key=key, settings=PLAIN)

    first = issued(life.draft_certificate(store, test, by=ADA).text)
    again = {"supersedes": first.certificate.text, "reason": "seat diameter corrected"}
    second = issued(life.draft_certificate(store, test, by=ADA, **again).text)
    third = issued(life.draft_certificate(store, test, by=ADA).text)
    life.withdraw_certificate(store, third.certificate.text, by=EDA, reason="wrong valve")
    draft = life.print_draft(store, life.draft_certificate(store, test, by=ADA).text, PLAIN)
    return {
        "superseded": first.pdf, "current": second.pdf, "withdrawn": third.pdf, "unsigned": draft.pdf,
        "draft": sign_certificate(draft.pdf, key), "elsewhere": sign_certificate(apart.pdf, key),
    }  # fmt: skip


def test_a_verdict_is_said_in_the_language_of_each_page():
    page = environment().from_string('{% import "_signs.html" as sign %}{{ sign.verdict("within") }}')
    said = []
    for language in ("en", "de", "en"):
        with written_in(language):
            said.append(page.render().rpartition("</svg>")[2])
    assert said == ["within</span>", "innerhalb</span>", "within</span>"]


def handed_in(browser, data, name="paper.pdf", **more):
    files = {"certificate": (name, data, "application/pdf")} | {k: (k, v) for k, v in more.items()}
    answer = browser.post("/verify", page="/verify", files=files)
    main = answer.text.split("<main")[1].split("</main")[0]
    return answer.status_code, re.sub(r"\s+", " ", re.sub("<[^>]+>", " ", main))


LEADS = {
    "current": (
        "It stands: whole and current.",
        "It certifies",
        "as found",
        "the same: every printed digit",
        "Field team two",
        "not checked",
    ),
    "superseded": ("it was superseded", "takes its place. Reason: seat diameter corrected", "none was changed"),
    "withdrawn": ("it was withdrawn", "wrong valve", "none was changed"),
    "draft": ("it is a draft", "none was changed"),
    "unsigned": ("nobody signed it", "not vouched for"),
    # its recording is kept apart, and this register holds it
    "elsewhere": ("this register cannot say whether it still stands", "issued elsewhere", "the same: every printed"),
}


@pytest.mark.parametrize("kind", LEADS)
def test_it_says_what_each_is(place, papers, kind):
    status, said = handed_in(place[1], papers[kind])
    assert status == 200
    for words in LEADS[kind]:
        assert words in said, words
    assert ("Do not rely on it" in said) == (kind not in ("current", "elsewhere"))


def test_a_changed_byte_is_seen_wherever_it_is(place, papers):
    data = papers["current"]
    for at in (len(data) // 3, data.rindex(b"000000>")):
        changed = bytearray(data)
        changed[at] ^= 1
        _, said = handed_in(place[1], bytes(changed))
        assert "Do not rely on it" in said
        assert "none was changed" not in said
        assert "It certifies" not in said
    # the last was in the signature's own padding, which only the register's hash sees
    assert "not those that were handed out under this number" in said


def test_it_is_said_in_the_language_of_whoever_asks(place, papers):
    browser = place[1]
    browser.post("/settings/look", {"language": "de"}, page="/settings")
    try:
        _, said = handed_in(browser, papers["current"])
        assert "dasselbe: jede gedruckte Ziffer" in said
        _, said = handed_in(browser, papers["unsigned"])
        assert "sie trägt keine Signatur, wo eine nötig ist" in said
    finally:
        browser.post("/settings/look", {"language": "en"}, page="/settings")


def test_the_signers_certificate_makes_the_name_vouched_for(place, papers, key):
    from asn1crypto import pem

    public = pem.armor("CERTIFICATE", key.signer.signing_cert.dump())
    assert "the certificate you gave vouches for it" in handed_in(place[1], papers["current"], trusted=public)[1]
    status, said = handed_in(place[1], papers["current"], trusted=b"nothing of the kind")
    assert (status, "VER-003" in said) == (422, True)


def test_another_recording_is_refused(place, papers):
    status, said = handed_in(place[1], papers["elsewhere"], recording=b"time_s,force\n0,1\n")
    assert (status, "VER-004" in said) == (422, True)


@pytest.mark.parametrize("data", [b"", b"Dear colleague", b"\x89PNG\r\n" + bytes(3000)])
def test_what_is_no_pdf_is_refused(place, data):
    status, said = handed_in(place[1], data, "letter.pdf")
    assert status == 422
    for words in ("VER-005", "it does not begin as a PDF does", "letter.pdf", "What to do"):
        assert words in said


def test_another_pdf_is_refused_and_a_torn_one_is_called_damaged(place, papers):
    import io

    import pikepdf

    out = io.BytesIO()
    with pikepdf.new() as pdf:
        pdf.add_blank_page()
        pdf.save(out)
    status, said = handed_in(place[1], out.getvalue())
    assert (status, "no list of certified files is attached to it" in said) == (422, True)
    status, said = handed_in(place[1], papers["current"][:-4000])
    assert (status, "it is damaged, or it never was a certificate" in said) == (200, True)


def test_it_takes_files_larger_than_a_form_may_be(place, papers):
    status, said = handed_in(place[1], papers["current"] + b"\n" * 3_000_000)
    assert (status, "Do not rely on it" in said) == (200, True)


def test_one_that_is_too_large_is_refused(place, papers, monkeypatch):
    monkeypatch.setattr(page_of_verify, "LARGEST_BYTES", 50_000)
    status, said = handed_in(place[1], papers["current"])
    assert (status, "VER-001" in said, "it is larger than" in said) == (422, True, True)


def test_a_form_of_another_page_is_refused(place, papers):
    answer = place[1].client.post("/verify", files={"certificate": ("p.pdf", papers["current"])})
    assert answer.status_code == 403


def remade(data, change, key):
    """Sign a certificate anew after its attached files were changed, as somebody with a key of their own would."""
    import io

    import pikepdf

    with pikepdf.open(io.BytesIO(data)) as pdf:
        for spec in pdf.Root.AF:
            change(str(spec.UF), spec)
        out = io.BytesIO()
        pdf.save(out)
    return sign_certificate(out.getvalue(), key)


@pytest.mark.parametrize("name", ["recording/../../../escaped.csv", "recording" + "x" * 400, "recording\0.csv"])
def test_a_name_in_a_foreign_manifest_leads_nowhere(place, papers, key, name):
    def change(listed, spec):
        if listed == "manifest.json":
            plain = json.loads(spec.EF.F.read_bytes())
            for file in plain["files"]:
                file["name"] = name if file["name"].startswith("recording") else file["name"]
            spec.EF.F.write(json.dumps(plain).encode())
        if listed.startswith("recording"):
            spec.UF = name

    status, said = handed_in(place[1], remade(papers["unsigned"], change, key))
    assert status in (200, 422)
    assert "an error nobody foresaw" not in said


def test_files_that_unpack_without_end_are_not_unpacked(papers, key, monkeypatch):
    monkeypatch.setattr("firstlift.certificate.verify._LARGEST_ATTACHED", 10_000_000)

    def change(listed, spec):
        if listed == "jobsheet.toml":
            import pikepdf

            spec.EF.F.write(zlib.compress(bytes(20_000_000), 9), filter=pikepdf.Name.FlateDecode)

    found = check_certificate(remade(papers["unsigned"], change, key))
    assert (found.whole, found.read, found.manifest) == (False, False, None)


def test_it_works_by_keys_in_a_browser_and_axe_finds_nothing(place, papers, tmp_path):
    (tmp_path / "paper.pdf").write_bytes(papers["superseded"])
    (tmp_path / "other.pdf").write_bytes(b"no PDF")
    with chromium() as browser:
        page = browser.new_page(base_url=place[1].url, viewport={"width": 820, "height": 1180})
        page.goto("/who")
        page.get_by_role("button", name=re.compile(EDA)).press("Enter")
        page.get_by_role("link", name="Verify").press("Enter")
        page.wait_for_url("**/verify")
        for name, words in (("paper.pdf", "it was superseded"), ("other.pdf", "This is no certificate")):
            page.goto("/verify")
            assert page.evaluate("document.documentElement.scrollWidth <= innerWidth")
            page.locator("[name=certificate]").set_input_files(tmp_path / name)
            page.get_by_role("button", name="Verify").press("Enter")
            page.wait_for_selector(f"text={words}")
            assert [found["id"] for found in Axe().run(page).response["violations"]] == []
            assert page.evaluate("document.documentElement.scrollWidth <= innerWidth")
