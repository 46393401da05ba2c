"""The records of an MDF 4 data group as one run of bytes, whatever pieces it is stored in, packed or not."""

from __future__ import annotations

import bisect
import itertools
import struct
import zlib
from dataclasses import dataclass, field

import numpy as np

from firstlift.formats.mdf_blocks import HEAD_BYTES, Block, BlockError, Blocks

_ZIP_HEAD = struct.Struct("<2sBxIQQ")
_MOST_RATIO = 1100  # deflate packs no tighter


@dataclass(frozen=True, slots=True)
class _Piece:
    """Bytes of the file: plain, or packed (``packed`` bytes, transposed in rows of ``turned`` bytes if not 0)."""

    start: int
    length: int
    packed: int = 0
    turned: int = 0


@dataclass
class Records:
    """A run of record bytes. ``torn``: what the file states of it is not all there."""

    blocks: Blocks
    pieces: list[_Piece]
    torn: bool = False
    ends: list[int] = field(init=False)
    unpacked: tuple[int, bytes] = (-1, b"")

    def __post_init__(self) -> None:
        self.ends = list(itertools.accumulate(piece.length for piece in self.pieces))

    @property
    def length(self) -> int:
        """Bytes there are."""
        return self.ends[-1] if self.ends else 0

    def read(self, start: int, stop: int) -> bytes:
        """Give bytes start to stop (exclusive) of the run.

        Raises
        ------
        BlockError
            A packed piece is damaged or the file became shorter.
        """
        parts: list[bytes] = []
        number = bisect.bisect_right(self.ends, start)
        while start < stop and number < len(self.pieces):
            piece = self.pieces[number]
            begin = self.ends[number] - piece.length
            last = min(stop, self.ends[number])
            if piece.packed:
                parts.append(self._unpacked(number)[start - begin : last - begin])
            else:
                self.blocks.file.seek(piece.start + start - begin)
                parts.append(self.blocks.file.read(last - start))
            start, number = last, number + 1
        return b"".join(parts)

    def _unpacked(self, number: int) -> bytes:
        """Unpack a piece; the last one is kept, because the next stretch mostly begins in it."""
        if self.unpacked[0] != number:
            piece = self.pieces[number]
            data = _unpack(self.blocks, piece)
            if len(data) < piece.length:
                raise BlockError(f"packed samples at byte {piece.start} are damaged")
            if piece.turned:
                rows = len(data) // piece.turned
                square = np.frombuffer(data, dtype=np.uint8, count=rows * piece.turned).reshape(piece.turned, rows)
                data = square.T.tobytes() + data[rows * piece.turned :]
            self.unpacked = (number, data)
        return self.unpacked[1]


def _unpack(blocks: Blocks, piece: _Piece) -> bytes:
    blocks.file.seek(piece.start)
    packed = blocks.file.read(piece.packed)
    try:
        return zlib.decompressobj().decompress(packed, piece.length) if piece.length else b""
    except zlib.error as error:
        raise BlockError(f"packed samples at byte {piece.start} are damaged: {error}") from error


def records_at(blocks: Blocks, at: int, *, open_end: bool) -> Records:
    """Find the pieces of a data group's records.

    Parameters
    ----------
    blocks : Blocks
    at : int
        The data group's link to its data; 0 for none.
    open_end : bool
        The file was never closed: the length of its last block may not have been filled in.

    Returns
    -------
    Records
        Up to the place where the file was cut off.

    Raises
    ------
    BlockError
        The records are stored in a way that is not read.
    """
    if not at:
        return Records(blocks, [])
    pieces: list[_Piece] = []
    torn = False
    for block in _data_blocks(blocks, at):
        if block is None:
            torn = True
            break
        piece, cut = _packed(blocks, block) if block.mark == "DZ" else _plain(blocks, block, open_end=open_end)
        torn = torn or cut
        if piece.length:
            pieces.append(piece)
        if cut:
            break
    return Records(blocks, pieces, torn)


def _data_blocks(blocks: Blocks, at: int) -> list[Block | None]:
    """Give the blocks of data in their order; None stands for those that cannot be reached."""
    try:
        first = blocks.read(at, "DT", "DZ", "DL", "HL", "LD")
        if first.mark == "LD":
            raise NotImplementedError
        if first.mark in ("DT", "DZ"):
            return [first]
        lists = blocks.chain(first.link(0) if first.mark == "HL" else at, "DL")
    except BlockError:
        return [None]
    found: list[Block | None] = []
    try:
        for listed in lists:
            found.extend(blocks.read(link, "DT", "DZ") for link in listed.links[1:] if link)
    except BlockError:
        found.append(None)
    return found


def _plain(blocks: Blocks, block: Block, *, open_end: bool) -> tuple[_Piece, bool]:
    there = min(block.length, blocks.size - block.start)
    if open_end and not block.length:
        after = min((at for at in blocks.seen if at > block.at), default=blocks.size)
        return _Piece(block.start, max(0, after - block.start)), True
    return _Piece(block.start, there), there < block.length


def _packed(blocks: Blocks, block: Block) -> tuple[_Piece, bool]:
    blocks.file.seek(block.start)
    head = blocks.file.read(_ZIP_HEAD.size)
    if len(head) < _ZIP_HEAD.size:
        return _Piece(block.start, 0), True
    _, method, width, length, packed = _ZIP_HEAD.unpack(head)
    if method not in (0, 1):
        raise NotImplementedError
    start = block.at + HEAD_BYTES + _ZIP_HEAD.size
    there = min(packed, blocks.size - start)
    if length > _MOST_RATIO * packed or (method == 1 and not width):
        raise BlockError(f"packed samples at byte {block.at} state a size that cannot be")
    if there == packed:
        return _Piece(start, length, packed, width if method == 1 else 0), False
    if method == 1:  # of a transposed piece no record is whole before its end
        return _Piece(start, 0), True
    begun = _unpack(blocks, _Piece(start, length, there))
    return _Piece(start, len(begun), there), True
