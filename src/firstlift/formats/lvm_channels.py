"""Channels of a LabVIEW measurement file and their time bases, from the segments they stand in.

With one column of X values, these are the first channel's; every channel has its own start and step in the
heading. Where rows were appended one by one under a heading that states one sample, its step says nothing, and the X
values count for all.
"""

from __future__ import annotations

import dataclasses
import datetime as dt
from collections.abc import Sequence
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from firstlift.core.errors import FirstliftError, Problem
from firstlift.formats.csv_values import numbers_of
from firstlift.formats.seam import BadValue, SourceChannel, array_reader, even_step, split_unit

Floats = NDArray[np.float64]
_X = "x_value"
_COMMENT = "comment"
_FAR_S = 1e6


@dataclass
class Segment:
    """One block of rows with its heading. ``values`` and ``bad`` are by column, in the order of ``names``."""

    names: tuple[str, ...]
    tags: dict[str, list[str]]
    values: list[Floats]
    bad: list[tuple[BadValue, ...]]
    rows: int
    decimal: str
    samples: dict[int, int] = field(init=False)
    columns: list[int] = field(init=False)

    def __post_init__(self) -> None:
        self.columns = [n for n, name in enumerate(self.names) if name and name.lower() not in (_X, _COMMENT)]
        self.samples = {
            column: int(number) for column in self.columns if (number := self.number("samples", column)) is not None
        }

    def text(self, tag: str, column: int) -> str:
        """Give what a heading says of a column: it stands above it, or channels are counted from the tag on."""
        entries = ["", *self.tags.get(tag, [])]
        key = next((key for key in ("samples", "delta_x", "x0") if key in self.tags), tag)
        filled = [n for n, text in enumerate(["", *self.tags.get(key, [])]) if text]
        place = column if filled[: len(self.columns)] == self.columns else 1 + self.columns.index(column)
        return entries[place] if place < len(entries) else ""

    def number(self, tag: str, column: int) -> float | None:
        """Give a number that a heading states of a column, or None."""
        values, _ = numbers_of([self.text(tag, column)], self.decimal)
        number = float(values[0])
        return number if abs(number) < 1e15 else None

    def x_column(self, column: int) -> int | None:
        """Give the column of X values that belongs to a channel: its own, to its left, or the common one."""
        left = [n for n in range(column) if self.names[n].lower() == _X]
        return left[-1] if left and np.isfinite(self.values[left[-1]]).any() else None

    def is_time(self, column: int) -> bool:
        """Tell whether X is time: a heading may state another dimension."""
        return self.text("x_dimension", column).lower() in ("", "time")

    def started(self, column: int) -> dt.datetime | None:
        """Give the instant that the heading states, or None."""
        day, clock = self.text("date", column).replace("/", "-"), self.text("time", column).replace(",", ".")
        try:
            return dt.datetime.fromisoformat(f"{day} {clock[:15]}").replace(tzinfo=dt.UTC)
        except ValueError:
            return None


@dataclass(frozen=True, slots=True)
class _Piece:
    """A channel's samples in one segment: stamps by its step, or by the X values where there is no true step."""

    values: Floats
    bad: tuple[BadValue, ...]
    step_s: float | None
    start_s: float
    stamps: Floats | None
    started: dt.datetime | None

    def times(self) -> Floats | None:
        if self.stamps is not None:
            return self.stamps
        return (
            None if self.step_s is None else self.start_s + np.arange(self.values.size, dtype=np.float64) * self.step_s
        )


def channels_of(segments: Sequence[Segment], where: str) -> tuple[SourceChannel, ...]:
    """Join what the segments hold of each channel.

    Parameters
    ----------
    segments : sequence of Segment
    where : str

    Returns
    -------
    tuple of SourceChannel

    Raises
    ------
    FirstliftError
        REC-005 no column of samples; REC-013 segments that overlap in time.
    """
    pieces: dict[tuple[str, int], list[_Piece]] = {}
    units: dict[tuple[str, int], str | None] = {}
    for segment in segments:
        for key, column in _keys(segment).items():
            pieces.setdefault(key, []).append(_piece(segment, column))
            units.setdefault(key, segment.text("y_unit_label", column) or split_unit(key[0])[1])
    channels = [_channel(key[0], units[key], found, where) for key, found in pieces.items()]
    channels += _x_channels(segments)
    if not pieces:
        raise FirstliftError(Problem("REC-005", "the LVM file names no channels", where, "names above the columns"))
    return _from_the_first(channels)


def _keys(segment: Segment) -> dict[tuple[str, int], int]:
    """Number channels that share a name, so that they are not taken for one."""
    keys: dict[tuple[str, int], int] = {}
    for column in segment.columns:
        name = segment.names[column]
        keys[(name, sum(other == name for other, _ in keys))] = column
    return keys


