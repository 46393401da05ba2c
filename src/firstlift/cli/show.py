"""Printing on any terminal: signs that it cannot print are written out instead of breaking the output."""

from __future__ import annotations

import os
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

    A reader that went away (head, a closed pager) is no error: the work goes on, so that files are written
    and the exit code is the result's.

    Parameters
    ----------
    text : str
    """
    if not prints_unicode():
        encoding = sys.stdout.encoding or "ascii"
        text = text.translate(_WRITTEN_OUT).encode(encoding, "replace").decode(encoding)
    try:
        print(text, flush=True)
    except BrokenPipeError:
        # what is still buffered goes nowhere, or Python would complain of the closed pipe when it ends
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
