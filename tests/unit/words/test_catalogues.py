"""The catalogues: every word of every paper in every language, with the same values in it; numbers by place."""

import datetime as dt
import re

import pytest
from babel.messages.pofile import read_po
from tools.catalogues import LOCALE, place

from firstlift import words
from firstlift.core.errors import Finding, FirstliftError, Severity
from firstlift.words import numbers
from firstlift.words.catalogue import LANGUAGES, RIGHT_TO_LEFT, in_language, languages, sources
from firstlift.words.paper import Speaker
from firstlift.words.place import local, local_date, written_in

OTHERS = [name for name in LANGUAGES if name != "en"]
ENGLISH = dict(sources())


def read(language):
    with place(language).open("rb") as file:
        return {m.context: m for m in read_po(file, locale=language) if m.id}


def fields(text):
    return sorted(re.findall(r"\{\w+\}", text))


def test_all_nine_are_offered():
    assert languages() == ("en", "de", "fr", "es", "nl", "pl", "el", "ar", "zh")


@pytest.mark.parametrize("language", OTHERS)
def test_no_word_is_missing_and_none_is_stale(language):
    held = read(language)
    english = dict(sources(language))
    lacking = [k for k, e in english.items() if k not in held or held[k].id != e or not held[k].string or held[k].fuzzy]
    assert lacking == []
    assert sorted(held.keys() - english.keys()) == []


@pytest.mark.parametrize("language", OTHERS)
def test_values_and_optional_parts_are_those_of_the_english(language):
    wrong = []
    for key, message in read(language).items():
        # a part in brackets goes where one of its values is missing: which values share a part must stay the same
        parts = [sorted(fields(part) for part in re.findall(r"\[[^\]]*\]", t)) for t in (message.id, message.string)]
        if fields(message.id) != fields(message.string) or parts[0] != parts[1]:
            wrong.append(key)
    assert wrong == []


@pytest.mark.parametrize("language", OTHERS)
def test_no_sentence_was_left_in_english(language):
    same = [k for k, m in read(language).items() if m.id == m.string and len(re.findall(r"[a-z]{3,}", m.id)) > 2]
    assert same == []


@pytest.mark.parametrize("language", OTHERS)
def test_no_word_is_so_long_that_the_page_breaks_it_anywhere(language):
    long = [word for m in read(language).values() for word in re.findall(r"[^\W\d_\u4e00-\u9fff]{22,}", m.string)]
    assert long == []


def test_the_template_holds_every_key():
    with (LOCALE / "firstlift.pot").open("rb") as file:
        assert {m.context: m.id for m in read_po(file) if m.id} == ENGLISH


def test_greek_and_arabic_are_written_in_their_letters():
    assert Speaker("el")("pulls.set") == "Πίεση ρύθμισης"
    assert Speaker("ar")("pulls.set") == "ضغط الضبط"
    assert {"ar"} == RIGHT_TO_LEFT


def test_a_finding_is_said_with_its_values_in_the_language_and_unit_asked_for():
    finding = Finding("leaking-before-lift", Severity.WARNING, 1, {"lead_s": 0.25, "at_s": 12.5})
    said = words.message(finding, language="de")
    assert said == "Der Sitz leckte vor dem ersten Hub: Der Schall stieg 0,250 s davor, ab 12,500 s."
    bound = Finding("lower-bound-high", Severity.SEVERE, 1, {"upper_pa": 1e6})
    assert "145,0 psi" in words.message(bound, language="fr", pressure_unit="psi")
    assert "145.0 psi" in words.message(bound, pressure_unit="psi")


def test_what_has_no_word_in_a_language_is_said_in_english():
    finding = Finding("system-untested", Severity.INFO, None, {})
    assert words.message(finding, language="pl") == words.message(finding)
    # words made from other English than today's are not printed
    assert (
        in_language("pulls.set", "Set pressure, as it was once called", "de") == "Set pressure, as it was once called"
    )


def test_an_unknown_language_is_refused():
    with pytest.raises(FirstliftError, match="WRD-002"):
        words.verdict("within", language="xx")


@pytest.mark.parametrize(
    ("language", "mark"), [("en", "."), ("de", ","), ("fr", ","), ("pl", ","), ("el", ","), ("ar", ".")]
)
def test_the_decimal_mark_is_the_places_and_digits_stay(language, mark):
    with written_in(language):
        shown = numbers.format_pressure(1.002e6, "bar", 5649.0)
        assert shown == f"10{mark}020 ± 0{mark}056 bar"
        assert local("1.5 mm") == f"1{mark}5 mm"
    assert numbers.format_pressure(1.002e6, "bar", 5649.0) == "10.020 ± 0.056 bar"


def test_dates_are_the_places():
    day = dt.date(2026, 5, 4)
    shown = {}
    for language in languages():
        with written_in(language):
            shown[language] = local_date(day)
    assert shown["en"] == "2026-05-04"
    assert shown["de"] == "4. Mai 2026"
    assert shown["fr"] == "4 mai 2026"
    assert shown["zh"] == "2026年5月4日"
    assert len(set(shown.values())) == 9 or shown["nl"] == "4 mei 2026"


def test_a_budgets_line_keeps_the_names_in_it():
    assert (
        words.budget_words("pull force, cell 'seat by scale'", language="de") == "Zugkraft, Kraftzelle 'seat by scale'"
    )
    assert words.budget_words("cell:seat of Ann", language="de") == "Kraftzelle:seat of Ann"
    assert words.budget_words("gauge:by hand", language="de") == "Manometer:von Hand"
