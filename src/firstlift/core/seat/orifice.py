"""Refuse an orifice letter's area as a seat area: it sizes flow, and is not what line pressure acts on.

A letter stands for an effective area that belongs with an effective discharge coefficient, for choosing a
valve's size. The true bore is larger by some per cent, and the seat where pressure acts is larger again. With
the letter's area the pull counts for too much and every reading comes out high.
"""

from __future__ import annotations

import re

from firstlift.core.errors import FirstliftError, Problem
from firstlift.core.seat.record import SeatRecord, Source

# effective areas by letter, in2: API Std 526 (source status: looked up in a public library's table; the standard itself
# was not seen)
LETTERS_IN2 = {
    "D": 0.110,
    "E": 0.196,
    "F": 0.307,
    "G": 0.503,
    "H": 0.785,
    "J": 1.287,
    "K": 1.838,
    "L": 2.853,
    "M": 3.60,
    "N": 4.34,
    "P": 6.38,
    "Q": 11.05,
    "R": 16.0,
    "T": 26.0,
}
_IN2 = 0.0254**2
# a figure that was rounded to three or four digits, in whatever unit, is still the same figure
_ALIKE = 1e-3
_WORDS = re.compile(
    r"orifice|effective\s+(?:discharge\s+)?area|discharge\s+area|api\s*(?:std\.?\s*|standard\s*)?526"
    r"|\bletter\s+['\"]?[d-hj-np-rt]\b|^\s*['\"]?[d-hj-np-rt]['\"]?\s*$",
    re.IGNORECASE,
)


def letter_of(area_m2: float) -> str | None:
    """Give the orifice letter whose effective area this is.

    Parameters
    ----------
    area_m2 : float, [m2]

    Returns
    -------
    str or None
        None where no letter's area is within a thousandth of it.
    """
    for letter, area_in2 in LETTERS_IN2.items():
        if abs(area_m2 - area_in2 * _IN2) <= _ALIKE * area_in2 * _IN2:
            return letter
    return None


def names_orifice(text: str) -> bool:
    """Say whether a text calls its figure an orifice or effective area.

    Parameters
    ----------
    text : str
        Where a figure comes from, or the figure itself.

    Returns
    -------
    bool
    """
    return _WORDS.search(text) is not None


def refuse_orifice(record: SeatRecord) -> None:
    """Refuse a record whose area is that of an orifice letter.

    A measured or fitted area may lie near a letter's by chance, so only an entered figure is held against the
    table.

    Parameters
    ----------
    record : SeatRecord

    Raises
    ------
    FirstliftError
        SEA-010 the area is an orifice letter's effective area, by its number or by its source's own words.
    """
    said = f"its source says '{record.reference}'" if names_orifice(record.reference) else ""
    if record.source is Source.MAKER:
        if not said and names_orifice(record.note):
            said = f"its note says '{record.note}'"
        letter = None if record.area_m2 is None else letter_of(record.area_m2)
        if letter is not None:
            said = f"it is the effective area of orifice letter {letter}, {LETTERS_IN2[letter]:g} in2"
    if not said:
        return
    figure = "the seat" if record.area_m2 is None else f"an area of {record.area_m2 * 1e6:.5g} mm2"
    raise FirstliftError(
        Problem(
            "SEA-010",
            f"{figure} cannot serve as a seat area: {said}. An orifice area sizes the flow through the open valve and "
            "is smaller than the area line pressure acts on while it is closed, so that every reading would come out "
            "high",
            f"seat record of {record.date.isoformat()}, {record.source}",
            "the seat's own dimensions: bore and outer edge of the contact, or its area from pulls",
            "Measure the seat, or find its area from pulls at two line pressures; if the figure really is the seat's, "
            "enter the diameters it comes from",
        )
    )
