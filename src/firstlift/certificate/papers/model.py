"""The papers of a job as data: sheets of blocks, without any layout. Blocks of the certificate serve here as well."""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping
from dataclasses import dataclass

from firstlift.certificate.model import Bullets, Findings, Pairs, Paragraph, Pictures, Signatures, Table


@dataclass(frozen=True, slots=True)
class Cell:
    """One large value: what it is, the value, and a remark below it."""

    label: str
    value: str
    note: str = ""


@dataclass(frozen=True, slots=True)
class Band:
    """Large values side by side."""

    cells: tuple[Cell, ...]


@dataclass(frozen=True, slots=True)
class Call:
    """A word in a frame and what it means; ``mark`` is "good", "bad" or "open"."""

    words: str
    mark: str
    text: str


@dataclass(frozen=True, slots=True)
class Ladder:
    """Pulls on one scale from nothing to its end; places are shares of the scale, 0 to 1.

    ``low`` to ``high`` is what a valve within its limits needs, ``expected`` one at its set pressure, ``stop`` where
    the pull ends at once, ``weakest`` what the weakest part bears (None: beyond the scale, or not known).
    """

    low: float
    high: float
    expected: float
    stop: float
    weakest: float | None
    expected_words: str
    range_words: str
    stop_words: str
    weakest_words: str


@dataclass(frozen=True, slots=True)
class Checks:
    """Things to tick off, in two columns of groups: a title and its sentences."""

    left: tuple[tuple[str, tuple[str, ...]], ...]
    right: tuple[tuple[str, tuple[str, ...]], ...]


@dataclass(frozen=True, slots=True)
class SignedSteps:
    """Steps that two people sign, each in a box: what, what to note, what is known of it already."""

    heads: tuple[str, str, str, str]
    rows: tuple[tuple[str, str], ...]


@dataclass(frozen=True, slots=True)
class Steps:
    """Numbered steps under a title, for the moment something goes wrong."""

    title: str
    items: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Fill:
    """Labels with room to write; what is known stands there already."""

    fields: tuple[tuple[str, str], ...]
    columns: int = 3


@dataclass(frozen=True, slots=True)
class Notes:
    """Ruled room to write: so many lines, or what is left of the page where that is more."""

    title: str
    lines: int = 3
    rest: bool = False


@dataclass(frozen=True, slots=True)
class Headed:
    """A small heading and the block below it."""

    title: str
    block: Piece


@dataclass(frozen=True, slots=True)
class Beside:
    """Two stacks of blocks side by side."""

    left: tuple[Piece, ...]
    right: tuple[Piece, ...]


Piece = (
    Paragraph | Pairs | Table | Pictures | Bullets | Signatures | Findings
    | Band | Call | Ladder | Checks | SignedSteps | Steps | Fill | Notes | Headed | Beside
)  # fmt: skip


@dataclass(frozen=True, slots=True)
class Sheet:
    """A part that begins on a page of its own: its title, what stands above it, and what beside it.

    ``fit`` sets it in the largest type, up to ``largest_pt``, in which it stays on one page.
    """

    title: str
    above: str
    beside: tuple[str, ...]
    pieces: tuple[Piece, ...]
    fit: bool = False
    largest_pt: float = 9.2


@dataclass(frozen=True, slots=True)
class JobPaper:
    """A whole paper. ``demo``, ``draft`` and ``watermark`` are empty where they do not apply.

    ``direction`` is "ltr" or "rtl"; ``printed`` is the day as the place writes it.
    """

    title: str
    subject: str
    issuer: str
    release: str
    demo: str
    draft: str
    watermark: str
    paper: str
    language: str
    direction: str
    logo: str
    day: dt.date
    printed: str
    foot: str
    words: Mapping[str, str]
    sheets: tuple[Sheet, ...]
