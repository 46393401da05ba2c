"""TDMS files through npTDMS: channels at different rates, read a stretch at a time.

A file that was cut off (a crash while recording) is read to the tear; what was not written is not there.
"""

from __future__ import annotations

import contextlib
import logging
import struct
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

from firstlift.formats.seam import FOREIGN, Guess, Source, SourceChannel, array_reader, damaged, even_step

if TYPE_CHECKING:
    from nptdms import TdmsChannel, TdmsFile

NAME = "TDMS"
_LEAD_BYTES = 28
_BIG_ENDIAN = 1 << 6
_UNIT_KEYS = ("unit_string", "NI_UnitDescription", "unit", "Unit")


def sniff(head: bytes, name: str) -> Guess:
    """Say whether the first bytes are a TDMS file's, and why.

    Parameters
    ----------
    head : bytes
    name : str

    Returns
    -------
    Guess
    """
    if head.startswith(b"TDSm"):
        return Guess(NAME, 1.0, "begins with the mark of a TDMS segment")
    ending = ", though its name says so" if name.lower().endswith(".tdms") else ""
    return Guess(NAME, 0.0, f"does not begin with 'TDSm'{ending}")


def open_file(path: Path) -> Source:
    """Open a TDMS file.

    Parameters
    ----------
    path : Path

    Returns
    -------
    Source
        Its channels are read from the file when asked for; close it afterwards.

    Raises
    ------
    FirstliftError
        REC-004 the file's structure cannot be read.
    """
    from nptdms import TdmsFile

    try:
        # read through a file object: a .tdms_index left beside it may belong to a longer file
        handle = path.open("rb")
    except OSError as error:
        raise damaged(NAME, path.name, error.strerror) from error
    try:
        with _quiet():
            file = TdmsFile.open(handle)
            channels = _channels(file, path.name)
        torn = _is_torn(path)
    except FOREIGN as error:
        handle.close()
        raise damaged(NAME, path.name, error) from error
    if not channels:
        handle.close()
        raise damaged(
            NAME, path.name, "it holds no channels" + (" before the place where it was cut off" if torn else "")
        )
    return Source(NAME, channels, torn=torn, on_close=handle.close)


@contextlib.contextmanager
def _quiet() -> Iterator[None]:
    """Hold the library's warnings back while it reads: the tear is told as a finding, once."""
    from nptdms.log import log_manager

    level = log_manager.log_level
    log_manager.set_level(max(level, logging.ERROR))
    try:
        yield
    finally:
        log_manager.set_level(level)


def _channels(file: TdmsFile, where: str) -> tuple[SourceChannel, ...]:
    raw = [channel for group in file.groups() for channel in group.channels()]
    starts = [start for channel in raw if (start := _start(channel)) is not None]
    earliest = min(starts, default=None)
    return tuple(_channel(channel, earliest, where) for channel in raw)


def _start(channel: TdmsChannel) -> np.datetime64 | None:
    """Give the channel's own start; the year-1904 default of writers that set none counts as none."""
    start = channel.properties.get("wf_start_time")
    if not isinstance(start, np.datetime64) or np.isnat(start) or start < np.datetime64("1971-01-01"):
        return None
    return start


def _channel(channel: TdmsChannel, earliest: np.datetime64 | None, where: str) -> SourceChannel:
    step = _number(channel, "wf_increment")
    start = _start(channel)
    offset = 0.0 if start is None or earliest is None else float((start - earliest) / np.timedelta64(1, "ns")) * 1e-9
    unit = next((str(channel.properties[key]) for key in _UNIT_KEYS if channel.properties.get(key)), None)
    dtype = np.dtype(channel.dtype)
    why_not = "" if dtype.kind in "iufbM" else "holds no plain numbers"
    length = len(channel)
    reader = array_reader(np.empty(0)) if why_not else _reader(channel, where)
    return SourceChannel(
        channel.name,
        length,
        reader,
        unit,
        t0_s=offset + (_number(channel, "wf_start_offset") or 0.0),
        dt_s=even_step(step),
        aliases=(f"{channel.group_name}/{channel.name}",),
        is_instant=dtype.kind == "M",
        why_not=why_not,
    )


def _number(channel: TdmsChannel, key: str) -> float | None:
    value = channel.properties.get(key)
    return float(value) if isinstance(value, (int, float, np.number)) and np.isfinite(value) else None


def _reader(channel: TdmsChannel, where: str) -> Callable[[int, int], NDArray[Any]]:
    def read(start: int, stop: int) -> NDArray[Any]:
        if stop <= start:
            return np.empty(0)
        try:
            with _quiet():
                values = np.asarray(channel.read_data(start, stop - start))
        except FOREIGN as error:
            raise damaged(NAME, where, error) from error
        if values.size != stop - start:
            raise damaged(NAME, where, f"channel '{channel.name}' ends before sample {stop}")
        return values

    return read


def _is_torn(path: Path) -> bool:
    """Tell whether the last segment is shorter than its lead-in says, or was never closed.

    Looked up in the lead-ins themselves: a file cut off inside a lead-in or a segment's description reads
    as if it ended with the segment before.
    """
    size = path.stat().st_size
    at = 0
    with path.open("rb") as raw:
        while at < size:
            raw.seek(at)
            lead = raw.read(_LEAD_BYTES)
            if len(lead) < _LEAD_BYTES:
                return True
            big_endian = lead[4] & _BIG_ENDIAN
            (length,) = struct.unpack(">Q" if big_endian else "<Q", lead[12:20])
            at += _LEAD_BYTES + length  # of a segment never closed the length is all ones
    return at > size
