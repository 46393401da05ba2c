"""Opening a recording whatever its format: sniff the first bytes, then hand over to the format's module."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

from firstlift.core.errors import FirstliftError, Problem
from firstlift.formats import csv_table, hdf5, lvm, matlab, mdf, parquet, tdms, wav
from firstlift.formats.seam import Guess, Source, SourceChannel

HEAD_BYTES = 65_536

__all__ = ["FORMATS", "Format", "Guess", "Source", "SourceChannel", "open_source", "sniff"]


@dataclass(frozen=True, slots=True)
class Format:
    """One format: how it is recognised and how it is opened."""

    name: str
    sniff: Callable[[bytes, str], Guess]
    open_file: Callable[[Path], Source]


FORMATS = (
    Format("TDMS", tdms.sniff, tdms.open_file),
    Format("Parquet", parquet.sniff, parquet.open_file),
    Format("HDF5", hdf5.sniff, hdf5.open_file),
    Format("MATLAB", matlab.sniff, matlab.open_file),
    Format("MDF", mdf.sniff, mdf.open_file),
    Format("WAV", wav.sniff, wav.open_file),
    Format("LVM", lvm.sniff, lvm.open_file),
    Format("CSV", csv_table.sniff, csv_table.open_file),
)

# what people hand over that is not read (yet): said by name instead of "not recognised"
_NOT_READ = (
    (b"PK\x03\x04", "a ZIP archive or an Excel workbook"),
    (b"\xd0\xcf\x11\xe0", "an old Excel workbook"),
    (b"TDSh", "the index of a TDMS file (.tdms_index), without its data"),
    (b"%PDF", "a PDF"),
    (b"\x1f\x8b", "a gzip archive"),
)


def sniff(head: bytes, name: str) -> Guess:
    """Say which format a file seems to have, and why.

    Parameters
    ----------
    head : bytes
        The first bytes of the file, `HEAD_BYTES` of them or all.
    name : str
        The file's name; its ending breaks ties.

    Returns
    -------
    Guess

    Raises
    ------
    FirstliftError
        REC-003 no format fits; the reasons are told.
    """
    for magic, what in _NOT_READ:
        if head.startswith(magic):
            raise FirstliftError(
                Problem("REC-003", f"the recording is {what}", name, _readable(), "Export it to one of these formats")
            )
    guesses = [form.sniff(head, name) for form in FORMATS]
    best = max(guesses, key=lambda guess: guess.confidence)
    if best.confidence <= 0.0:
        reasons = "; ".join(f"{guess.format}: {guess.reason}" for guess in guesses)
        raise FirstliftError(
            Problem("REC-003", f"the recording's format is not recognised ({reasons})", name, _readable())
        )
    return best


def _readable() -> str:
    return "a recording in " + ", ".join(form.name for form in FORMATS)


def open_source(path: Path) -> Source:
    """Open a recording.

    Parameters
    ----------
    path : Path

    Returns
    -------
    Source
        To be closed by the caller.

    Raises
    ------
    FirstliftError
        REC-001 cannot be read, REC-002 empty, REC-003 unknown format, REC-004 damaged, REC-005 no table.
    """
    try:
        if path.is_dir():
            raise IsADirectoryError("it is a folder")
        with path.open("rb") as file:
            head = file.read(HEAD_BYTES)
    except (OSError, ValueError) as error:
        reason = getattr(error, "strerror", None) or str(error)
        raise FirstliftError(
            Problem(
                "REC-001", f"the recording cannot be read: {reason}", str(path), "a readable file", "Check the path"
            )
        ) from error
    if not head:
        raise FirstliftError(Problem("REC-002", "the recording is empty (0 bytes)", str(path), "a file with samples"))
    guess = sniff(head, path.name)
    return next(form for form in FORMATS if form.name == guess.format).open_file(path)
