"""Signals as they came from the file, before anything is done to them.

Arrays are read-only. A channel holds either levels (one value an instant) or, for a sound waveform, the
mean square of blocks: a 1 MHz waveform is never held whole (see `reduce_waveform`).
"""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from firstlift.core.errors import Finding
from firstlift.core.job import ChannelSpec

Floats = NDArray[np.float64]


def frozen(values: object) -> Floats:
    """Give a read-only float64 copy.

    Parameters
    ----------
    values : array-like

    Returns
    -------
    ndarray, float64, not writeable
    """
    array = np.array(values, dtype=np.float64)
    array.flags.writeable = False
    return array


@dataclass(frozen=True, slots=True, eq=False)
class RawChannel:
    """One column: seconds on the recording's own clock, and values in the column's own unit.

    ``time_s`` (n,) rises strictly and is finite; ``values`` (n,) may hold NaN where the file had a gap.
    For a waveform reduced by blocks, ``values`` is the mean square of each block about the block's mean
    (unit squared), ``time_s`` the block's centre and ``block_s`` its length; else ``block_s`` is 0.
    ``samples`` counts the samples in the file.
    """

    spec: ChannelSpec
    time_s: Floats
    values: Floats
    samples: int
    block_s: float = 0.0
    peak_squared: Floats | None = None


@dataclass(frozen=True, slots=True, eq=False)
class Recording:
    """All channels of one file that the job sheet names, with the file's hash and what reading found."""

    sha256: str
    channels: tuple[RawChannel, ...]
    findings: tuple[Finding, ...] = ()

    @property
    def duration_s(self) -> float:
        """Longest time from first to last sample of any channel, [s]."""
        spans = [float(c.time_s[-1] - c.time_s[0]) for c in self.channels if c.time_s.size > 1]
        return max(spans, default=0.0)

    @property
    def samples(self) -> int:
        """Most samples that any one channel has in the file."""
        return max((c.samples for c in self.channels), default=0)


def reduce_waveform(
    read: Callable[[int, int], NDArray[np.floating] | NDArray[np.integer]],
    length: int,
    *,
    dt_s: float,
    t0_s: float,
    block_s: float,
) -> tuple[Floats, Floats, Floats]:
    """Reduce a sound waveform to the mean square of short blocks, a stretch at a time.

    The first difference is taken before squaring: it is a high-pass without state, so that drift of the
    amplifier and hum do not pass for sound, and blocks can be read one stretch after another.

    Parameters
    ----------
    read : callable (start, stop) -> ndarray
        Gives raw samples start to stop (exclusive).
    length : int
        Samples in the channel.
    dt_s, t0_s : float, [s]
        Sampling step and time of the first sample.
    block_s : float, [s]
        Wanted length of a block; at least two samples are taken.

    Returns
    -------
    time_s, mean_square, peak_square : ndarray (m,)
        Centre of each block; mean and largest square of the differenced signal there, in the channel's
        own unit squared.
    """
    size = max(2, round(block_s / dt_s))
    blocks = length // size
    mean_square = np.empty(blocks)
    peak_square = np.empty(blocks)
    stretch = max(1, 2_000_000 // size)
    for first in range(0, blocks, stretch):
        last = min(blocks, first + stretch)
        start = first * size
        raw = np.asarray(read(max(0, start - 1), last * size), dtype=np.float64)
        step = np.diff(raw) if start else np.diff(raw, prepend=raw[:1])
        square = np.square(step).reshape(last - first, size)
        mean_square[first:last] = square.mean(axis=1)
        peak_square[first:last] = square.max(axis=1)
    time_s = t0_s + (np.arange(blocks) * size + (size - 1) / 2.0) * dt_s
    return frozen(time_s), frozen(mean_square), frozen(peak_square)


def worst_first(findings: Iterable[Finding]) -> tuple[Finding, ...]:
    """Order findings: gravest first, then by pull, keeping the order they were made in.

    Parameters
    ----------
    findings : iterable of Finding

    Returns
    -------
    tuple of Finding
    """
    rank = {"severe": 0, "warning": 1, "info": 2}
    return tuple(sorted(findings, key=lambda f: (rank[f.severity], f.pull or 0)))
