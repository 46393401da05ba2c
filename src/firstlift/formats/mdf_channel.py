"""One channel of an MDF 4 record: where its bits stand, how they are coded, and how they become numbers."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from firstlift.formats.mdf_blocks import Block, Blocks
from firstlift.formats.mdf_conversion import Conversion, conversion_at
from firstlift.formats.mdf_records import Records
from firstlift.formats.seam import FOREIGN, Reader, damaged

_FIXED, _MASTER, _VIRTUAL_MASTER, _VIRTUAL = 0, 2, 3, 6
_TIME = 1
_FLOATS = (4, 5)
_SIGNED = (2, 3)
_BIG_ENDIAN = (1, 3, 5)
_ALL_INVALID, _MAY_BE_INVALID = 1, 2
_BYTES_AT_ONCE = 1 << 24


@dataclass(frozen=True, slots=True)
class Field:
    """A channel in a record: ``width`` bytes from ``offset``, of these ``bits`` from bit ``shift`` on."""

    name: str
    unit: str
    conversion: Conversion
    coding: int
    offset: int
    shift: int
    bits: int
    invalid_bit: int | None
    is_index: bool
    is_time: bool
    why_not: str

    @property
    def width(self) -> int:
        """Bytes that the channel's bits lie in."""
        return (self.shift + self.bits + 7) // 8


def field_of(blocks: Blocks, block: Block) -> Field:
    """Read a channel's block.

    Parameters
    ----------
    blocks : Blocks
    block : Block
        A CN block.

    Returns
    -------
    Field

    Raises
    ------
    BlockError
        The block is too short, or its conversion is not there.
    """
    kind, sync, coding, shift, offset, bits, flags, invalid = map(int, block.unpack("BBBBIIII"))
    is_index = kind in (_VIRTUAL_MASTER, _VIRTUAL)
    return Field(
        blocks.text(block.link(2)) or f"channel at byte {block.at}",
        blocks.text(block.link(6)),
        conversion_at(blocks, block.link(4)),
        coding,
        offset,
        shift,
        bits,
        invalid if flags & _MAY_BE_INVALID else None,
        is_index,
        kind in (_MASTER, _VIRTUAL_MASTER) and sync == _TIME,
        _why_not(kind, coding, shift, bits, flags, made_of_others=bool(block.link(1))),
    )


def _why_not(kind: int, coding: int, shift: int, bits: int, flags: int, *, made_of_others: bool) -> str:
    """Say why a channel cannot be read as numbers, or ""."""
    if kind in (_VIRTUAL_MASTER, _VIRTUAL):
        return ""
    if kind not in (_FIXED, _MASTER) or coding > max(_FLOATS):
        return "holds texts or bytes, not numbers"
    if made_of_others:
        return "is an array or made of other channels"
    if flags & _ALL_INVALID:
        return "is marked as invalid throughout"
    if coding in _FLOATS:
        return "" if bits in (16, 32, 64) and not shift else f"holds floats of {bits} bits"
    return "" if bits > 0 and shift + bits <= 64 else f"holds integers of {bits} bits"


def reader_of(field: Field, records: Records, record_bytes: int, id_bytes: int, data_bytes: int, where: str) -> Reader:
    """Give a reader of a channel's values in its own unit; NaN where the record marks one as invalid.

    Parameters
    ----------
    field : Field
    records : Records
    record_bytes : int
        Bytes of a whole record.
    id_bytes, data_bytes : int
        Bytes of its number and of its channels; what follows are the marks of invalid values.
    where : str

    Returns
    -------
    callable (start, stop) -> ndarray
    """
    at_once = max(1, _BYTES_AT_ONCE // record_bytes)

    def read(start: int, stop: int) -> NDArray[Any]:
        if stop <= start:
            return np.empty(0)
        try:
            parts = [piece(at, min(stop, at + at_once)) for at in range(start, stop, at_once)]
        except FOREIGN as error:
            raise damaged("MDF", where, f"channel '{field.name}': {error}") from error
        return parts[0] if len(parts) == 1 else np.concatenate(parts)

    def piece(start: int, stop: int) -> NDArray[Any]:
        if field.is_index:
            return _converted(np.arange(start, stop, dtype=np.float64), field.conversion)
        raw = records.read(start * record_bytes, stop * record_bytes)
        frames = np.frombuffer(raw, dtype=np.uint8).reshape(stop - start, record_bytes)
        first = id_bytes + field.offset
        values = _converted(_decoded(frames[:, first : first + field.width], field), field.conversion)
        mark = None if field.invalid_bit is None else id_bytes + data_bytes + field.invalid_bit // 8
        if mark is None or field.invalid_bit is None or mark >= record_bytes:
            return values
        invalid = (frames[:, mark] >> (field.invalid_bit % 8)) & 1 == 1
        return np.where(invalid, np.nan, values) if invalid.any() else values

    return read


def _decoded(raw: NDArray[np.uint8], field: Field) -> NDArray[Any]:
    """Give the numbers in bytes (n, width)."""
    if field.coding in _BIG_ENDIAN:
        raw = raw[:, ::-1]
    if field.coding in _FLOATS:
        return np.ascontiguousarray(raw).view(f"<f{field.width}")[:, 0]
    signed = field.coding in _SIGNED
    if not field.shift and field.bits in (8, 16, 32, 64):
        return np.ascontiguousarray(raw).view(f"<{'i' if signed else 'u'}{field.width}")[:, 0]
    wide = np.zeros((raw.shape[0], 8), dtype=np.uint8)
    wide[:, : field.width] = raw
    # up to the top of 64 bits, then down again: cuts off what is not the channel's and carries the sign
    up = wide.view("<u8")[:, 0] << np.uint64(64 - field.shift - field.bits)
    return up.view(np.int64) >> np.int64(64 - field.bits) if signed else up >> np.uint64(64 - field.bits)


def _converted(raw: NDArray[Any], conversion: Conversion) -> NDArray[Any]:
    if conversion.apply is None:
        return raw
    with np.errstate(all="ignore"):
        return conversion.apply(raw.astype(np.float64))
