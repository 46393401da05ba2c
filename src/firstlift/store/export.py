"""A register in open formats: CSV to read, Parquet to read back, files as they were, one manifest.

``register.json`` says which store, how many entries, the chain's head and the format. ``tables/`` holds each kind
twice; lists and parts of an entry are JSON text there. ``recordings/`` holds the kept files under their SHA-256.
"""

from __future__ import annotations

import csv
import json
from collections.abc import Iterable, Iterator, Mapping, Sequence
from contextlib import ExitStack
from pathlib import Path
from typing import TYPE_CHECKING, Any
from uuid import UUID

from firstlift.core.errors import FirstliftError, Problem
from firstlift.core.register.chain import Entry
from firstlift.core.register.kinds import KINDS
from firstlift.store.columns import field_types
from firstlift.store.portable import Portable

if TYPE_CHECKING:
    import pyarrow as pa

FORMAT = "firstlift-register-export-1"
_CHUNK = 2000
_STRETCH = 1 << 20
_CHAIN_FIELDS = tuple(Entry.__dataclass_fields__)
# kinds that came after the first release of the format: an older export has no table of them
_LATER = frozenset({"contact", "seat_word"})
_AS_THEY_ARE = (str, int, float, bool)


def write_export(register: Portable, folder: Path) -> None:
    """Write a register as open files into an empty folder.

    Parameters
    ----------
    register : Portable
    folder : Path

    Raises
    ------
    FirstliftError
        STO-012 the folder cannot be written to; STO-010, STO-011 a kept file is missing or damaged.
    """
    try:
        (folder / "tables").mkdir(parents=True)
        (folder / "recordings").mkdir()
        for name, kind in KINDS.items():
            types = field_types(kind)
            _write_table(folder / "tables" / name, types, (_flat(types, row) for row in register.rows(name)))
        chain = dict.fromkeys(_CHAIN_FIELDS, str) | {"number": int}
        _write_table(folder / "tables" / "audit_entry", chain, (_flat_entry(entry) for entry in register.entries()))
        for sha256 in register.files:
            with (folder / "recordings" / sha256).open("wb") as file:
                file.writelines(register.file(sha256))
        manifest = {
            "format": FORMAT,
            "store_id": str(register.store_id),
            "made_at": register.made_at,
            "entries": register.count,
            "head_sha256": register.head_sha256,
            "files": list(register.files),
        }
        (folder / "register.json").write_text(json.dumps(manifest, indent=1) + "\n", encoding="utf-8")
    except OSError as error:
        raise FirstliftError(
            Problem("STO-012", f"the export cannot be written: {error.strerror or error}", str(folder), "room to write")
        ) from error


def read_export(folder: Path) -> Portable:
    """Open an export.

    Parameters
    ----------
    folder : Path

    Returns
    -------
    Portable

    Raises
    ------
    FirstliftError
        STO-013 it is no export that can be read.
    """
    try:
        manifest = json.loads((folder / "register.json").read_text(encoding="utf-8"))
        if manifest["format"] != FORMAT:
            raise _no_export(folder, f"its format is {manifest['format']!r}")
        return Portable(
            UUID(manifest["store_id"]),
            str(manifest["made_at"]),
            int(manifest["entries"]),
            str(manifest["head_sha256"]),
            lambda name: _read_rows(folder, name),
            lambda: _read_entries(folder),
            tuple(str(each) for each in manifest["files"]),
            lambda sha256: _read_file(folder / "recordings" / sha256),
        )
    except (OSError, ValueError, KeyError, TypeError) as error:
        raise _no_export(folder, str(error)) from error


