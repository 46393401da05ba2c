"""What the issuer of papers decides: name, rules, title, paper, sections, logo (``format = "firstlift-paper-1"``)."""

from __future__ import annotations

import difflib
import tomllib
from collections.abc import Mapping
from dataclasses import dataclass
from enum import StrEnum
from typing import Any

from firstlift.core.errors import FirstliftError, Problem
from firstlift.words.paper import languages

FORMAT = "firstlift-paper-1"
SECTIONS = (
    "rule",
    "occasion",
    "valve",
    "findings",
    "pulls",
    "states",
    "evidence",
    "history",
    "instruments",
    "budget",
    "method",
    "traces",
    "not-proved",
    "cautions",
    "statement",
)
# what a report of a test may not leave out (ISO/IEC 17025:2017, 7.8.2 and 7.8.6; looked up), and what people must read
ALWAYS = frozenset(
    {"rule", "occasion", "valve", "findings", "pulls", "instruments", "method", "not-proved", "cautions", "statement"}
)
PRESSURE_UNITS = ("bar", "kPa", "MPa", "psi", "kgf/cm2")
_LONGEST = 600


class Kind(StrEnum):
    """What the paper is called."""

    CERTIFICATE = "certificate"
    TEST_REPORT = "test-report"
    INSPECTION_REPORT = "inspection-report"


class Regime(StrEnum):
    """Which rules the issuer works by."""

    NONE = "none"
    ISO_17025 = "iso-17025"
    ISO_17020 = "iso-17020"


class Paper(StrEnum):
    """Size of the sheet."""

    A4 = "a4"
    LETTER = "letter"


@dataclass(frozen=True, slots=True)
class Accreditation:
    """Who accredited the issuer, under which number; printed only where the issuer says that the scope covers this.

    ``mark`` holds the bytes of the mark's file as ``PaperSettings.logo`` does.
    """

    body: str
    number: str
    scope_covers: bool = False
    mark: bytes = b""
    mark_format: str = ""
    mark_file: str = ""


@dataclass(frozen=True, slots=True)
class PaperSettings:
    """The issuer's settings; without any, a plain certificate on A4.

    ``language`` is one of `firstlift.words.paper.languages`; ``pressure_unit`` empty for the nameplate's.
    ``logo`` holds the bytes of an SVG or PNG file, ``logo_format`` says which. ``fonts`` is a folder with fonts for
    letters that the typesetter has none for.
    """

    issuer: str = ""
    address: str = ""
    customer_address: str = ""
    kind: Kind = Kind.CERTIFICATE
    regime: Regime = Regime.NONE
    accreditation: Accreditation | None = None
    paper: Paper = Paper.A4
    language: str = "en"
    pressure_unit: str = ""
    sections: tuple[str, ...] = SECTIONS
    own_text: str = ""
    logo: bytes = b""
    logo_format: str = ""
    logo_file: str = ""
    fonts: str = ""


PLAIN = PaperSettings()


_KEYS: Mapping[str, tuple[str, ...]] = {
    "issuer": ("name", "address"),
    "customer": ("address",),
    "document": ("kind", "regime", "own_text"),
    "accreditation": ("body", "number", "scope_covers", "mark"),
    "layout": ("paper", "language", "pressure_unit", "sections", "logo", "fonts"),
}


def read_settings(text: str, where: str) -> PaperSettings:
    """Read the issuer's settings; a logo is named here and read by the caller.

    Parameters
    ----------
    text : str
        TOML.
    where : str
        Name of the file, said in messages.

    Returns
    -------
    PaperSettings

    Raises
    ------
    FirstliftError
        CRT-004, every problem at once.
    """
    try:
        data = tomllib.loads(text)
    except (tomllib.TOMLDecodeError, RecursionError) as error:
        raise FirstliftError(_problem(f"it is not TOML: {error}"[:200], where, "a TOML file")) from error
    reading = _Reading(where, [])
    reading.check_keys(data)
    held = data.get("accreditation")
    settings = PaperSettings(
        issuer=reading.text(data, "issuer", "name"),
        address=reading.text(data, "issuer", "address"),
        customer_address=reading.text(data, "customer", "address"),
        kind=Kind(reading.choice(data, "document", "kind", tuple(Kind))),
        regime=Regime(reading.choice(data, "document", "regime", tuple(Regime))),
        accreditation=reading.accreditation(data) if held is not None else None,
        paper=Paper(reading.choice(data, "layout", "paper", tuple(Paper))),
        language=reading.choice(data, "layout", "language", languages()),
        pressure_unit=reading.choice(data, "layout", "pressure_unit", ("", *PRESSURE_UNITS)),
        sections=reading.sections(data),
        own_text=reading.text(data, "document", "own_text"),
        logo_file=reading.text(data, "layout", "logo"),
        fonts=reading.text(data, "layout", "fonts"),
    )
    if reading.problems:
        raise FirstliftError(reading.problems)
    return settings


