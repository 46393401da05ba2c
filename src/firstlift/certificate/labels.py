"""Labels for valves: a code that opens the valve's page, beside the words a person reads without one."""

from __future__ import annotations

import datetime as dt
import functools
import json
import re
from collections.abc import Sequence
from dataclasses import asdict, dataclass
from importlib import resources
from typing import Any

from firstlift.certificate.typeset import check_text
from firstlift.core.errors import FirstliftError, Problem

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


def render_labels(labels: Sequence[Label], *, day: dt.date, roll: bool = False) -> bytes:
    """Set labels of 90 x 44 mm as PDF: twelve a page of A4 with lines to cut along, or each a page of its own.

    Parameters
    ----------
    labels : sequence of Label
    day : date
        Of the printing, kept in the file's own data.
    roll : bool
        One label a page, for a printer of labels.

    Returns
    -------
    bytes
        The same for the same input.

    Raises
    ------
    FirstliftError
        LBL-001 a text cannot be printed, or is too long.
    """
    import typst

    for label in labels:
        for words in (label.tag, label.place, label.short, label.mark, *(cell for row in label.rows for cell in row)):
            check_text(words, f"label of {label.tag[:40]}")
    data = {
        "title": "Labels for valves",
        "day": [day.year, day.month, day.day],
        "roll": roll,
        "labels": [{**asdict(label), "code": draw_code(label.uri)} for label in labels],
    }
    try:
        made = _compiler().compile(
            input=_template(), format="pdf", pdf_standards=["a-2b"],
            timestamp=dt.datetime.combine(day, dt.time(12), tzinfo=dt.UTC),
            sys_inputs={"data": json.dumps(data, ensure_ascii=False)},
        )  # fmt: skip
    except typst.TypstError as error:
        raise _explained(error) from error
    if not isinstance(made, bytes):
        raise FirstliftError(Problem("LBL-001", "typesetting gave no file", needed="one PDF"))
    return made


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
def _compiler() -> Any:
    import typst

    fonts = typst.Fonts(include_system_fonts=False, include_embedded_fonts=True)
    return typst.Compiler(font_paths=fonts, ignore_system_fonts=True)


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
