"""Labels for valves: a code that opens the valve's page, beside the words a person reads without one."""

from __future__ import annotations

import datetime as dt
import functools
import re
from collections.abc import Sequence
from dataclasses import asdict, dataclass
from importlib import resources

from firstlift.certificate.typeset import check_text, set_pages
from firstlift.core.errors import FirstliftError, Problem
from firstlift.words.catalogue import RIGHT_TO_LEFT
from firstlift.words.paper import Speaker

_QUIET_ZONE = 4


@dataclass(frozen=True, slots=True)
class Label:
    """What one label says. ``uri`` is what its code carries, ``short`` the same identifier for the eye."""

    tag: str
    rows: tuple[tuple[str, str], ...]
    place: str
    uri: str
    short: str
    mark: str = ""


def render_labels(
    labels: Sequence[Label], *, day: dt.date, roll: bool = False, language: str = "en", fonts: str = ""
) -> bytes:
    """Set labels of 90 x 44 mm as PDF: twelve a page of A4 with lines to cut along, or each a page of its own.

    Parameters
    ----------
    labels : sequence of Label
    day : date
        Of the printing, kept in the file's own data.
    roll : bool
        One label a page, for a printer of labels.
    language : str
    fonts : str
        Folder with fonts that the issuer names; empty for none.

    Returns
    -------
    bytes
        The same for the same input.

    Raises
    ------
    FirstliftError
        LBL-001 a text cannot be printed, or is too long; WRD-002 no words or no letters in the language.
    """
    import typst

    for label in labels:
        for words in (label.tag, label.place, label.short, label.mark, *(cell for row in label.rows for cell in row)):
            check_text(words, f"label of {label.tag[:40]}")
    data = {
        "title": Speaker(language)("label.title"),
        "language": language,
        "direction": "rtl" if language in RIGHT_TO_LEFT else "ltr",
        "day": [day.year, day.month, day.day],
        "roll": roll,
        "labels": [{**asdict(label), "code": draw_code(label.uri)} for label in labels],
    }
    try:
        return set_pages(_template(), data, day=day, fonts=fonts, standard="a-2b")
    except typst.TypstError as error:
        raise _explained(error) from error


def draw_code(text: str) -> str:
    """Draw a QR code; a seventh of it may be dirty or torn off before it cannot be read.

    Parameters
    ----------
    text : str

    Returns
    -------
    str
        SVG, with the quiet zone of four modules around it that a reader needs.
    """
    import segno

    code = segno.make(text, error="m", micro=False, boost_error=True)
    side = len(code.matrix) + 2 * _QUIET_ZONE
    squares = "".join(
        f"M{x + _QUIET_ZONE} {y + _QUIET_ZONE}h{length}v1h-{length}z"
        for y, row in enumerate(code.matrix)
        for x, length in _runs(row)
    )
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" width="{side}" height="{side}" viewBox="0 0 {side} {side}">'
        f'<path d="{squares}" fill="#000000"/></svg>'
    )


def _runs(row: Sequence[int]) -> list[tuple[int, int]]:
    """Give start and length of each run of dark modules."""
    return [
        (match.start(), len(match[0])) for match in re.finditer("1+", "".join("1" if dark else "0" for dark in row))
    ]


@functools.cache
def _template() -> bytes:
    return resources.files("firstlift.certificate").joinpath("labels.typ").read_bytes()


def _explained(error: Exception) -> FirstliftError:
    quoted = re.search(r'the text `"(.*?)"` could not be displayed', str(error), re.DOTALL)
    what = f"'{quoted[1][:40]}' cannot be printed" if quoted else f"the labels could not be typeset: {error}"[:300]
    return FirstliftError(
        Problem("LBL-001", what, "labels", "Latin, Greek or Cyrillic letters, digits and common signs",
                "Write it in other letters in the register")
    )  # fmt: skip
