"""Certificates in every language: set without a missing glyph, in the place's numbers, pressures in a chosen unit."""

import dataclasses
import re
import shutil
from decimal import Decimal

import pytest
from tests.letters import make_font

from firstlift.certificate import build_certificate, make_certificate
from firstlift.certificate.model import Paragraph, Section, plain
from firstlift.certificate.page import in_pressure_unit
from firstlift.certificate.settings import PRESSURE_UNITS, PaperSettings, read_settings
from firstlift.certificate.typeset import typeset
from firstlift.core.errors import FirstliftError
from firstlift.usecases.certify import read_issuer
from firstlift.words.catalogue import catalogue, languages

OTHERS = languages()[1:]


def details_in(made, language, unit="", fonts="", **changes):
    settings = PaperSettings(language=language, pressure_unit=unit, fonts=fonts)
    return dataclasses.replace(made.details, settings=settings, **changes)


def page(made, language, unit="", kind="result"):
    return build_certificate(made.job(), getattr(made, kind)(), (), details_in(made, language, unit))


def text_of(document):
    return "\n".join(re.findall(r'"((?:[^"\\]|\\.)*)"', repr(plain(document)).replace("'", '"')))


@pytest.mark.parametrize("language", OTHERS)
def test_every_language_is_set_as_pdf_a_in_every_kind_of_result(made, letters, language):
    for kind in ("result", "not_lifted", "unusable"):
        details = details_in(made, language, fonts=letters(language), draft=kind == "unusable")
        pdf = make_certificate(made.job(), getattr(made, kind)(), made.traces(), details).pdf
        assert b"pdfaid:part" in pdf
        assert f"/Lang({language})".encode() in pdf.replace(b" ", b"")


@pytest.mark.parametrize("language", OTHERS)
def test_no_letter_of_a_catalogue_lacks_a_glyph(made, letters, language):
    # a page of PDF/A is refused where a font lacks a letter: every word is set once, also those of rare findings
    words = tuple(Paragraph(said) for said in catalogue(language).values())
    document = dataclasses.replace(page(made, language), sections=(Section("x", words),))
    assert typeset(document, fonts=letters(language)).startswith(b"%PDF")


def test_a_letter_without_a_glyph_is_refused_still(made):
    document = dataclasses.replace(page(made, "ar"), sections=(Section("x", (Paragraph("安全"),)),))
    with pytest.raises(FirstliftError, match="CRT-001"):
        typeset(document)


def test_arabic_runs_to_the_left_and_the_others_do_not(made):
    assert page(made, "ar").direction == "rtl"
    assert {page(made, language).direction for language in languages() if language != "ar"} == {"ltr"}


def test_numbers_dates_and_findings_are_in_the_language(made):
    document = page(made, "de")
    assert document.glance.value == "10,020 ± 0,056 bar"
    assert document.title == "Prüfbescheinigung Ansprechdruck"
    shown = text_of(document)
    assert "12. Mai 2026" in shown
    assert "Nullpunkt der Kraft verschoben" in shown
    assert page(made, "en").glance.value == "10.020 ± 0.056 bar"


@pytest.mark.parametrize(
    ("unit", "value"),
    [
        ("bar", "10.020 ± 0.056 bar"),
        ("kPa", "1002.0 ± 5.6 kPa"),
        ("MPa", "1.0020 ± 0.0056 MPa"),
        ("psi", "145.33 ± 0.81 psi"),
        ("kgf/cm2", "10.218 ± 0.057 kgf/cm²"),
    ],
)
def test_pressures_are_rounded_once_in_the_unit_asked_for(made, unit, value):
    # the values by hand from 1.002 MPa and 5.6 kPa: rounded from the unrounded value, never from the rounded bar
    assert page(made, "en", unit).glance.value == value
    assert unit in PRESSURE_UNITS