def _problem(what: str, where: str, needed: str) -> Problem:
    return Problem("CRT-004", what, where, needed, "See docs/certificate.md")


@dataclass(frozen=True, slots=True)
class _Reading:
    """Reads one file and gathers what is wrong with it."""

    where: str
    problems: list[Problem]

    def wrong(self, what: str, table: str, key: str, needed: str) -> None:
        self.problems.append(_problem(what, f"{self.where}, [{table}] {key}", needed))

    def check_keys(self, data: Mapping[str, Any]) -> None:
        if data.get("format") != FORMAT:
            self.problems.append(_problem(f"format is {data.get('format')!r}"[:80], self.where, f'format = "{FORMAT}"'))
        for table, value in data.items():
            if table == "format":
                continue
            if table not in _KEYS or not isinstance(value, dict):
                self.problems.append(_problem(f"'{table}' is not known"[:80], self.where, f"one of {', '.join(_KEYS)}"))
                continue
            for key in value:
                if key not in _KEYS[table]:
                    near = difflib.get_close_matches(key, _KEYS[table], 1)
                    hint = f"; did you mean '{near[0]}'?" if near else ""
                    self.wrong(f"the key '{key}' is not known{hint}"[:120], table, key[:40], ", ".join(_KEYS[table]))

    def value(self, data: Mapping[str, Any], table: str, key: str) -> Any:
        inside = data.get(table)
        return inside.get(key) if isinstance(inside, dict) else None

    def text(self, data: Mapping[str, Any], table: str, key: str) -> str:
        value = self.value(data, table, key)
        if value is None:
            return ""
        if not isinstance(value, str) or len(value) > _LONGEST:
            self.wrong(f"{value!r}"[:60] + " cannot be used", table, key, f"a text of at most {_LONGEST} characters")
            return ""
        return value

    def choice(self, data: Mapping[str, Any], table: str, key: str, known: tuple[str, ...]) -> str:
        value = self.value(data, table, key)
        if value is None:
            return str(known[0])
        if value not in known:
            self.wrong(f"{value!r}"[:60] + " is not known", table, key, f"one of {', '.join(filter(None, known))}")
            return str(known[0])
        return str(value)

    def accreditation(self, data: Mapping[str, Any]) -> Accreditation:
        covers = self.value(data, "accreditation", "scope_covers")
        if not isinstance(covers, bool):
            self.wrong(
                "it is not said whether the scope covers this test", "accreditation", "scope_covers", "true or false"
            )
        made = Accreditation(
            self.text(data, "accreditation", "body"),
            self.text(data, "accreditation", "number"),
            covers is True,
            mark_file=self.text(data, "accreditation", "mark"),
        )
        if not made.body or not made.number:
            self.wrong("body or number is missing", "accreditation", "body, number", "both")
        return made

    def sections(self, data: Mapping[str, Any]) -> tuple[str, ...]:
        value = self.value(data, "layout", "sections")
        if value is None:
            return SECTIONS
        known = isinstance(value, list) and all(isinstance(name, str) and name in SECTIONS for name in value)
        if not known or len(set(value)) != len(value):
            self.wrong(
                f"{value!r}"[:80] + " cannot be used", "layout", "sections", f"each once, of {', '.join(SECTIONS)}"
            )
            return SECTIONS
        missing = sorted(ALWAYS - set(value))
        if missing:
            self.wrong(f"left out: {', '.join(missing)}", "layout", "sections", f"at least {', '.join(sorted(ALWAYS))}")
        return tuple(value)
