"""Blocks of an MDF 4 file: each has a mark, a length, links to others and data (ASAM MDF 4.1, from memory)."""

from __future__ import annotations

import html
import re
import struct
from collections.abc import Iterator
from dataclasses import dataclass, field
from typing import BinaryIO

HEAD_BYTES = 24
_MOST_BLOCKS = 1_000_000
_MOST_TEXT_BYTES = 1_000_000
_MOST_HEADING_BYTES = 1 << 24


class BlockError(ValueError):
    """A block that is not there or is none: the file was cut off, or a link lies."""


@dataclass(frozen=True, slots=True)
class Block:
    """One block without its data, where that may be long: ``start`` and ``length`` say where its data stands."""

    mark: str
    at: int
    links: tuple[int, ...]
    start: int
    length: int
    data: bytes = b""

    def link(self, place: int) -> int:
        """Give a link, 0 where there is none."""
        return self.links[place] if place < len(self.links) else 0

    def unpack(self, form: str, offset: int = 0) -> tuple[float, ...]:
        """Unpack data from ``offset`` on, lowest byte first; BlockError where the block is too short."""
        try:
            return struct.unpack_from("<" + form, self.data, offset)
        except struct.error as error:
            raise BlockError(f"block {self.mark} at byte {self.at} is too short") from error


@dataclass
class Blocks:
    """The blocks of an open file of ``size`` bytes; keeps in mind where blocks were found."""

    file: BinaryIO
    size: int
    seen: set[int] = field(default_factory=set)

    def read(self, at: int, *marks: str) -> Block:
        """Read the block at a byte of the file and hold it to the marks that may stand there.

        Raises
        ------
        BlockError
        """
        if at < HEAD_BYTES or at + HEAD_BYTES > self.size:
            raise BlockError(f"block {' or '.join(marks)} would begin at byte {at} of {self.size}")
        self.file.seek(at)
        head = self.file.read(HEAD_BYTES)
        name, length, count = struct.unpack("<4s4xQQ", head)
        mark = name[2:].decode("ascii", "replace")
        if name[:2] != b"##" or mark not in marks:
            raise BlockError(f"byte {at} should begin a block {' or '.join(marks)}")
        start = at + HEAD_BYTES + 8 * count
        long = mark in ("DT", "SD", "RD", "DV", "DZ", "DI")
        if start > self.size or (not long and at + length > self.size):
            raise BlockError(f"block {mark} at byte {at} ends behind the file")
        links = struct.unpack(f"<{count}Q", self.file.read(8 * count)) if count else ()
        rest = max(0, at + length - start)
        wanted = 0 if long else min(rest, _MOST_HEADING_BYTES)
        self.seen.add(at)
        return Block(mark, at, links, start, rest, self.file.read(wanted))

    def chain(self, at: int, mark: str) -> Iterator[Block]:
        """Follow the blocks that name one another by their first link.

        Raises
        ------
        BlockError
            A link leads out of the file, to something else, or in a circle.
        """
        passed: set[int] = set()
        while at:
            if at in passed or len(passed) > _MOST_BLOCKS:
                raise BlockError(f"the blocks {mark} go round in a circle at byte {at}")
            passed.add(at)
            block = self.read(at, mark)
            yield block
            at = block.link(0)

    def text(self, at: int) -> str:
        """Read a text; "" where there is none or it cannot be read: a name lost is not a recording lost."""
        if not at:
            return ""
        try:
            block = self.read(at, "TX", "MD")
        except BlockError:
            return ""
        text = block.data[:_MOST_TEXT_BYTES].split(b"\0", 1)[0].decode("utf-8", "replace").strip()
        if block.mark == "TX":
            return text
        inner = re.search(r"<TX\b[^>]*>(.*?)</TX>", text, re.DOTALL)
        return html.unescape(inner[1]).strip() if inner else ""
