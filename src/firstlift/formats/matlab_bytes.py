"""The bytes of a MATLAB variable, plain or packed, read forward; a packed one is never unpacked whole."""

from __future__ import annotations

import zlib
from dataclasses import dataclass, field
from typing import Any, BinaryIO, Protocol

_AT_ONCE = 1 << 18
_KEPT = 1 << 16  # readers step back by a sample between stretches


class Run(Protocol):
    """A run of bytes of which any part can be read; less is given where the file was cut off."""

    def read(self, at: int, count: int) -> bytes:
        """Give ``count`` bytes from ``at`` on, or as many as there are."""
        ...

    def again(self) -> Run:
        """Give the same run for another reader, with a place of its own."""
        ...


@dataclass
class Plain:
    """Bytes of the file from ``start`` on, ``size`` of them."""

    file: BinaryIO
    start: int
    size: int

    def read(self, at: int, count: int) -> bytes:
        """Give ``count`` bytes from ``at`` on, or as many as there are."""
        self.file.seek(self.start + at)
        return self.file.read(max(0, min(count, self.size - at)))

    def again(self) -> Plain:
        """Give the same run for another reader."""
        return Plain(self.file, self.start, self.size)


@dataclass
class Packed:
    """Bytes that are deflated in the file: unpacked from the front on, the last ones kept."""

    file: BinaryIO
    start: int
    size: int
    window: bytes = b""
    window_at: int = 0
    taken: int = 0
    stream: Any = field(default_factory=zlib.decompressobj)

    def read(self, at: int, count: int) -> bytes:
        """Give ``count`` bytes from ``at`` on, or as many as there are; zlib.error where they are damaged."""
        if at < self.window_at:
            self.window, self.window_at, self.taken, self.stream = b"", 0, 0, zlib.decompressobj()
        end = self.window_at + len(self.window)
        parts = [self.window[at - self.window_at :]]
        held = len(parts[0])
        while held < count and (more := self._more()):
            self.window = (self.window + more)[-_KEPT:]
            wanted = more[max(0, at - end) :]
            end += len(more)
            parts.append(wanted)
            held += len(wanted)
        self.window_at = end - len(self.window)
        return b"".join(parts)[:count]

    def _more(self) -> bytes:
        """Unpack a little more; b"" at the end."""
        while not self.stream.eof:
            packed = self.stream.unconsumed_tail
            if not packed:
                self.file.seek(self.start + self.taken)
                packed = self.file.read(min(_AT_ONCE, self.size - self.taken))
                self.taken += len(packed)
                if not packed:
                    return b""
            more = self.stream.decompress(packed, _AT_ONCE)
            if more:
                return more
        return b""

    def again(self) -> Packed:
        """Give the same run for another reader, at its beginning."""
        return Packed(self.file, self.start, self.size)
