"""Parquet files through pyarrow, a row group at a time.

A Parquet file keeps its table of contents at its end: one that was cut off holds nothing that can be
read, and that is said.
"""

from __future__ import annotations

import itertools
from collections.abc import Callable, Mapping
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

from firstlift.formats.seam import Guess, Source, SourceChannel, array_reader, damaged, split_unit

if TYPE_CHECKING:
    import pyarrow as pa
    import pyarrow.parquet as pq

NAME = "Parquet"
_MAGIC = b"PAR1"
_UNIT_KEYS = (b"unit", b"units", b"Unit", b"Units")


def sniff(head: bytes, name: str) -> Guess:
    """Say whether the first bytes are a Parquet file's, and why.

    Parameters
    ----------
    head : bytes
    name : str

    Returns
    -------
    Guess
    """
    if head.startswith(_MAGIC):
        return Guess(NAME, 1.0, "begins with 'PAR1'")
    ending = ", though its name says so" if name.lower().endswith((".parquet", ".pq")) else ""
    return Guess(NAME, 0.0, f"does not begin with 'PAR1'{ending}")


def open_file(path: Path) -> Source:
    """Open a Parquet file.

    Parameters
    ----------
    path : Path

    Returns
    -------
    Source
        Its row groups are read when asked for; close it afterwards.

    Raises
    ------
    FirstliftError
        REC-004 the file was cut off or is damaged.
    """
    import pyarrow as pa
    import pyarrow.parquet as pq

    try:
        file = pq.ParquetFile(path)
    except (pa.ArrowException, OSError, ValueError) as error:
        with path.open("rb") as raw:
            raw.seek(-min(4, path.stat().st_size), 2)
            cut = raw.read(4) != _MAGIC
        reason = "it was cut off, and a Parquet file has its table of contents at its end" if cut else error
        raise damaged(NAME, path.name, reason) from error
    try:
        rows = [file.metadata.row_group(n).num_rows for n in range(file.num_row_groups)]
        channels = tuple(_channel(file, field, rows, path.name) for field in file.schema_arrow)
    except (pa.ArrowException, OSError, ValueError) as error:
        file.close()
        raise damaged(NAME, path.name, error) from error
    return Source(NAME, channels, on_close=file.close)


def _channel(file: pq.ParquetFile, field: pa.Field, rows: list[int], where: str) -> SourceChannel:
    import pyarrow as pa

    short, unit = split_unit(field.name)
    metadata: Mapping[bytes, bytes] = field.metadata or {}
    unit = next((metadata[key].decode("utf-8", "replace") for key in _UNIT_KEYS if key in metadata), unit)
    is_instant = pa.types.is_timestamp(field.type)
    plain = pa.types.is_integer(field.type) or pa.types.is_floating(field.type) or pa.types.is_boolean(field.type)
    plain = plain or pa.types.is_decimal(field.type) or pa.types.is_null(field.type)
    why_not = "" if plain or is_instant else f"holds {field.type}, not numbers"
    return SourceChannel(
        field.name,
        sum(rows),
        array_reader(np.empty(0)) if why_not else _reader(file, field.name, rows, where),
        unit,
        aliases=(short,) if short != field.name else (),
        is_instant=is_instant,
        why_not=why_not,
    )


def _reader(file: pq.ParquetFile, name: str, rows: list[int], where: str) -> Callable[[int, int], NDArray[Any]]:
    ends = np.cumsum([0, *rows])

    def read(start: int, stop: int) -> NDArray[Any]:
        parts: list[NDArray[Any]] = []
        for group, (first, last) in enumerate(itertools.pairwise(ends)):
            if first >= stop or last <= start:
                continue
            values = _group(file, group, name, where)
            parts.append(values[max(0, start - first) : stop - first])
        return np.concatenate(parts) if parts else np.empty(0)

    return read


def _group(file: pq.ParquetFile, group: int, name: str, where: str) -> NDArray[Any]:
    import pyarrow as pa

    try:
        column = file.read_row_group(group, columns=[name]).column(0)
        if pa.types.is_timestamp(column.type):
            return column.cast(pa.timestamp("ns"), safe=False).to_numpy()
        if not pa.types.is_floating(column.type):
            column = column.cast(pa.float64(), safe=False)
        return column.to_numpy()
    except (pa.ArrowException, OSError, ValueError) as error:
        raise damaged(NAME, where, error) from error