def _piece(segment: Segment, column: int) -> _Piece:
    values = segment.values[column]
    stated = segment.samples.get(column, 0)
    if segment.rows == max(segment.samples.values(), default=-1):
        values = values[:stated]
    else:  # appended to, or torn: what is empty to the end was not written
        filled = np.flatnonzero(np.isfinite(values))
        values = values[: int(filled[-1]) + 1 if filled.size else 0]
    bad = tuple(value for value in segment.bad[column] if value.row < values.size)
    if not segment.is_time(column):
        return _Piece(values, bad, None, 0.0, None, segment.started(column))
    step = even_step(segment.number("delta_x", column))
    start = segment.number("x0", column) or 0.0
    x = segment.x_column(column)
    stamps = None
    if x is not None and (step is None or not _fits(segment, x, column)):
        stamps = segment.values[x][: values.size]
    return _Piece(values, bad, None if stamps is not None else step, start, stamps, segment.started(column))


def _fits(segment: Segment, x: int, column: int) -> bool:
    """Tell whether the stated step of the channel that the X values belong to is the one they show."""
    first = next(n for n in segment.columns if n > x)
    step = even_step(segment.number("delta_x", first))
    stamps = segment.values[x]
    filled = np.flatnonzero(np.isfinite(stamps))
    if step is None or filled.size < 2:
        return segment.samples.get(column, 0) >= segment.rows
    span = float(stamps[filled[-1]] - stamps[filled[0]])
    return abs(span - step * float(filled[-1] - filled[0])) <= 0.5 * step


def _channel(name: str, unit: str | None, pieces: Sequence[_Piece], where: str) -> SourceChannel:
    short = split_unit(name)[0]
    aliases = (short,) if short != name else ()
    values = np.concatenate([piece.values for piece in pieces])
    before = np.cumsum([0, *(piece.values.size for piece in pieces)])
    bad = tuple(
        BadValue(value.row + int(shift), value.line, value.text)
        for piece, shift in zip(pieces, before[:-1], strict=True)
        for value in piece.bad
    )
    reader = array_reader(values)
    first = pieces[0]
    if len(pieces) == 1 and first.stamps is None:
        return SourceChannel(
            name, values.size, reader, unit, t0_s=first.start_s, dt_s=first.step_s, aliases=aliases, bad=bad
        )
    stamps = _joined(name, pieces, where)
    step = _even(stamps, first.step_s) if stamps is not None else None
    if stamps is None or step is not None:
        start = float(stamps[0]) if stamps is not None and stamps.size else 0.0
        return SourceChannel(name, values.size, reader, unit, t0_s=start, dt_s=step, aliases=aliases, bad=bad)
    time = SourceChannel(f"{name}, X", stamps.size, array_reader(stamps), "s")
    return SourceChannel(name, values.size, reader, unit, aliases=aliases, bad=bad, time=time)


def _joined(name: str, pieces: Sequence[_Piece], where: str) -> Floats | None:
    """Put the stamps of all segments on one clock; None where a segment has none.

    X may go on through the file or begin anew in each segment: then the instants the headings state tell
    how far the segments are apart.
    """
    joined: list[Floats] = []
    last = -np.inf
    for piece in pieces:
        stamps = piece.times()
        if stamps is None:
            return None
        if not stamps.size:
            continue
        if not stamps[0] > last:
            shift = _between(pieces[0], piece)
            stamps = stamps + shift if shift is not None else stamps
            if not stamps[0] > last:
                raise FirstliftError(
                    Problem(
                        "REC-013",
                        f"the segments of channel '{name}' overlap in time or do not say when they began",
                        where,
                        "segments that follow one another",
                        "Export the segments into files of their own",
                    )
                )
        joined.append(stamps)
        last = float(stamps[-1])
    return np.concatenate(joined) if joined else np.empty(0)


def _between(first: _Piece, later: _Piece) -> float | None:
    if first.started is None or later.started is None:
        return None
    return (later.started - first.started).total_seconds()


def _even(stamps: Floats, step: float | None) -> float | None:
    if step is None or not stamps.size:
        return None
    off = np.abs(stamps - stamps[0] - np.arange(stamps.size) * step)
    return step if float(off.max()) <= 0.01 * step else None


def _x_channels(segments: Sequence[Segment]) -> list[SourceChannel]:
    """Give the columns of X values as channels: "X_Value", or one beside each channel, named after it."""
    found: dict[str, list[Floats]] = {}
    for segment in segments:
        places = [n for n, name in enumerate(segment.names) if name.lower() == _X]
        for place in places:
            beside = next((segment.names[n] for n in segment.columns if n > place), "")
            name = segment.names[place] if len(places) == 1 else f"{segment.names[place]} {beside}"
            if np.isfinite(segment.values[place]).any():
                found.setdefault(name, []).append(segment.values[place])
    joined = {name: np.concatenate(parts) for name, parts in found.items()}
    return [SourceChannel(name, values.size, array_reader(values)) for name, values in joined.items()]


def _from_the_first(channels: Sequence[SourceChannel]) -> tuple[SourceChannel, ...]:
    """Count from the earliest start where X runs on the calendar: a fine step would drown in so large a number."""
    starts = [channel.t0_s for channel in channels if channel.dt_s is not None]
    earliest = min(starts, default=0.0)
    if abs(earliest) < _FAR_S:
        return tuple(channels)
    return tuple(
        dataclasses.replace(channel, t0_s=channel.t0_s - earliest) if channel.dt_s is not None else channel
        for channel in channels
    )
