"""Fewer points to draw, with every peak and every gap kept; and the bytes in which they go to the browser.

A track is one channel ready to be shown: times in float64, values in float32 (seven digits are more than a screen
shows), a gap as NaN. A window is cut into stretches of equal sample count; each is told by its lowest and its highest
sample, at their own times, and by the first sample of a gap in it. Stretches begin at multiples of their length, so
a trace does not flicker while it is moved. Where a window holds few samples, all of them are given.

Bytes of a frame, little-endian, the float64 block first so that it lies on eight bytes:

====================  =================================================================
float64 x 8           layout (1), frame number, time sent, window from, window to,
                      recording from, recording to, channels c          [s]
float64 x 2 c         of each channel: points, samples a stretch (1: every sample is there)
float64 x sum(points) times, channel after channel                      [s]
float32 x sum(points) values in the channel's shown unit, NaN: a gap
====================  =================================================================
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from firstlift.core.recording import Floats

LAYOUT = 1.0
_HEAD = 8
# lowest and highest of each block are found once, so that a wide window does not read every sample again
_BLOCK = 64
_WIDE = 8 * _BLOCK
# as the analysis holds it: three lost samples in a row are a gap
_GAP_STEPS = 3.5
_STRETCH = 1 << 20

Singles = NDArray[np.float32]
Index = NDArray[np.intp]


@dataclass(frozen=True, slots=True, eq=False)
class Track:
    """One channel to be shown.

    ``time_s`` (n,) does not fall; ``values`` (n,) in ``unit`` (as it is shown), NaN in gaps; ``samples`` counts
    those of the file. ``low``, ``high`` and ``gap`` (m,) are the samples that tell each block of 64; ``gap`` is -1
    where a block has none. ``lowest`` and ``highest`` (m,) are the values there, infinite in a block without any.
    """

    label: str
    measures: str
    unit: str
    time_s: Floats
    values: Singles
    samples: int
    low: Index
    high: Index
    gap: Index
    lowest: Singles
    highest: Singles

    @property
    def nbytes(self) -> int:
        """Memory that it holds."""
        return self.time_s.nbytes + self.values.nbytes + 3 * self.low.nbytes + 2 * self.lowest.nbytes


@dataclass(frozen=True, slots=True, eq=False)
class Points:
    """What is drawn of one track: ``stretch`` samples are told by each pair of points, 1 if all are there."""

    time_s: Floats
    values: Singles
    stretch: int


@dataclass(frozen=True, slots=True, eq=False)
class Frame:
    """One message to the browser; times in seconds of the recording's clock, ``sent_s`` of any steady clock."""

    number: int
    sent_s: float
    start_s: float
    stop_s: float
    from_s: float
    to_s: float
    points: tuple[Points, ...]


