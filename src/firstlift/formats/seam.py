"""The seam between file formats and the rest: channels with a name, a length and a way to read a stretch.

A format module gives ``sniff(head, name) -> Guess`` and ``open_file(path) -> Source`` and is registered in
`firstlift.formats.source`. It decides nothing about valves: which column is which is the job sheet's word.
"""

from __future__ import annotations

import re
import struct
import zlib
from collections.abc import Callable
from dataclasses import dataclass, field
from types import TracebackType
from typing import Any

import numpy as np
from numpy.typing import NDArray

from firstlift.core.errors import FirstliftError, Problem
from firstlift.core.units import Kind, find_unit

Reader = Callable[[int, int], NDArray[Any]]
# what libraries let through when a file's structure lies
FOREIGN = (
    ValueError, LookupError, EOFError, OSError, struct.error, zlib.error, ArithmeticError, MemoryError, TypeError,
    AttributeError, NotImplementedError, RuntimeError, AssertionError,
)  # fmt: skip
_BRACKETED = re.compile(r"^(?P<name>.*?)\s*(?P<open>[\[(])(?P<unit>[^\[\]()]*(?:\([ag]\))?)[\])]\s*$")
_LEAST_STEP_S, _MOST_STEP_S = 1e-12, 1e7
_UNIT_KINDS = tuple(kind for kind in Kind if kind is not Kind.RATIO)


@dataclass(frozen=True, slots=True)
class Guess:
    """Which format a file seems to have, how sure that is (0 to 1), and why."""

    format: str
    confidence: float
    reason: str


@dataclass(frozen=True, slots=True)
class BadValue:
    """A field that holds no number: its row (from 0), its line in the file, and what stood there."""

    row: int
    line: int
    text: str


@dataclass(frozen=True, slots=True, eq=False)
class SourceChannel:
    """One channel of a file.

    ``aliases`` are further names it answers to. The file's own time base is ``dt_s`` with ``t0_s`` where the
    steps are even, else ``time``, a channel of stamps; both None where there is none. ``read(start, stop)``
    gives raw samples start to stop (exclusive): numbers, or datetime64 where ``is_instant``. ``why_not``
    says why the channel cannot be read as numbers, or is "".
    """

    name: str
    length: int
    reader: Reader
    unit: str | None = None
    t0_s: float = 0.0
    dt_s: float | None = None
    aliases: tuple[str, ...] = ()
    is_instant: bool = False
    why_not: str = ""
    bad: tuple[BadValue, ...] = ()
    time: SourceChannel | None = None

    def read(self, start: int, stop: int) -> NDArray[Any]:
        """Give raw samples start to stop (exclusive), at most as many as there are."""
        first = max(0, start)
        return self.reader(first, max(first, min(stop, self.length)))


@dataclass(eq=False)
class Source:
    """An open file: its channels, and what reading it found. To be closed; works as a context manager."""

    format: str
    channels: tuple[SourceChannel, ...]
    bad_rows: tuple[BadValue, ...] = ()
    torn: bool = False
    torn_line: int | None = None
    line_of: Callable[[int], int | None] = field(default=lambda _row: None)
    on_close: Callable[[], object] = field(default=lambda: None)

    def close(self) -> None:
        """Let go of the file."""
        self.on_close()

    def __enter__(self) -> Source:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self.close()


def split_unit(header: str) -> tuple[str, str | None]:
    """Part a column's heading into name and unit: "Force [kN]" gives ("Force", "kN").

    Round brackets are taken for a unit only where a known unit stands in them: "cell (left)" has none.

    Parameters
    ----------
    header : str

    Returns
    -------
    name, unit : str, str or None
    """
    match = _BRACKETED.match(header.strip())
    if match is None or not match["name"] or not match["unit"].strip() or match["unit"].strip().isdigit():
        return header.strip(), None
    unit = match["unit"].strip()
    if match["open"] == "(" and not names_unit(unit):
        return header.strip(), None
    return match["name"].strip(), unit


def names_unit(text: str) -> bool:
    """Tell whether a text names a unit of measure, absolute pressures included.

    Parameters
    ----------
    text : str

    Returns
    -------
    bool
    """
    for kind in _UNIT_KINDS:
        try:
            find_unit(text, kind)
        except FirstliftError as error:
            if error.problems[0].code == "UNI-003":
                return True
            continue
        return True
    return False


def even_step(seconds: float | None) -> float | None:
    """Give a sampling step that a recorder can have had; None for what is none (0, negative, not finite)."""
    return seconds if seconds is not None and _LEAST_STEP_S <= seconds <= _MOST_STEP_S else None


def array_reader(values: NDArray[Any]) -> Reader:
    """Give a reader over an array that is held in memory."""
    return lambda start, stop: values[start:stop]


def damaged(what: str, where: str, reason: object) -> FirstliftError:
    """Make the error for a file that is damaged beyond reading (REC-004)."""
    text = " ".join(str(reason).split())[:160]
    return FirstliftError(
        Problem(
            "REC-004",
            f"the {what} file is damaged: {text}",
            where,
            "a whole file",
            "Export or copy the recording again",
        )
    )


def no_numbers(channel: SourceChannel, where: str) -> FirstliftError:
    """Make the error for a channel that holds no numbers (REC-007)."""
    return FirstliftError(
        Problem("REC-007", f"channel '{channel.name}' {channel.why_not}", where, "a channel of numbers")
    )


def as_seconds(instants: NDArray[np.datetime64]) -> NDArray[np.float64]:
    """Give seconds from the first valid stamp; NaN where there is none.

    Parameters
    ----------
    instants : ndarray (n,), datetime64

    Returns
    -------
    ndarray (n,), float64, [s]
    """
    stamps = instants.astype("datetime64[ns]")
    valid = ~np.isnat(stamps)
    seconds = np.full(stamps.shape, np.nan)
    if valid.any():
        whole = stamps[valid].astype(np.int64)
        seconds[valid] = (whole - whole[0]) * 1e-9
    return seconds
