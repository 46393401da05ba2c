"""WAV files: sound cards and acoustic recorders, integers of 8 to 32 bits or floats, any number of channels.

Values are given as shares of full scale (integers divided by their largest); the file states no unit. The
chunks are read here and not by the standard library's reader, which refuses floats and trusts the stated sizes: those
of a recorder that crashed say nothing or too much, and what was written is then read to the tear.
"""

from __future__ import annotations

import struct
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any, BinaryIO

import numpy as np
from numpy.typing import NDArray

from firstlift.core.errors import FirstliftError, Problem
from firstlift.formats.seam import Guess, Reader, Source, SourceChannel, damaged, even_step

NAME = "WAV"
_MARKS = (b"RIFF", b"RF64", b"BW64")
_PCM, _FLOAT, _EXTENSIBLE = 1, 3, 0xFFFE
_OTHER = {2: "ADPCM", 6: "A-law", 7: "mu-law", 17: "IMA ADPCM", 49: "GSM", 80: "MPEG", 85: "MP3"}
_GUID_TAIL = bytes.fromhex("000000001000800000aa00389b71")
_UNKNOWN_SIZE = 0xFFFFFFFF
_FRAMES_AT_ONCE = 500_000


def sniff(head: bytes, name: str) -> Guess:
    """Say whether the first bytes are a WAV file's, and why.

    Parameters
    ----------
    head : bytes
    name : str

    Returns
    -------
    Guess
    """
    if head[:4] in _MARKS and (head[8:12] == b"WAVE" or len(head) < 12):
        return Guess(NAME, 1.0, f"begins with '{head[:4].decode()}' and 'WAVE'")
    ending = ", though its name says so" if name.lower().endswith(".wav") else ""
    return Guess(NAME, 0.0, f"does not begin with 'RIFF' and 'WAVE'{ending}")


@dataclass(frozen=True, slots=True)
class _Chunk:
    name: bytes
    start: int
    size: int  # as stated
    there: int  # bytes of it that are in the file


@dataclass(frozen=True, slots=True)
class _Layout:
    """How samples are coded."""

    coding: int
    channels: int
    rate_hz: int
    frame_bytes: int
    bits: int

    @property
    def sample_bytes(self) -> int:
        return self.frame_bytes // self.channels


def open_file(path: Path) -> Source:
    """Open a WAV file.

    Parameters
    ----------
    path : Path

    Returns
    -------
    Source
        Channels "channel 1" and on, in full scales, at the file's rate; read from the file when asked for.

    Raises
    ------
    FirstliftError
        REC-001 cannot be read, REC-003 a coding that is not read, REC-004 damaged or cut off before its samples.
    """
    try:
        file = path.open("rb")
    except OSError as error:
        raise FirstliftError(
            Problem("REC-001", f"the recording cannot be read: {error.strerror}", path.name)
        ) from error
    try:
        size = path.stat().st_size
        layout, data, torn = _find(file, size, path.name)
    except FirstliftError:
        file.close()
        raise
    except (OSError, struct.error, ValueError) as error:
        file.close()
        raise damaged(NAME, path.name, error) from error
    frames = data.there // layout.frame_bytes
    step = even_step(1.0 / layout.rate_hz if layout.rate_hz else None)
    channels = tuple(
        SourceChannel(f"channel {n + 1}", frames, _reader(file, layout, data.start, n, path.name), dt_s=step)
        for n in range(layout.channels)
    )
    return Source(NAME, channels, torn=torn, on_close=file.close)


def _find(file: BinaryIO, size: int, where: str) -> tuple[_Layout, _Chunk, bool]:
    """Find the samples, how they are coded, and whether they end before the file says."""
    layout: _Layout | None = None
    wide: int | None = None
    for chunk in _chunks(file, size):
        if chunk.name == b"ds64" and chunk.there >= 16:
            file.seek(chunk.start + 8)
            (wide,) = struct.unpack("<Q", file.read(8))
        elif chunk.name == b"fmt ":
            file.seek(chunk.start)
            layout = _layout(file.read(min(chunk.there, 64)), where)
        elif chunk.name == b"data":
            if layout is None:
                raise damaged(NAME, where, "its samples come before the description of how they are coded")
            file.seek(chunk.start)
            return layout, *_samples(chunk, layout, wide, size - chunk.start, file.read(8))
    missing = "says how its samples are coded" if layout is None else "holds any samples"
    raise damaged(NAME, where, f"it ends or was cut off before it {missing}")


