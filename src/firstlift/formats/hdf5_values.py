"""Samples of an HDF5 data set, a stretch at a time; what was set aside but never written is not there."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

from firstlift.formats.seam import FOREIGN, Reader, array_reader, damaged

if TYPE_CHECKING:
    import h5py

_MOST_COLUMNS = 4096


@dataclass(frozen=True, slots=True)
class Column:
    """One column of a data set; ``name`` is "" where the data set is one column."""

    name: str
    index: int
    length: int
    reader: Reader
    why_not: str = ""


Names = Callable[[int], list[str] | None]


def columns_of(data: h5py.Dataset, names_of: Names, where: str) -> tuple[list[Column], bool]:
    """Give the columns of a data set, and whether its end was set aside and never written.

    Samples of a matrix run along the side that the names do not count; without names along the longer one.

    Parameters
    ----------
    data : h5py.Dataset
    names_of : callable (count) -> list of str or None
        Gives the names of the columns of a matrix that has so many.
    where : str

    Returns
    -------
    columns : list of Column
    torn : bool

    Raises
    ------
    FirstliftError
        REC-004, when read.
    """
    if data.shape is None or data.ndim == 0:
        return [], False
    why_not = _why_not(data)
    if why_not:
        return [Column("", 0, int(data.shape[0]), array_reader(np.empty(0)), why_not)], False
    if data.dtype.names is not None:
        return _fields(data, where)
    if data.ndim == 1:
        rows, torn = _rows(data, 0)
        return [Column("", 0, rows.length, _reader(data, rows, lambda a, b: data[a:b], where))], torn
    return matrix(data, names_of, where)


def matrix(data: h5py.Dataset, names_of: Names, where: str, *, axis: int | None = None) -> tuple[list[Column], bool]:
    """Give the columns of a data set of two dimensions; ``axis`` is the one that samples run along, if known.

    Parameters
    ----------
    data : h5py.Dataset
    names_of : callable (count) -> list of str or None
    where : str
    axis : 0, 1 or None

    Returns
    -------
    columns : list of Column
    torn : bool
    """
    if axis is None:
        named = [side for side in (0, 1) if names_of(data.shape[1 - side]) is not None]
        axis = named[0] if len(named) == 1 else int(data.shape[1] > data.shape[0])
    count = int(data.shape[1 - axis])
    if count > _MOST_COLUMNS:
        reason = f"is a matrix of {data.shape[0]} by {data.shape[1]}"
        return [Column("", 0, int(data.shape[axis]), array_reader(np.empty(0)), reason)], False
    rows, torn = _rows(data, axis)
    names = names_of(count) or ([""] if count == 1 else [str(n + 1) for n in range(count)])
    pick = (lambda n: lambda a, b: data[a:b, n]) if axis == 0 else (lambda n: lambda a, b: data[n, a:b])
    columns = [Column(names[n], n, rows.length, _reader(data, rows, pick(n), where)) for n in range(count)]
    return columns, torn


def _why_not(data: h5py.Dataset) -> str:
    """Say why a data set holds no samples that can be read, or ""."""
    if data.external is not None or data.is_virtual:
        return "keeps its values in other files, which are not followed"
    kind = data.dtype.kind
    if data.dtype.names is not None:
        return "" if data.ndim == 1 else f"is a table of {data.ndim} dimensions"
    if kind not in "iufb" or data.dtype.itemsize > 8:
        return "holds text or other things that are no plain numbers"
    return "" if data.ndim <= 2 else f"has {data.ndim} dimensions"


def _fields(data: h5py.Dataset, where: str) -> tuple[list[Column], bool]:
    rows, torn = _rows(data, 0)
    columns: list[Column] = []
    for index, name in enumerate(data.dtype.names or ()):
        kind = data.dtype[name]
        if kind.kind in "iufb" and not kind.shape and kind.itemsize <= 8:
            reader = _reader(data, rows, lambda a, b, name=name: data.fields(name)[a:b], where)
            columns.append(Column(name, index, rows.length, reader))
        else:
            reader = array_reader(np.empty(0))
            columns.append(Column(name, index, rows.length, reader, "holds no plain numbers"))
    return columns, torn


@dataclass(frozen=True, slots=True)
class _Rows:
    """How many samples were written, and which blocks of ``block`` samples are there (None: all)."""

    length: int
    block: int = 1
    there: NDArray[np.int64] | None = None


def _rows(data: h5py.Dataset, axis: int) -> tuple[_Rows, bool]:
    """Find what was written: blocks that were set aside only would read as zeros."""
    length = int(data.shape[axis])
    if 0 in data.shape:
        return _Rows(0), False
    if data.chunks is None:
        return (_Rows(length), False) if data.id.get_storage_size() else (_Rows(0), True)
    counts = [-(-size // chunk) for size, chunk in zip(data.shape, data.chunks, strict=True)]
    block = int(data.chunks[axis])
    offsets: list[tuple[int, ...]] = []
    data.id.chunk_iter(lambda chunk: offsets.append(chunk.chunk_offset))
    across = int(np.prod(counts)) // counts[axis]
    seen: dict[int, int] = {}
    for offset in offsets:
        if all(at < size for at, size in zip(offset, data.shape, strict=True)):
            seen[offset[axis] // block] = seen.get(offset[axis] // block, 0) + 1
    there = np.array(sorted(n for n, found in seen.items() if found == across), dtype=np.int64)
    if there.size == counts[axis]:
        return _Rows(length), False
    written = min(length, (int(there[-1]) + 1) * block) if there.size else 0
    return _Rows(written, block, there), written < length


def _reader(data: h5py.Dataset, rows: _Rows, pick: Callable[[int, int], Any], where: str) -> Reader:
    def read(start: int, stop: int) -> NDArray[Any]:
        if stop <= start:
            return np.empty(0)
        try:
            values = _scaled(np.asarray(pick(start, stop)), data)
        except FOREIGN as error:
            raise damaged("HDF5", where, f"data set '{data.name}': {error}") from error
        if rows.there is None:
            return values
        absent = ~np.isin(np.arange(start, stop) // rows.block, rows.there)
        return np.where(absent, np.nan, values) if absent.any() else values

    return read


def _scaled(values: NDArray[Any], data: h5py.Dataset) -> NDArray[Any]:
    """Unpack values by the attributes that the netCDF conventions use for packed integers."""
    factor, shift, gap = (data.attrs.get(key) for key in ("scale_factor", "add_offset", "_FillValue"))
    if factor is None and shift is None and gap is None:
        return values
    missing = np.isin(values, gap) if gap is not None else None
    if factor is not None or shift is not None:
        values = values * float(1.0 if factor is None else np.ravel(factor)[0])
        values = values + float(0.0 if shift is None else np.ravel(shift)[0])
    return values if missing is None or not missing.any() else np.where(missing, np.nan, values)
