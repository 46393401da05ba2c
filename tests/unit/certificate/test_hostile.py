"""Hostile text in every field that is printed: it stands there as text, or is refused by name and place."""

import dataclasses
import datetime as dt
import io

import pikepdf
import pytest

from firstlift.certificate import CertificateDetails, Person, make_certificate
from firstlift.certificate.model import plain
from firstlift.certificate.settings import Accreditation, PaperSettings
from firstlift.certificate.verify import check_certificate
from firstlift.core.errors import FirstliftError, Severity

PRINTED = [
    '#panic("no") #{1+1} \\u{41}',
    "$x^2$ *b* _i_ <lab> @ref // /* `raw` = h",
    "\"quoted\" 'single' {number} {0} %s",
    "</svg><script>alert(1)</script>&amp;<!--",
    "PSV-" + "X9" * 28,
    "Żółć Привет αβγ ≤ ± µ ½",
]
REFUSED = [("PSV \U0001f600", "CRT-001"), ("a\x00b", "CRT-001"), ("abc\u202etxt", "CRT-001"), ("o" * 10_000, "CRT-002")]


def settings(**changes):
    held = Accreditation(changes.pop("body", "B"), changes.pop("number", "1"), True)
    return PaperSettings(regime="iso-17025", accreditation=held, **changes)


def job_with(job, field, text):
    """Put a text into one field of a job sheet, wherever it is printed."""
    part, name = field.split(".")
    if part == "channel":
        first = dataclasses.replace(job.channels[0], **{name: text})
        return dataclasses.replace(job, channels=(first, *job.channels[1:]))
    return dataclasses.replace(job, **{part: dataclasses.replace(getattr(job, part), **{name: text})})


JOB = ["visit.owner", "visit.site", "visit.technician", "valve.tag", "valve.serial", "valve.maker", "valve.model"]
JOB += [
    "valve.inlet_size",
    "valve.outlet_size",
    "seat.source",
    "seat.stated",
    "recording.file",
    "channel.column",
    "channel.serial",
]
JOB += ["channel.calibrated_with"]
# what has a form of its own, or is never printed
OF_A_FORM = {"channel.unit", "rules.code", "rules.edition", "recording.time_column"}
DETAILS = ["number", "issuer", "supersedes", "reason", "reviewed"]
SETTINGS = ["address", "customer_address", "own_text", "body", "number"]


def make(made, field, text):
    if field in JOB:
        return make_certificate(job_with(made.job(), field, text), made.result(), (), made.details)
    kind, name = field.split(":")
    if kind == "finding":
        said = dataclasses.replace(made.worded("pull-rejected", Severity.WARNING, 1), **{name: text})
        return make_certificate(made.job(), made.result(findings=(said,)), (), made.details)
    if kind == "settings":
        details = dataclasses.replace(made.details, settings=settings(**{name: text}))
    elif name == "reviewed":
        details = dataclasses.replace(made.details, reviewed=Person(text, dt.date(2026, 5, 15)))
    else:
        details = dataclasses.replace(made.details, **{"supersedes": "OLD-1", name: text})
    return make_certificate(made.job(), made.result(), (), details)


FIELDS = [*JOB, *(f"details:{name}" for name in DETAILS), *(f"settings:{name}" for name in SETTINGS)]
# a finding says what somebody wrote: the reason of a review, a column's name
FIELDS += ["finding:message", "finding:advice"]


def test_no_text_of_a_job_sheet_is_forgotten(made):
    job, found = made.job(), set()
    parts = {"visit": job.visit, "valve": job.valve, "seat": job.seat, "rules": job.rules, "recording": job.recording}
    for part, value in {**parts, "channel": job.channels[0]}.items():
        found |= {f"{part}.{f.name}" for f in dataclasses.fields(value) if type(getattr(value, f.name)) is str}
    assert found == set(JOB) | OF_A_FORM


def texts(value):
    if isinstance(value, dict):
        return [text for item in value.values() for text in texts(item)]
    if isinstance(value, list):
        return [text for item in value for text in texts(item)]
    return [value] if isinstance(value, str) else []


@pytest.mark.parametrize("field", FIELDS)
def test_it_is_printed_as_it_stands(made, field):
    hostile = " ".join(PRINTED)
    paper = make(made, field, hostile)
    assert any(hostile in text for text in texts(plain(paper.document)))
    with pikepdf.open(io.BytesIO(paper.pdf)) as pdf:
        assert len(pdf.pages) >= 2
        assert "/JavaScript" not in pdf.Root.get("/Names", {})


@pytest.mark.parametrize("field", FIELDS)
def test_what_cannot_be_printed_is_refused_by_name(made, field):
    for text, code in REFUSED:
        with pytest.raises(FirstliftError, match=code):
            make(made, field, text)


def test_a_manifest_holds_any_number_as_text(made):
    number = 'a"b\\c {x} żółć'
    details = CertificateDetails(number, "", dt.date(2026, 5, 14), "0.1.0")
    paper = make_certificate(made.job(), made.result(), (), details)
    assert check_certificate(paper.pdf).manifest.number == number


@pytest.mark.parametrize(
    "text", ["SN12345678901234567890", "SENSOR-0123456789-ABCDEFGHIJ-0123456789", "W" * 40, "7" * 60]
)
def test_long_serials_stay_in_their_column(made, text):
    channels = tuple(
        dataclasses.replace(spec, serial=text, column=f"{text}{index}", calibrated_with=text)
        for index, spec in enumerate(made.job().channels)
    )
    paper = make_certificate(made.job(channels=channels), made.result(), (), made.details)
    with pikepdf.open(io.BytesIO(paper.pdf)) as pdf:
        assert len(pdf.pages) < 8
