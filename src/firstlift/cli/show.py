"""Printing on any terminal: signs that it cannot print are written out instead of breaking the output."""

from __future__ import annotations

import sys

_WRITTEN_OUT = str.maketrans({"±": "+/-", "µ": "u", "−": "-", "·": "*", "²": "2", "≤": "<=", "≥": ">=", "…": "..."})


def prints_unicode() -> bool:
    """Say whether stdout can print every character.

    Returns
    -------
    bool
    """
    return "utf" in (sys.stdout.encoding or "ascii").lower()


def show(text: str) -> None:
    """Print a text; where the terminal has no Unicode, signs are written out and other letters become '?'.

    Parameters
    ----------
    text : str
    """
    if not prints_unicode():
        encoding = sys.stdout.encoding or "ascii"
        text = text.translate(_WRITTEN_OUT).encode(encoding, "replace").decode(encoding)
    print(text)
