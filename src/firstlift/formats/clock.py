"""The recording's own clock: stamps in seconds that rise, with slips named and gaps left open."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from firstlift.core.errors import Finding, FirstliftError, Problem, Severity
from firstlift.core.units import UNITS, Kind
from firstlift.formats.seam import SourceChannel, as_seconds, split_unit

Floats = NDArray[np.float64]
_FEW = 10
_FEW_SHARE = 0.005
_GAP_STEPS = 3.5
_LATEST = 1e20  # of any unit: nanoseconds since 1970 stay below
_ENDINGS = ("ms", "us", "min", "s", "h")


@dataclass(frozen=True, slots=True, eq=False)
class Clock:
    """Seconds of the rows that are kept, which rows these are (None: all), and what was found."""

    time_s: Floats
    rows: NDArray[np.intp] | None = None
    findings: tuple[Finding, ...] = ()

    def up_to(self, rows: int) -> Clock:
        """Give the clock of the first ``rows`` rows of the file."""
        kept = rows if self.rows is None else int(np.searchsorted(self.rows, rows))
        if kept >= self.time_s.size:
            return self
        return Clock(self.time_s[:kept], None if self.rows is None else self.rows[:kept], self.findings)


def time_factor(channel: SourceChannel, where: str) -> float:
    """Give what turns the time column into seconds: by its unit, or by a name such as "time_ms"; else 1.

    Parameters
    ----------
    channel : SourceChannel
    where : str

    Returns
    -------
    float, [s]

    Raises
    ------
    FirstliftError
        REC-013 the file states a unit that is none of time.
    """
    name, _ = split_unit(channel.name)
    word = (channel.unit or "").strip().replace("µ", "u").replace("μ", "u").lower()
    symbol = {"sec": "s", "secs": "s", "second": "s", "seconds": "s", "msec": "ms", "usec": "us"}.get(word, word)
    if not word:
        ending = name.replace("-", "_").replace(" ", "_").rsplit("_", 1)[-1].lower()
        symbol = ending if ending in _ENDINGS and ending != name.lower() else "s"
    unit = UNITS.get(symbol)
    if unit is None or unit.kind is not Kind.TIME:
        raise FirstliftError(
            Problem("REC-013", f"the time column '{channel.name}' is in '{channel.unit}'", where, "s, ms, us, min or h")
        )
    return unit.factor


def read_clock(channel: SourceChannel, where: str, line_of: Callable[[int], int | None]) -> Clock:
    """Read a time column and put it in order.

    A row whose stamp repeats, goes back or is missing is dropped where there are few such rows; nothing is
    interpolated, and a gap stays a gap.

    Parameters
    ----------
    channel : SourceChannel
    where : str
        The file, said in messages.
    line_of : callable
        Gives a row's line in the file, or None.

    Returns
    -------
    Clock

    Raises
    ------
    FirstliftError
        REC-013 no clock can be formed.
    """
    time = seconds_of(channel, 0, channel.length, where)
    if not np.isfinite(time).any():
        raise FirstliftError(
            Problem("REC-013", f"the time column '{channel.name}' holds no times", where, "stamps that rise")
        )
    rising = _rising(time)
    dropped = np.flatnonzero(~rising)
    if dropped.size > max(_FEW, int(_FEW_SHARE * time.size)):
        line = line_of(int(dropped[0]))
        raise FirstliftError(
            Problem(
                "REC-013",
                f"{dropped.size} of {time.size} stamps of '{channel.name}' repeat, go back or are missing",
                where + (f" from line {line}" if line else ""),
                "stamps that rise",
                "Export the time with more digits, or give sample_rate instead",
            )
        )
    findings: list[Finding] = []
    kept = time[rising]
    if dropped.size:
        before = time[: dropped[0]][rising[: dropped[0]]]
        at_s = float(before[-1]) if before.size else float(kept[0])
        findings.append(repaired(channel.name, int(dropped.size), line_of(int(dropped[0])), at_s))
    findings += find_gaps(kept)
    rows = np.flatnonzero(rising) if dropped.size else None
    return Clock(kept, rows, tuple(findings))


def seconds_of(channel: SourceChannel, start: int, stop: int, where: str) -> Floats:
    """Read a stretch of a time column in seconds; a number that no clock shows is no time (NaN).

    Parameters
    ----------
    channel : SourceChannel
    start, stop : int
        First row, row after the last.
    where : str

    Returns
    -------
    ndarray (n,), [s]

    Raises
    ------
    FirstliftError
        REC-013 the column is in a unit that is none of time.
    """
    raw = channel.read(start, stop)
    if channel.is_instant:  # counted from the column's first stamp
        return as_seconds(np.concatenate([channel.read(0, 1), raw]))[1:] if start else as_seconds(raw)
    with np.errstate(invalid="ignore"):
        time = np.array(raw, dtype=np.float64)
    time[~(np.abs(time) < _LATEST)] = np.nan
    return time * time_factor(channel, where)


def repaired(channel: str, count: int, line: int | None, at_s: float) -> Finding:
    """Make the finding for samples that were taken out or left as gaps."""
    parameters = {"channel": channel, "count": count, "first_line": line, "at_s": at_s}
    return Finding("repaired-samples", Severity.WARNING, None, parameters)


def _rising(time: Floats) -> NDArray[np.bool_]:
    """Tell which rows to keep so that stamps rise; a lone stamp far ahead is dropped, not all after it."""
    finite = np.isfinite(time)
    ahead = np.where(finite, time, -np.inf)
    forward = finite.copy()
    forward[1:] &= time[1:] > np.maximum.accumulate(ahead)[:-1]
    behind = np.where(finite, time, np.inf)
    backward = finite.copy()
    backward[:-1] &= time[:-1] < np.minimum.accumulate(behind[::-1])[::-1][1:]
    return forward if forward.sum() >= backward.sum() else backward


def find_gaps(time_s: Floats) -> list[Finding]:
    """Find stretches without samples: longer than a few median steps.

    Parameters
    ----------
    time_s : ndarray (n,), [s]
        Rising.

    Returns
    -------
    list of Finding
        At most one, of the longest gap with their number.
    """
    steps = np.diff(time_s)
    if steps.size < 3:
        return []
    gaps = np.flatnonzero(steps > _GAP_STEPS * np.median(steps))
    if not gaps.size:
        return []
    longest = gaps[np.argmax(steps[gaps])]
    parameters = {
        "count": int(gaps.size),
        "from_s": float(time_s[longest]),
        "to_s": float(time_s[longest + 1]),
        "longest_s": float(steps[longest]),
    }
    return [Finding("gap", Severity.INFO, None, parameters)]