def test_the_nameplate_stands_beside_a_pressure_in_another_unit(made):
    shown = in_pressure_unit(made.job(), "kPa").valve.set_pressure
    assert (shown.text, shown.number, shown.unit) == ("10 bar (1000 kPa)", Decimal(1000), "kPa")
    assert in_pressure_unit(made.job(), "") == made.job()
    assert in_pressure_unit(made.job(), "bar") == made.job()


def test_the_issuer_chooses_language_and_unit():
    text = 'format = "firstlift-paper-1"\n[layout]\nlanguage = "{}"\npressure_unit = "{}"\n'
    settings = read_settings(text.format("el", "psi"), "issuer.toml")
    assert (settings.language, settings.pressure_unit) == ("el", "psi")
    with pytest.raises(FirstliftError, match="language"):
        read_settings(text.format("zz", "psi"), "issuer.toml")
    with pytest.raises(FirstliftError, match="pressure_unit"):
        read_settings(text.format("el", "furlong"), "issuer.toml")


def test_chinese_without_a_font_is_refused_with_the_remedy(made, monkeypatch, tmp_path):
    from firstlift.certificate import fonts

    monkeypatch.setattr(fonts, "_system_fonts", dict)
    monkeypatch.setattr(fonts, "_package_folders", lambda: iter(()))
    fonts.letters_for.cache_clear()
    try:
        with pytest.raises(FirstliftError, match=r"WRD-002.*fonts-noto-cjk.*\[layout\]"):
            typeset(page(made, "zh"))
        # a folder that has fonts, but none with the letters
        without = str(make_font(tmp_path / "without", "安全", "Somebody's Sans"))
        with pytest.raises(FirstliftError, match="WRD-002"):
            typeset(page(made, "zh"), fonts=without)
        (tmp_path / "empty").mkdir()
        with pytest.raises(FirstliftError, match="CRT-004"):
            typeset(page(made, "zh"), fonts=str(tmp_path / "empty"))
    finally:
        fonts.letters_for.cache_clear()


def test_a_named_folder_serves_names_in_other_papers_too(made, letters):
    document = dataclasses.replace(page(made, "en"), sections=(Section("x", (Paragraph("安全阀"),)),))
    with pytest.raises(FirstliftError, match="CRT-001"):
        typeset(document)
    assert typeset(document, fonts=letters("zh")).startswith(b"%PDF")


def test_a_system_font_is_found_by_its_name(made, letters, monkeypatch):
    from firstlift.certificate import fonts

    monkeypatch.setattr(fonts, "_package_folders", lambda: iter(()))
    monkeypatch.setattr(fonts, "_system_fonts", lambda: {"Noto Sans SC": letters("zh"), "Some Sans": "/nowhere"})
    fonts.letters_for.cache_clear()
    try:
        assert fonts.letters_for("zh").families == ("Noto Sans SC",)
        assert fonts.can_print("zh")
    finally:
        fonts.letters_for.cache_clear()


def test_a_package_of_fonts_is_found_before_the_systems(letters, monkeypatch, tmp_path):
    from firstlift.certificate import fonts

    shutil.copytree(letters("zh"), tmp_path / "a_package_of_fonts" / "deep")
    monkeypatch.syspath_prepend(tmp_path)
    monkeypatch.setattr(fonts, "PACKAGES", ("no_such_package", "a_package_of_fonts"))
    monkeypatch.setattr(fonts, "_system_fonts", lambda: pytest.fail("the system's fonts were not needed"))
    fonts.letters_for.cache_clear()
    try:
        assert fonts.letters_for("zh").families == ("Noto Sans SC",)
    finally:
        fonts.letters_for.cache_clear()


def test_the_issuer_names_a_folder_beside_the_settings(tmp_path):
    place = tmp_path / "issuer.toml"
    place.write_text('format = "firstlift-paper-1"\n[layout]\nlanguage = "zh"\nfonts = "letters"\n')
    assert read_issuer(place).fonts == str(tmp_path / "letters")