def _write_table(base: Path, types: Mapping[str, Any], rows: Iterable[Sequence[Any]]) -> None:
    import pyarrow as pa
    import pyarrow.parquet as pq

    schema = pa.schema([(name, _arrow_type(kind)) for name, kind in types.items()])
    with ExitStack() as stack:
        text = stack.enter_context(base.with_suffix(".csv").open("w", encoding="utf-8", newline=""))
        lines = csv.writer(text)
        lines.writerow(types)
        parquet = stack.enter_context(pq.ParquetWriter(base.with_suffix(".parquet"), schema, compression="zstd"))
        for chunk in _chunks(rows):
            lines.writerows([_readable(value) for value in row] for row in chunk)
            columns = [
                pa.array(column, kind) for column, kind in zip(zip(*chunk, strict=True), schema.types, strict=True)
            ]
            parquet.write_table(pa.table(columns, schema=schema))


def _arrow_type(kind: Any) -> pa.DataType:
    import pyarrow as pa

    return {bool: pa.bool_(), int: pa.int64(), float: pa.float64()}.get(kind, pa.string())


def _readable(value: Any) -> Any:
    """Keep a spreadsheet from taking a text for a formula when someone opens the CSV."""
    return f"'{value}" if isinstance(value, str) and value[:1] in ("=", "+", "-", "@", "\t", "\r") else value


def _flat(types: Mapping[str, Any], plain: Mapping[str, Any]) -> list[Any]:
    return [_json_text(plain[name]) for name in types]


def _json_text(value: Any) -> Any:
    if isinstance(value, (list, dict)):
        return json.dumps(value, ensure_ascii=False, allow_nan=False)
    return value


def _flat_entry(entry: Entry) -> list[Any]:
    values = (getattr(entry, name) for name in _CHAIN_FIELDS)
    return [str(value) if isinstance(value, UUID) else value for value in values]


def _read_rows(folder: Path, name: str) -> Iterator[Mapping[str, Any]]:
    if name in _LATER and not (folder / "tables" / f"{name}.parquet").exists():
        return
    types = field_types(KINDS[name])
    parts = {field for field, kind in types.items() if _is_part(kind)}
    for row in _read_table(folder, name, tuple(types)):
        yield {
            field: json.loads(value) if field in parts and value is not None else value for field, value in row.items()
        }


def _is_part(kind: Any) -> bool:
    """Say whether a field holds a list or a part of an entry, which is JSON text in an export."""
    from firstlift.store.columns import column_type

    return column_type(kind).__class__.__name__ == "JSON"


def _read_entries(folder: Path) -> Iterator[Entry]:
    for row in _read_table(folder, "audit_entry", _CHAIN_FIELDS):
        yield Entry(**{**row, "store_id": UUID(row["store_id"]), "entry_id": UUID(row["entry_id"])})


def _read_table(folder: Path, name: str, columns: Sequence[str]) -> Iterator[dict[str, Any]]:
    import pyarrow as pa
    import pyarrow.parquet as pq

    path = folder / "tables" / f"{name}.parquet"
    try:
        with pq.ParquetFile(path) as file:
            if tuple(file.schema_arrow.names) != tuple(columns):
                raise _no_export(folder, f"{path.name} has other columns than this release")
            for batch in file.iter_batches(_CHUNK):
                yield from batch.to_pylist()
    except (OSError, ValueError, pa.ArrowException) as error:
        raise _no_export(folder, f"{path.name}: {error}") from error


def _read_file(path: Path) -> Iterator[bytes]:
    try:
        with path.open("rb") as file:
            while stretch := file.read(_STRETCH):
                yield stretch
    except OSError as error:
        raise FirstliftError(
            Problem("STO-010", f"a file of the export cannot be read: {error.strerror}", str(path), "a whole export")
        ) from error


def _chunks(rows: Iterable[Sequence[Any]]) -> Iterator[list[Sequence[Any]]]:
    chunk: list[Sequence[Any]] = []
    for row in rows:
        chunk.append(row)
        if len(chunk) == _CHUNK:
            yield chunk
            chunk = []
    if chunk:
        yield chunk


def _no_export(folder: Path, reason: str) -> FirstliftError:
    return FirstliftError(
        Problem("STO-013", f"this is no export that can be read: {reason[:200]}", str(folder), f"a whole {FORMAT}")
    )
