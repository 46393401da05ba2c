"""Stretches of even steps in which a sound waveform is reduced: where its clock jumps, a new one begins."""

from __future__ import annotations

import itertools
from dataclasses import dataclass

import numpy as np

from firstlift.core.errors import Finding, FirstliftError, Problem, Severity
from firstlift.formats.clock import Clock, seconds_of
from firstlift.formats.seam import SourceChannel

_STEP_SLACK = 1.5
_GAP_STEPS = 3.5  # stamps of a clock of its own may be coarse: one of three steps is no gap
_AT_ONCE = 1_000_000


@dataclass(frozen=True, slots=True)
class Stretch:
    """Rows first to last (exclusive), the time of the first, and their even step, [s]."""

    first: int
    last: int
    start_s: float
    step_s: float


def of_clock(clock: Clock, step_s: float) -> list[Stretch]:
    """Part a table into stretches of even steps.

    Parameters
    ----------
    clock : Clock
    step_s : float, [s]

    Returns
    -------
    list of Stretch
    """
    rows = np.arange(clock.time_s.size) if clock.rows is None else clock.rows
    breaks = np.flatnonzero((np.diff(clock.time_s) > _STEP_SLACK * step_s) | (np.diff(rows) > 1)) + 1
    bounds = [0, *breaks.tolist(), rows.size]
    return [
        Stretch(int(rows[a]), int(rows[b - 1]) + 1, float(clock.time_s[a]), step_s)
        for a, b in itertools.pairwise(bounds)
    ]


def of_stamps(channel: SourceChannel, where: str) -> tuple[list[Stretch], float, list[Finding]]:
    """Part a channel by its own stamps, read a piece at a time; each stretch has the step its ends give.

    Parameters
    ----------
    channel : SourceChannel
        Its ``time`` holds the stamps.
    where : str

    Returns
    -------
    stretches : list of Stretch
    step_s : float, [s]
        The longest stretch's.
    findings : list of Finding
        At most one `gap`.

    Raises
    ------
    FirstliftError
        REC-013 the stamps do not rise.
    """
    time = channel.time
    length = min(channel.length, time.length if time is not None else 0)
    if time is None or length < 2:
        raise _not_rising(channel, 0, where)
    step_s = float(np.median(np.diff(seconds_of(time, 0, min(length, _AT_ONCE), where))))
    stretches: list[Stretch] = []
    first, start_s, before_s = 0, float("nan"), float("nan")
    for at in range(0, length, _AT_ONCE):
        stamps = seconds_of(time, at, min(length, at + _AT_ONCE), where)
        steps = np.diff(stamps, prepend=before_s)
        start_s = float(stamps[0]) if at == 0 else start_s
        known = 1 if at == 0 else 0  # the first stamp of all has none before it
        bad = known + np.flatnonzero(~(steps[known:] > 0.0))
        if bad.size or not np.isfinite(stamps[0]):
            raise _not_rising(time, at + int(bad[0] if bad.size else 0), where)
        for jump in np.flatnonzero(steps > _GAP_STEPS * step_s).tolist():
            end_s = float(stamps[jump - 1]) if jump else before_s
            stretches.append(_stretch(first, at + jump, start_s, end_s, step_s))
            first, start_s = at + jump, float(stamps[jump])
        before_s = float(stamps[-1])
    stretches.append(_stretch(first, length, start_s, before_s, step_s))
    longest = max(stretches, key=lambda part: part.last - part.first)
    return stretches, longest.step_s, _gap(stretches)


def _stretch(first: int, last: int, start_s: float, end_s: float, step_s: float) -> Stretch:
    return Stretch(first, last, start_s, (end_s - start_s) / (last - first - 1) if last - first > 1 else step_s)


def _gap(stretches: list[Stretch]) -> list[Finding]:
    gaps = [(b.start_s - a.start_s - (a.last - a.first - 1) * a.step_s, a, b) for a, b in itertools.pairwise(stretches)]
    if not gaps:
        return []
    longest_s, _, after = max(gaps, key=lambda gap: gap[0])
    parameters = {
        "count": len(gaps),
        "from_s": after.start_s - longest_s,
        "to_s": after.start_s,
        "longest_s": longest_s,
    }
    return [Finding("gap", Severity.INFO, None, parameters)]


def _not_rising(channel: SourceChannel, row: int, where: str) -> FirstliftError:
    return FirstliftError(
        Problem(
            "REC-013",
            f"the stamps of '{channel.name}' repeat, go back or are missing at sample {row + 1}",
            where,
            "stamps that rise",
            "Export the recording again, or give sample_rate instead",
        )
    )
