"""From an MDF 4 channel's raw numbers to its unit: line, fraction, tables; texts and formulas are refused."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from firstlift.formats.mdf_blocks import Blocks

_NONE, _LINE, _FRACTION, _FORMULA, _BETWEEN, _NEAREST, _RANGES = range(7)


@dataclass(frozen=True, slots=True)
class Conversion:
    """How raw numbers become values. ``line`` is (offset, factor) where it is one; ``apply`` None: as they are."""

    apply: Callable[[NDArray[Any]], NDArray[np.float64]] | None = None
    line: tuple[float, float] | None = (0.0, 1.0)
    unit: str = ""
    why_not: str = ""


def conversion_at(blocks: Blocks, at: int) -> Conversion:
    """Read a channel's conversion.

    Parameters
    ----------
    blocks : Blocks
    at : int
        The channel's link; 0 for none.

    Returns
    -------
    Conversion

    Raises
    ------
    BlockError
        The block is not there or too short.
    """
    if not at:
        return Conversion()
    block = blocks.read(at, "CC")
    kind, count = int(block.unpack("B")[0]), int(block.unpack("H", 6)[0])
    unit = blocks.text(block.link(1))
    if kind == _NONE:
        return Conversion(unit=unit)
    if kind == _FORMULA:
        return Conversion(unit=unit, line=None, why_not="is to be converted by a formula in words, which is not read")
    if kind > _RANGES:
        return Conversion(unit=unit, line=None, why_not="holds numbers that stand for texts")
    values = np.array(block.unpack(f"{count}d", 24), dtype=np.float64)
    if count < {_LINE: 2, _FRACTION: 6, _RANGES: 1}.get(kind, 2):
        return Conversion(unit=unit, line=None, why_not="has a conversion with too few numbers")
    if kind == _LINE:
        offset, factor = float(values[0]), float(values[1])
        return Conversion(lambda raw: offset + factor * raw, (offset, factor), unit)
    apply = {_FRACTION: _fraction, _BETWEEN: _between, _NEAREST: _nearest, _RANGES: _ranges}[kind]
    return Conversion(lambda raw: apply(raw, values), None, unit)


def _fraction(raw: NDArray[Any], p: NDArray[np.float64]) -> NDArray[np.float64]:
    return (p[0] * raw * raw + p[1] * raw + p[2]) / (p[3] * raw * raw + p[4] * raw + p[5])


def _between(raw: NDArray[Any], table: NDArray[np.float64]) -> NDArray[np.float64]:
    pairs = table[: table.size // 2 * 2].reshape(-1, 2)
    return np.interp(raw, pairs[:, 0], pairs[:, 1])


def _nearest(raw: NDArray[Any], table: NDArray[np.float64]) -> NDArray[np.float64]:
    pairs = table[: table.size // 2 * 2].reshape(-1, 2)
    middles = (pairs[1:, 0] + pairs[:-1, 0]) / 2.0
    return pairs[np.searchsorted(middles, raw, side="left"), 1]


def _ranges(raw: NDArray[Any], table: NDArray[np.float64]) -> NDArray[np.float64]:
    rows = table[: (table.size - 1) // 3 * 3].reshape(-1, 3)
    values = np.full(raw.shape, table[-1])
    for low, high, value in rows[::-1]:
        values[(raw >= low) & (raw <= high)] = value
    return values
