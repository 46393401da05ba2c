"""The certificate as data: a frozen tree of sections, tables, figures and words, without any layout."""

from __future__ import annotations

import dataclasses
import datetime as dt
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from firstlift.certificate.manifest import CertifiedFile
from firstlift.certificate.settings import PLAIN, PaperSettings


@dataclass(frozen=True, slots=True)
class Person:
    """Who did something, and on which date where that is known."""

    name: str
    on: dt.date | None


@dataclass(frozen=True, slots=True)
class CertificateDetails:
    """What the issuer adds: number, issuing body, date of issue, program version; people; what it supersedes.

    ``files`` and ``seal`` come from the manifest and are put in when the certificate is made.
    """

    number: str
    issuer: str
    issued_on: dt.date
    release: str
    settings: PaperSettings = PLAIN
    draft: bool = False
    supersedes: str = ""
    reason: str = ""
    reviewed: Person | None = None
    authorised: Person | None = None
    files: tuple[CertifiedFile, ...] = ()
    seal: str = ""


@dataclass(frozen=True, slots=True)
class Paragraph:
    """A paragraph; ``style`` is "body", "note" or "strong"."""

    text: str
    style: str = "body"


@dataclass(frozen=True, slots=True)
class Pairs:
    """Labels with their values, set in columns."""

    rows: tuple[tuple[str, str], ...]
    columns: int = 2


@dataclass(frozen=True, slots=True)
class Column:
    """A table's column: title, unit under it, alignment "left", "right" or "center", and share of the width."""

    title: str
    unit: str = ""
    align: str = "left"
    weight: float = 1.0


@dataclass(frozen=True, slots=True)
class Table:
    """Rows of text; ``strong`` are the numbers of the rows that the verdict rests on."""

    columns: tuple[Column, ...]
    rows: tuple[tuple[str, ...], ...]
    strong: tuple[int, ...] = ()
    notes: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Picture:
    """An SVG with its caption and words for those who cannot see it."""

    svg: str
    caption: str
    alt: str


@dataclass(frozen=True, slots=True)
class Pictures:
    """Pictures side by side."""

    pictures: tuple[Picture, ...]
    columns: int = 1


@dataclass(frozen=True, slots=True)
class Glance:
    """The finding at a glance: value, verdict, disposition. ``mark`` is "good", "bad" or "open"."""

    tag: str
    headline: str
    value: str
    value_note: str
    verdict: str
    verdict_mark: str
    verdict_note: str
    disposition: str
    disposition_mark: str
    disposition_note: str


@dataclass(frozen=True, slots=True)
class FindingRow:
    """One finding as printed; ``severity`` chooses its sign, ``shown`` is its word."""

    severity: str
    shown: str
    where: str
    title: str
    message: str
    advice: str


@dataclass(frozen=True, slots=True)
class Findings:
    """The findings, gravest first."""

    rows: tuple[FindingRow, ...]


@dataclass(frozen=True, slots=True)
class Bullets:
    """A list of short sentences."""

    items: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Signatures:
    """Places to sign, one a role, each with its fields; the last field is the signature."""

    roles: tuple[str, ...]
    fields: tuple[str, ...]


Block = Paragraph | Pairs | Table | Pictures | Glance | Findings | Bullets | Signatures


@dataclass(frozen=True, slots=True)
class Section:
    """A titled part; ``together`` keeps it on one page."""

    title: str
    blocks: tuple[Block, ...]
    together: bool = False


@dataclass(frozen=True, slots=True)
class Document:
    """The whole certificate.

    ``demo`` is the mark of invented data and ``draft`` that of a draft, with ``watermark`` behind the text: empty
    otherwise. ``words`` are the small words that the layout needs, ``end`` closes the document.
    """

    title: str
    note: str
    number: str
    tag: str
    issuer: str
    issued_on: str
    release: str
    sha256: str
    seal: str
    demo: str
    draft: str
    watermark: str
    supersedes: str
    regime: str
    paper: str
    language: str
    direction: str
    logo: str
    mark: str
    words: Mapping[str, str]
    tested_on: dt.date
    glance: Glance
    sections: tuple[Section, ...]
    end: str


def plain(value: Any) -> Any:
    """Turn a document, or a part of one, into plain values for JSON, each part with its kind.

    Parameters
    ----------
    value : Any
        A dataclass of this module, or what it holds.

    Returns
    -------
    Any
    """
    if dataclasses.is_dataclass(value) and not isinstance(value, type):
        fields = {field.name: plain(getattr(value, field.name)) for field in dataclasses.fields(value)}
        return {"kind": type(value).__name__.lower(), **fields}
    if isinstance(value, Mapping):
        return dict(value)
    if isinstance(value, tuple):
        return [plain(item) for item in value]
    if isinstance(value, dt.date):
        return value.isoformat()
    return value
