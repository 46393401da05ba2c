"""Variables of MATLAB files of versions 4 and 5 to 7.2: where their numbers stand (layout from memory).

Read here and not by scipy, whose reader ends the whole program on some damaged files, unpacks a variable
whole, and gives nothing of one that was cut off.
"""

from __future__ import annotations

import math
import struct
from collections.abc import Iterator
from dataclasses import dataclass
from typing import BinaryIO

from firstlift.formats.matlab_bytes import Packed, Plain, Run

HEADER_BYTES = 128
_MATRIX, _PACKED = 14, 15
_NUMBERS = {1: "i1", 2: "u1", 3: "i2", 4: "u2", 5: "i4", 6: "u4", 7: "f4", 9: "f8", 12: "i8", 13: "u8"}
_STRUCTURE, _OBJECT, _FIRST_NUMERIC, _LAST_NUMERIC = 2, 3, 6, 15
_KINDS = {1: "a cell array", 4: "text", 5: "a sparse matrix", 16: "a function", 17: "an object"}
_COMPLEX = 0x0800
_V4_TYPES = {0: "f8", 1: "f4", 2: "i4", 3: "i2", 4: "u2", 5: "u1"}
_V4_HEAD_BYTES = 20
_LONGEST_NAME = 256
_MOST_BYTES = 1 << 20
_MOST_ELEMENTS = 10_000
_DEEPEST = 20


@dataclass(frozen=True, slots=True)
class Variable:
    """Numbers in columns: ``there`` bytes of them from ``at`` on in ``run``; or why there are none."""

    name: str
    shape: tuple[int, ...]
    run: Run
    code: str = "<f8"
    at: int = 0
    there: int = 0
    why_not: str = ""


@dataclass(frozen=True, slots=True)
class _Element:
    """An element: its type, where its bytes stand, how many, and where the next one begins."""

    kind: int
    at: int
    size: int
    next: int


class CutError(ValueError):
    """The run of bytes ends before what it should hold."""


def v5_variables(file: BinaryIO, order: str, size: int) -> tuple[list[Variable], bool]:
    """Find the variables of a file of versions 5 to 7.2, fields of structures named with dots.

    Parameters
    ----------
    file : binary file
    order : "<" or ">"
    size : int
        Bytes of the file.

    Returns
    -------
    variables : list of Variable
        Those before the tear, and what is there of the one in it.
    torn : bool
    """
    found: list[Variable] = []
    at = HEADER_BYTES
    while at + 8 <= size:
        file.seek(at)
        kind, length = struct.unpack(order + "II", file.read(8))
        torn = at + 8 + length > size
        if kind == _PACKED:
            packed = Packed(file, at + 8, min(length, size - at - 8))
            run: Run = packed
            there = _unpacked_size(packed.again()) if torn else 1 << 62
        elif kind == _MATRIX:
            run, there = Plain(file, at, size - at), size - at
        else:
            return found, True
        try:
            found += _Parsing(run, order, there).top()
        except CutError:
            if not torn:
                raise
        if torn:
            return found, True
        at += 8 + length
    return found, at != size


def _unpacked_size(run: Packed) -> int:
    at = 0
    while more := run.read(at, 1 << 18):
        at += len(more)
    return at


