"""MATLAB's own layout of HDF5 (files of version 7.3): structures are groups, matrices stand transposed."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np

from firstlift.formats.hdf5_values import Column, columns_of, matrix
from firstlift.formats.own_time import Found
from firstlift.formats.seam import SourceChannel, array_reader

if TYPE_CHECKING:
    import h5py

_NUMBERS = {
    "double", "single", "int8", "uint8", "int16", "uint16", "int32", "uint32", "int64", "uint64", "logical",
}  # fmt: skip


def channels_of(file: h5py.File, where: str) -> tuple[list[Found], bool]:
    """Find the numeric variables of a MATLAB 7.3 file, fields of structures named with dots.

    Parameters
    ----------
    file : h5py.File
    where : str

    Returns
    -------
    found : list of Found
    torn : bool
        Whether values were set aside and never written.
    """
    import h5py

    sets: list[tuple[str, h5py.Dataset]] = []

    def visit(name: str, item: Any) -> None:
        if isinstance(item, h5py.Dataset) and not name.startswith("#"):
            sets.append((name, item))

    file.visititems(visit)
    found: list[Found] = []
    torn = False
    for path, data in sets:
        name = path.replace("/", ".")
        group = name.rpartition(".")[0]
        columns, cut = _columns(data, where)
        torn = torn or cut
        for column in columns:
            full = f"{name}{column.name}"
            short = full.rpartition(".")[2]
            channel = SourceChannel(
                full,
                column.length,
                column.reader,
                aliases=(short,) if short != full else (),
                why_not=column.why_not,
            )
            found.append(Found(group, channel))
    return found, torn


def _columns(data: h5py.Dataset, where: str) -> tuple[list[Column], bool]:
    kind = data.attrs.get("MATLAB_class", b"")
    kind = kind.decode("ascii", "replace") if isinstance(kind, bytes) else str(kind)
    if data.shape is None or data.ndim == 0 or data.attrs.get("MATLAB_empty", 0):
        return [], False
    if kind not in _NUMBERS or data.dtype.names is not None:
        what = "complex numbers" if data.dtype.names is not None else kind or "no numbers"
        return [Column("", 0, int(data.shape[0]), array_reader(np.empty(0)), f"holds {what}, not plain numbers")], False
    if data.ndim != 2:
        return columns_of(data, _names, where)
    # a row or a column of MATLAB's is one channel; of a matrix every column is
    axis = int(data.shape[0] == 1 or data.shape[1] != 1)
    return matrix(data, _names, where, axis=axis)


def _names(count: int) -> list[str] | None:
    return [""] if count == 1 else [f"(:,{n + 1})" for n in range(count)]