def make_track(label: str, measures: str, unit: str, time_s: Floats, values: Floats, samples: int) -> Track:
    """Make a track: gaps become NaN, blocks are told once.

    Parameters
    ----------
    label, measures, unit : str
        Its column, one of `firstlift.core.job.Measures`, and the unit as shown.
    time_s, values : ndarray (n,)
        Rising times; values with NaN where there are none.
    samples : int
        In the file.

    Returns
    -------
    Track
        A step of more than 3.5 usual steps holds one NaN in its midst.
    """
    breaks = _breaks(time_s)
    if breaks.size:
        middle = 0.5 * (time_s[breaks - 1] + time_s[breaks])
        time_s, values = np.insert(time_s, breaks, middle), np.insert(values, breaks, np.nan)
    with np.errstate(over="ignore"):  # beyond what any instrument gives: shown as a gap
        single = values.astype(np.float32)
    single[~np.isfinite(single)] = np.nan
    parts = [
        _tell(single[start : start + _STRETCH], _BLOCK, start)
        for start in range(0, single.size // _BLOCK * _BLOCK, _STRETCH)
    ]
    low, high, gap = (
        np.concatenate([part[i] for part in parts]) if parts else np.empty(0, dtype=np.intp) for i in range(3)
    )
    lowest, highest = single[low], single[high]
    lowest[np.isnan(lowest)], highest[np.isnan(highest)] = np.inf, -np.inf
    return Track(label, measures, unit, time_s, single, samples, low, high, gap, lowest, highest)


def points_in(track: Track, start_s: float, stop_s: float, width: int) -> Points:
    """Give what is to be drawn of a window: every sample where they are few, else lowest and highest of stretches.

    Parameters
    ----------
    track : Track
    start_s, stop_s : float, [s]
        Both included; the samples next to them are given too, so that the line runs to the edge.
    width : int
        Pixels; 1 or more. At most about three points a pixel are given, and never fewer than one stretch a pixel
        but for rounding up to whole blocks.

    Returns
    -------
    Points
    """
    size = track.time_s.size
    first = max(0, int(np.searchsorted(track.time_s, start_s, side="left")) - 1)
    last = min(size, int(np.searchsorted(track.time_s, stop_s, side="right")) + 1)
    length = _length(last - first, width)
    if length > 1:
        first -= first % length
        last = min(size, -(-last // length) * length)
    return _thinned(track, first, last, length)


def points_between(track: Track, first: int, last: int, stretches: int) -> Points:
    """Give what is to be drawn of samples ``first`` to ``last`` (exclusive), for a trace that grows.

    Parameters
    ----------
    track : Track
    first, last : int
    stretches : int
        1 or more.

    Returns
    -------
    Points
    """
    count = last - first
    return _thinned(track, first, last, -(-count // stretches) if count > 2 * stretches else 1)


def pack(frame: Frame) -> bytes:
    """Give a frame's bytes, in the layout above.

    Parameters
    ----------
    frame : Frame

    Returns
    -------
    bytes
    """
    points = frame.points
    head = [LAYOUT, frame.number, frame.sent_s, frame.start_s, frame.stop_s, frame.from_s, frame.to_s, len(points)]
    sizes = [number for each in points for number in (each.time_s.size, each.stretch)]
    parts = [np.asarray(head + sizes, dtype="<f8"), *(np.asarray(each.time_s, dtype="<f8") for each in points)]
    parts += [np.asarray(each.values, dtype="<f4") for each in points]
    return b"".join(part.tobytes() for part in parts)


def unpack(data: bytes) -> Frame:
    """Read a frame's bytes back.

    Parameters
    ----------
    data : bytes
        As `pack` gives them.

    Returns
    -------
    Frame
    """
    _, number, sent_s, start_s, stop_s, from_s, to_s, channels = np.frombuffer(data, dtype="<f8", count=_HEAD)
    sizes = np.frombuffer(data, dtype="<f8", count=2 * int(channels), offset=8 * _HEAD).reshape(-1, 2)
    counts = sizes[:, 0].astype(int)
    ends = np.cumsum(counts)
    at = 8 * (_HEAD + 2 * int(channels))
    total = int(counts.sum())
    times = np.frombuffer(data, dtype="<f8", count=total, offset=at)
    values = np.frombuffer(data, dtype="<f4", count=total, offset=at + 8 * total)
    points = tuple(
        Points(times[end - count : end], values[end - count : end], int(stretch))
        for end, count, stretch in zip(ends, counts, sizes[:, 1], strict=True)
    )
    return Frame(int(number), float(sent_s), float(start_s), float(stop_s), float(from_s), float(to_s), points)


def span_of(tracks: Sequence[Track]) -> tuple[float, float]:
    """Give from when to when there is anything, [s]; (0, 0) where there is nothing.

    Parameters
    ----------
    tracks : sequence of Track

    Returns
    -------
    from_s, to_s : float
    """
    ends = [(float(track.time_s[0]), float(track.time_s[-1])) for track in tracks if track.time_s.size]
    return (min(a for a, _ in ends), max(b for _, b in ends)) if ends else (0.0, 0.0)


def _breaks(time_s: Floats) -> Index:
    """Give the samples that follow a break in time."""
    if time_s.size < 3:
        return np.empty(0, dtype=np.intp)
    steps = np.diff(time_s)
    return np.flatnonzero(steps > _GAP_STEPS * float(np.median(steps))) + 1


def _length(count: int, width: int) -> int:
    """Give the samples a stretch: one where all can be drawn, whole blocks where they are many."""
    if count <= 2 * width:
        return 1
    length = -(-count // width)
    return length if length < _WIDE else -(-length // _BLOCK) * _BLOCK


def _thinned(track: Track, first: int, last: int, length: int) -> Points:
    if length == 1:
        return Points(track.time_s[first:last], track.values[first:last], 1)
    whole = first + (last - first) // length * length
    if length % _BLOCK == 0 and first % _BLOCK == 0 and length >= _WIDE:
        kept = _of_blocks(track, first // _BLOCK, whole // _BLOCK, length // _BLOCK)
    else:
        kept = _tell(track.values[first:whole], length, first)
    if whole < last:  # the rest is one short stretch
        kept = (*kept, *_tell(track.values[whole:last], last - whole, whole))
    index = np.unique(np.concatenate(kept))
    index = index[index >= 0]
    return Points(track.time_s[index], track.values[index], length)


def _tell(values: Singles, length: int, start: int) -> tuple[Index, Index, Index]:
    """Give lowest, highest and first missing sample of each whole stretch; -1 where none is missing."""
    table = values[: values.size // length * length].reshape(-1, length)
    base = start + length * np.arange(table.shape[0])
    lost = np.isnan(table)
    if not lost.any():
        return base + table.argmin(axis=1), base + table.argmax(axis=1), np.full(base.size, -1)
    low = np.where(lost, np.float32(np.inf), table).argmin(axis=1)
    high = np.where(lost, np.float32(-np.inf), table).argmax(axis=1)
    # a stretch without any value is told by its first sample, which is a gap
    return base + low, base + high, np.where(lost.any(axis=1), base + lost.argmax(axis=1), -1)


def _of_blocks(track: Track, first: int, last: int, blocks: int) -> tuple[Index, Index, Index]:
    """Give the same from blocks that were told already."""

    def table(of: NDArray[Any]) -> NDArray[Any]:
        return of[first:last].reshape(-1, blocks)

    lowest = table(track.lowest).argmin(axis=1)[:, None]
    highest = table(track.highest).argmax(axis=1)[:, None]
    missing = (table(track.gap) >= 0).argmax(axis=1)[:, None]

    def take(of: Index, at: Index) -> Index:
        return np.take_along_axis(table(of), at, axis=1)[:, 0]

    return take(track.low, lowest), take(track.high, highest), take(track.gap, missing)