@dataclass
class _Parsing:
    """One variable being taken apart; ``there`` is where its bytes end."""

    run: Run
    order: str
    there: int

    def top(self) -> list[Variable]:
        return list(self._matrix(self._element(0), "", 0))

    def _element(self, at: int) -> _Element:
        head = self._bytes(at, 8)
        kind, size = struct.unpack(self.order + "II", head)
        if kind >> 16:  # up to four bytes stand in the heading itself
            return _Element(kind & 0xFFFF, at + 4, min(kind >> 16, 4), at + 8)
        return _Element(kind, at + 8, size, at + 8 + size + -size % 8)

    def _bytes(self, at: int, count: int) -> bytes:
        if count > _MOST_BYTES:
            raise ValueError(f"a heading of {count} bytes")
        data = self.run.read(at, count) if at + count <= self.there else b""
        if len(data) < count:
            raise CutError("a variable ends in its heading")
        return data

    def _content(self, element: _Element) -> bytes:
        return self._bytes(element.at, element.size)

    def _matrix(self, element: _Element, name: str, depth: int) -> Iterator[Variable]:
        """Give the numbers of a matrix or a structure; ``name`` is given for fields, which have none of their own."""
        if element.kind != _MATRIX or depth > _DEEPEST:
            raise ValueError("a variable is no matrix or is nested too deep")
        if not element.size:
            return
        flags, dims, label = self._heads(element.at)
        flag, *_ = struct.unpack_from(self.order + "I", self._content(flags))
        shape = struct.unpack(f"{self.order}{dims.size // 4}i", self._content(dims)[: dims.size // 4 * 4])
        name = name or self._content(label).split(b"\0")[0].decode("ascii", "replace")
        kind = flag & 0xFF
        if not shape or min(shape) < 0:
            raise ValueError("a variable has no size")
        if kind in (_STRUCTURE, _OBJECT):
            yield from self._structure(label.next, kind, name, math.prod(shape), depth)
        elif _FIRST_NUMERIC <= kind <= _LAST_NUMERIC:
            yield self._numbers(label.next, name, shape, is_complex=bool(flag & _COMPLEX))
        else:
            yield Variable(name, shape, self.run, why_not=f"holds {_KINDS.get(kind, 'no numbers')}, not numbers")

    def _heads(self, at: int) -> tuple[_Element, _Element, _Element]:
        flags = self._element(at)
        dims = self._element(flags.next)
        return flags, dims, self._element(dims.next)

    def _numbers(self, at: int, name: str, shape: tuple[int, ...], *, is_complex: bool) -> Variable:
        if math.prod(shape) == 0:
            return Variable(name, shape, self.run)
        data = self._element(at)
        if is_complex or data.kind not in _NUMBERS:
            return Variable(name, shape, self.run, why_not="holds complex or no plain numbers")
        code = self.order + _NUMBERS[data.kind]
        stated = math.prod(shape) * int(code[-1])
        if data.size < stated:
            raise ValueError(f"variable '{name}' holds fewer numbers than its size says")
        return Variable(name, shape, self.run, code, data.at, max(0, min(stated, self.there - data.at)))

    def _structure(self, at: int, kind: int, name: str, elements: int, depth: int) -> Iterator[Variable]:
        """Go through the fields of a structure; of an array of structures each has its number."""
        if kind == _OBJECT:
            at = self._element(at).next
        width_at = self._element(at)
        (width,) = struct.unpack_from(self.order + "i", self._content(width_at))
        names = self._element(width_at.next)
        texts = self._content(names)
        if width <= 0 or elements > _MOST_ELEMENTS:
            yield Variable(name, (0, 0), self.run, why_not=f"is an array of {elements} structures")
            return
        keys = [texts[n : n + width].split(b"\0")[0].decode("ascii", "replace") for n in range(0, len(texts), width)]
        at = names.next
        for n in range(elements):
            own = name if elements == 1 else f"{name}({n + 1})"
            for key in keys:
                try:
                    field = self._element(at)
                    yield from self._matrix(field, f"{own}.{key}", depth + 1)
                except CutError:  # what comes behind the tear is not there
                    return
                at = field.next


def v4_order(head: bytes) -> str:
    """Give the byte order of a variable's heading of version 4, or "" where there is none such.

    Parameters
    ----------
    head : bytes

    Returns
    -------
    "<", ">" or ""
    """
    for order in "<>" if len(head) >= _V4_HEAD_BYTES else "":
        kind, rows, columns, imaginary, name = struct.unpack(order + "5i", head[:_V4_HEAD_BYTES])
        machine, rest = divmod(kind, 1000)
        fits = machine == "<>".index(order) and rest // 100 == 0 and rest % 100 // 10 in _V4_TYPES
        if fits and rest % 10 <= 2 and imaginary in (0, 1) and 1 < name <= _LONGEST_NAME and rows >= 0 <= columns:
            return order
    return ""


def v4_variables(file: BinaryIO, size: int) -> tuple[list[Variable], bool]:
    """Find the variables of a file of version 4.

    Parameters
    ----------
    file : binary file
    size : int
        Bytes of the file.

    Returns
    -------
    variables : list of Variable
    torn : bool
    """
    found: list[Variable] = []
    at = 0
    while at < size:
        file.seek(at)
        head = file.read(_V4_HEAD_BYTES)
        order = v4_order(head)
        if not order:
            return found, True
        kind, rows, columns, imaginary, length = struct.unpack(order + "5i", head)
        name = file.read(length).split(b"\0")[0].decode("ascii", "replace")
        code = order + _V4_TYPES[kind % 100 // 10]
        start = at + _V4_HEAD_BYTES + length
        stated = rows * columns * int(code[-1])
        why_not = "holds text or a sparse matrix, not numbers" if kind % 10 else ""
        why_not = "holds complex or no plain numbers" if imaginary else why_not
        run = Plain(file, start, max(0, size - start))
        found.append(Variable(name, (rows, columns), run, code, 0, min(stated, run.size), why_not))
        at = start + stated * (1 + imaginary)
    return found, at != size
