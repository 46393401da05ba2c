"""Certificates held to PDF/A-3b by a validator, signed or not, in every language (tests/pdfa.py)."""

import dataclasses
import datetime as dt
import io

import pikepdf
import pytest
from tests.pdfa import faults

from firstlift.certificate import Sources, make_certificate
from firstlift.certificate.keys import key_of, make_key
from firstlift.certificate.settings import PaperSettings
from firstlift.certificate.sign import sign_certificate
from firstlift.words.paper import languages

SVG = b'<svg xmlns="http://www.w3.org/2000/svg" width="40" height="10"><rect width="40" height="10"/></svg>'
GIVEN = Sources(b"a = 1", b"time_s,force\n0,1\n")


@pytest.fixture(scope="module")
def key():
    return key_of(make_key("Field team two", made_at=dt.datetime.now(dt.UTC)), None, "memory")


@pytest.mark.parametrize("language", languages())
def test_a_certificate_conforms_in_every_language_and_when_signed(made, key, letters, language):
    settings = PaperSettings(language=language, logo=SVG, logo_format="svg", fonts=letters(language))
    details = dataclasses.replace(made.details, settings=settings)
    data = make_certificate(made.job(), made.result(), made.traces(), details, sources=GIVEN).pdf
    # what signing adds is the same in all of them
    assert faults(sign_certificate(data, key) if language in ("en", "ar") else data) == []


@pytest.mark.parametrize("kind", ["not_lifted", "unusable"])
def test_each_kind_of_result_conforms_as_a_draft_on_letter(made, kind):
    details = dataclasses.replace(made.details, draft=True, settings=PaperSettings(paper="letter"))
    data = make_certificate(made.job(), getattr(made, kind)(), made.traces(), details, sources=GIVEN).pdf
    assert faults(data) == []


def spoilt(data, change):
    with pikepdf.open(io.BytesIO(data)) as pdf:
        change(pdf)
        out = io.BytesIO()
        pdf.save(out, static_id=True)
    return out.getvalue()


def unembed(pdf):
    for thing in pdf.objects:
        if isinstance(thing, pikepdf.Dictionary) and thing.get("/Type") == "/FontDescriptor":
            for name in {"/FontFile2", "/FontFile3"} & set(thing.keys()):
                del thing[name]


def run_a_script(pdf):
    pdf.Root.OpenAction = pikepdf.Dictionary(S=pikepdf.Name.JavaScript, JS=pikepdf.String("1"))


def forget(*names):
    def change(pdf):
        for name in names:
            del pdf.Root[name]

    return change


def call_it_later(pdf):
    pdf.Root.Version = pikepdf.Name("/2.0")


def smooth_an_image(pdf):
    image = pikepdf.Stream(pdf, b"\0")
    image.update(
        {"/Type": pikepdf.Name.XObject, "/Subtype": pikepdf.Name.Image, "/Width": 1, "/Height": 1,
         "/BitsPerComponent": 8, "/ColorSpace": pikepdf.Name.DeviceGray, "/Interpolate": True}
    )  # fmt: skip
    pdf.pages[0].Resources.XObject = pikepdf.Dictionary(X=pdf.make_indirect(image))
    pdf.pages[0].contents_add(b" q /X Do Q ")


SPOILT = {
    "a font is not embedded": unembed,
    "a script runs": run_a_script,
    "no output intent": forget("/OutputIntents"),
    "no metadata": forget("/Metadata"),
    "a later version": call_it_later,
    "an image that is smoothed": smooth_an_image,
}


@pytest.fixture(scope="module")
def whole():
    from tests.unit.certificate import conftest

    return make_certificate(conftest.make_job(), conftest.result(), (), conftest.DETAILS, sources=GIVEN).pdf


@pytest.mark.parametrize("what", SPOILT)
def test_what_does_not_conform_is_seen(whole, what):
    assert faults(spoilt(whole, lambda pdf: None)) == []
    assert faults(spoilt(whole, SPOILT[what])) != []