def _chunks(file: BinaryIO, size: int) -> Iterator[_Chunk]:
    at = 12
    while at + 8 <= size:
        file.seek(at)
        name, stated = struct.unpack("<4sI", file.read(8))
        yield _Chunk(name, at + 8, stated, min(stated, size - at - 8))
        at += 8 + stated + stated % 2


def _samples(chunk: _Chunk, layout: _Layout, wide: int | None, rest: int, head: bytes) -> tuple[_Chunk, bool]:
    """Give the chunk of samples as far as it was written, and whether it is torn."""
    stated = wide if chunk.size == _UNKNOWN_SIZE and wide is not None else chunk.size
    # a recorder fills in the size when it closes the file: none, though samples follow, means it never did
    never_closed = stated > rest or (stated == 0 and rest >= layout.frame_bytes and not _is_chunk(head, rest))
    there = rest if never_closed else stated
    return _Chunk(chunk.name, chunk.start, stated, there), never_closed or there % layout.frame_bytes != 0


def _is_chunk(head: bytes, rest: int) -> bool:
    """Tell whether another chunk follows: four letters, and a size that fits into the rest of the file."""
    if len(head) < 8 or not all(32 <= byte < 127 for byte in head[:4]):
        return False
    return 8 + struct.unpack("<I", head[4:8])[0] <= rest


def _layout(body: bytes, where: str) -> _Layout:
    if len(body) < 16:
        raise damaged(NAME, where, "it was cut off where it says how its samples are coded")
    coding, channels, rate_hz, _, frame_bytes, bits = struct.unpack("<HHIIHH", body[:16])
    if coding == _EXTENSIBLE and len(body) >= 40 and body[26:40] == _GUID_TAIL:
        (coding,) = struct.unpack("<H", body[24:26])
    if coding not in (_PCM, _FLOAT):
        what = _OTHER.get(coding, f"number {coding}")
        raise FirstliftError(
            Problem(
                "REC-003", f"the WAV file is coded as {what}", where, "plain samples (PCM or float)",
                "Export it uncompressed",
            )
        )  # fmt: skip
    sizes = (1, 2, 3, 4) if coding == _PCM else (4, 8)
    if not channels or frame_bytes % channels or frame_bytes // channels not in sizes:
        raise damaged(NAME, where, f"{channels} channels of {bits} bits do not fit frames of {frame_bytes} bytes")
    if not rate_hz:
        raise damaged(NAME, where, "its sampling rate is 0 Hz")
    return _Layout(coding, channels, rate_hz, frame_bytes, bits)


def _reader(file: BinaryIO, layout: _Layout, offset: int, channel: int, where: str) -> Reader:
    def read(start: int, stop: int) -> NDArray[Any]:
        values = np.empty(max(0, stop - start), dtype=np.float32 if layout.sample_bytes < 4 else np.float64)
        for first in range(start, stop, _FRAMES_AT_ONCE):
            last = min(stop, first + _FRAMES_AT_ONCE)
            try:
                file.seek(offset + first * layout.frame_bytes)
                raw = file.read((last - first) * layout.frame_bytes)
            except (OSError, ValueError) as error:
                raise damaged(NAME, where, error) from error
            if len(raw) != (last - first) * layout.frame_bytes:
                raise damaged(NAME, where, f"it became shorter while it was read, at sample {first}")
            frames = np.frombuffer(raw, dtype=np.uint8).reshape(last - first, layout.channels, layout.sample_bytes)
            values[first - start : last - start] = _decoded(frames[:, channel], layout)
        return values

    return read


def _decoded(raw: NDArray[np.uint8], layout: _Layout) -> NDArray[Any]:
    """Give one channel's bytes (n, width), lowest first, as shares of full scale."""
    width = layout.sample_bytes
    if layout.coding == _FLOAT:
        with np.errstate(invalid="ignore"):  # a float that is no number may be told as such when it is widened
            return np.ascontiguousarray(raw).view(f"<f{width}")[:, 0].astype(np.float64)
    if width == 1:  # 8 bits alone are stored without sign, about 128
        return (raw[:, 0].astype(np.float32) - 128.0) / 128.0
    whole = np.zeros((raw.shape[0], 4), dtype=np.uint8)
    whole[:, 4 - width :] = raw
    return whole.view("<i4")[:, 0] / 2.0**31
