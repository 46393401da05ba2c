"""The issuer's settings: what the paper is called, under which rules, what may be left out, logo and marks."""

import dataclasses
import io

import pikepdf
import pypdfium2 as pdfium
import pytest

from firstlift.certificate import build_certificate, make_certificate
from firstlift.certificate.settings import ALWAYS, PLAIN, SECTIONS, Accreditation, PaperSettings, read_settings
from firstlift.core.errors import FirstliftError
from firstlift.usecases.certify import read_issuer

HEAD = 'format = "firstlift-paper-1"\n'
SVG = b'<svg xmlns="http://www.w3.org/2000/svg" width="40" height="10"><rect width="40" height="10"/></svg>'


def paper(made, **settings):
    details = dataclasses.replace(made.details, settings=PaperSettings(**settings))
    return make_certificate(made.job(), made.result(), made.traces(), details)


def accredited(covers):
    return Accreditation("Invented accreditation body", "T-0000", covers, SVG, "svg")


def test_an_empty_file_is_the_plain_paper():
    assert read_settings(HEAD, "i.toml") == PLAIN


def test_everything_can_be_said():
    text = HEAD + (
        '[issuer]\nname = "Team"\naddress = "Quay 1"\n[customer]\naddress = "Gate 2"\n'
        '[document]\nkind = "test-report"\nregime = "iso-17025"\nown_text = "Thank you."\n'
        '[accreditation]\nbody = "Body"\nnumber = "7"\nscope_covers = true\n'
        f'[layout]\npaper = "letter"\nsections = {list(reversed(SECTIONS))!r}\n'
    )
    read = read_settings(text, "i.toml")
    assert (read.issuer, read.kind, read.regime, read.paper) == ("Team", "test-report", "iso-17025", "letter")
    assert read.accreditation == Accreditation("Body", "7", True)
    assert read.sections == tuple(reversed(SECTIONS))


@pytest.mark.parametrize(
    ("text", "needed"),
    [
        ("", 'format = "firstlift-paper-1"'),
        ("= no toml", "a TOML file"),
        (HEAD + "[issuer]\nnam = 'x'\n", "did you mean 'name'"),
        (HEAD + "[isuer]\n", "'isuer' is not known"),
        (HEAD + "[document]\nkind = 'letter'\n", "certificate, test-report, inspection-report"),
        (HEAD + "[layout]\nsections = ['rule']\n", "left out: cautions"),
        (HEAD + "[layout]\nsections = ['rule', 'rule']\n", "each once"),
        (HEAD + "[layout]\nlanguage = 'tlh'\n", "'tlh' is not known"),
        (HEAD + "[issuer]\nname = 7\n", "a text of at most"),
        (HEAD + "[accreditation]\nbody = 'B'\nnumber = '1'\n", "whether the scope covers"),
        (HEAD + "[accreditation]\nscope_covers = true\n", "body or number is missing"),
    ],
)
def test_what_is_wrong_is_told(text, needed):
    with pytest.raises(FirstliftError, match="CRT-004") as caught:
        read_settings(text, "i.toml")
    assert needed in str(caught.value)


@pytest.mark.parametrize(
    ("kind", "title", "end"),
    [
        ("certificate", "Certificate of set-pressure test", "End of certificate"),
        ("test-report", "Test report: set pressure", "End of test report"),
        ("inspection-report", "Inspection report: set pressure", "End of inspection report"),
    ],
)
def test_the_paper_is_called_as_the_issuer_says(made, kind, title, end):
    document = paper(made, kind=kind).document
    assert document.title == title
    assert document.end.startswith(end)


def test_an_accreditation_is_named_only_where_its_scope_covers_the_test(made):
    covered = paper(made, regime="iso-17025", accreditation=accredited(True)).document
    assert "Covered by the accreditation of Invented accreditation body, no. T-0000" in covered.regime
    assert covered.mark == "svg"
    for settings in (
        {"regime": "iso-17025", "accreditation": accredited(False)},
        {"regime": "iso-17020"},
        {"accreditation": accredited(True)},
    ):
        document = paper(made, **settings).document
        assert "T-0000" not in document.regime
        assert document.mark == ""
    assert "Not covered by an accreditation" in paper(made, regime="iso-17020").document.regime
    assert paper(made).document.regime == ""


def test_sections_follow_the_issuers_order_and_choice(made):
    order = tuple(name for name in reversed(SECTIONS) if name in ALWAYS)
    titles = [section.title for section in paper(made, sections=order).document.sections]
    assert titles[0] == "Statement and signatures"
    assert titles[-1] == "The rule"
    assert "Traces" not in titles


@pytest.mark.parametrize("size", [("a4", 595.28, 841.89), ("letter", 612.0, 792.0)])
def test_paper_sizes(made, size):
    name, width, height = size
    with pikepdf.open(io.BytesIO(paper(made, paper=name).pdf)) as pdf:
        for page in pdf.pages:
            assert [float(v) for v in page.MediaBox] == pytest.approx([0, 0, width, height], abs=0.01)


def test_a_draft_has_its_watermark_on_every_page(made):
    details = dataclasses.replace(made.details, draft=True)
    document = build_certificate(made.job(), made.result(), (), details)
    assert (document.watermark, document.draft) == ("DRAFT", "Draft: not reviewed, not issued")
    assert build_certificate(made.job(), made.result(), (), made.details).watermark == ""
    for marked in (True, False):
        data = make_certificate(
            made.job(), made.many(), made.traces(), dataclasses.replace(made.details, draft=marked)
        ).pdf
        with pdfium.PdfDocument(data) as pdf:
            said = ["".join(page.get_textpage().get_text_range().split()) for page in pdf]
        assert len(said) > 8
        assert ["DRAFT" in words for words in said] == [marked] * len(said)


def test_logo_and_mark_come_from_the_settings_folder(made, tmp_path):
    (tmp_path / "logo.svg").write_bytes(SVG)
    (tmp_path / "i.toml").write_text(
        HEAD + '[document]\nregime = "iso-17025"\n[layout]\nlogo = "logo.svg"\n'
        '[accreditation]\nbody = "B"\nnumber = "1"\nscope_covers = true\nmark = "logo.svg"\n'
    )
    settings = read_issuer(tmp_path / "i.toml")
    assert (settings.logo, settings.logo_format, settings.accreditation.mark) == (SVG, "svg", SVG)
    details = dataclasses.replace(made.details, settings=settings)
    assert make_certificate(made.job(), made.result(), (), details).pdf.startswith(b"%PDF-1.7")


@pytest.mark.parametrize("content", [None, b"no picture", b"\x89PNG\r\n\x1a\n" + bytes(600_000)])
def test_a_logo_that_cannot_be_used_is_told(tmp_path, content):
    if content is not None:
        (tmp_path / "logo").write_bytes(content)
    (tmp_path / "i.toml").write_text(HEAD + '[layout]\nlogo = "logo"\n')
    with pytest.raises(FirstliftError, match="CRT-004"):
        read_issuer(tmp_path / "i.toml")


def test_a_damaged_logo_is_told(made):
    with pytest.raises(FirstliftError, match="CRT-003"):
        paper(made, logo=b"\x89PNG\r\n\x1a\n broken", logo_format="png")
