"""HDF5 files through h5py: data sets of one or two dimensions, tables of named fields, read a stretch at a time.

HDF5 keeps its index all over the file: of a file that was cut off nothing can be formed. A file whose writer
crashed can be read where it was written for reading at the same time (SWMR); it is told as torn.
"""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING

from firstlift.core.errors import FirstliftError, Problem
from firstlift.formats.hdf5_attributes import Attributes, earliest_start, time_base
from firstlift.formats.hdf5_values import columns_of
from firstlift.formats.own_time import Found, with_own_time
from firstlift.formats.seam import FOREIGN, Guess, Source, SourceChannel, damaged

if TYPE_CHECKING:
    import h5py

NAME = "HDF5"
SIGNATURE = b"\x89HDF\r\n\x1a\n"
_PLACES = (0, 512, 1024, 2048, 4096, 8192, 16384, 32768)  # a user's block of bytes may stand before it


def sniff(head: bytes, name: str) -> Guess:
    """Say whether the first bytes are an HDF5 file's, and why.

    Parameters
    ----------
    head : bytes
    name : str

    Returns
    -------
    Guess
    """
    if any(head.startswith(SIGNATURE, place) for place in _PLACES):
        return Guess(NAME, 0.95, "holds the signature of HDF5")
    ending = ", though its name says so" if name.lower().endswith((".h5", ".hdf5", ".hdf")) else ""
    return Guess(NAME, 0.0, f"holds no signature of HDF5{ending}")


def open_file(path: Path) -> Source:
    """Open an HDF5 file.

    Parameters
    ----------
    path : Path

    Returns
    -------
    Source
        A channel is named by its path without the first slash, and answers to the last part too; columns
        of a table by their field, those of a matrix by the attribute that lists names, or by number.

    Raises
    ------
    FirstliftError
        REC-004 cut off, damaged, or left open by a writer that crashed; REC-005 no numbers in it.
    """
    return open_container(path, NAME, _channels)


def open_container(path: Path, name: str, channels_of: Callable[[h5py.File, str], tuple[list[Found], bool]]) -> Source:
    """Open an HDF5 container and let ``channels_of`` find its channels.

    Parameters
    ----------
    path : Path
    name : str
        The format, as said in messages.
    channels_of : callable (file, where) -> found, torn

    Returns
    -------
    Source

    Raises
    ------
    FirstliftError
        REC-004, REC-005 as `open_file`.
    """
    file, torn = _opened(path, name)
    try:
        found, cut = channels_of(file, path.name)
    except FirstliftError:
        file.close()
        raise
    except FOREIGN as error:
        file.close()
        raise damaged(name, path.name, error) from error
    if not found:
        file.close()
        raise FirstliftError(
            Problem("REC-005", f"the {name} file holds no data sets", path.name, "data sets of numbers")
        )
    return Source(name, with_own_time(found), torn=torn or cut, on_close=file.close)


def _opened(path: Path, name: str) -> tuple[h5py.File, bool]:
    """Open the container; a file that was never closed is tried as one that is read while it is written."""
    import h5py

    try:
        return h5py.File(path, "r", locking="best-effort"), False
    except FOREIGN as error:
        text = str(error)
        if "truncated" in text:
            raise damaged(
                name,
                path.name,
                f"it was cut off ({path.stat().st_size} bytes are there), and HDF5 is unreadable in part",
            ) from error
        if "already open for write" not in text:
            raise damaged(name, path.name, error) from error
    try:
        return h5py.File(path, "r", swmr=True, locking="best-effort"), True
    except FOREIGN as error:
        raise FirstliftError(
            Problem(
                "REC-004",
                f"the {name} file was never closed: its writer crashed or is still at work",
                path.name,
                "a file that was closed, or written for reading at the same time (SWMR)",
                "Close it in the recorder; after a crash 'h5clear -s' on a copy may make it readable",
            )
        ) from error


def _channels(file: h5py.File, where: str) -> tuple[list[Found], bool]:
    import h5py

    sets: list[h5py.Dataset] = []
    file.visititems(lambda _, item: sets.append(item) if isinstance(item, h5py.Dataset) else None)
    attributes = [Attributes(data) for data in sets]
    earliest = earliest_start(attributes)
    found: list[Found] = []
    torn = False
    for data, own in zip(sets, attributes, strict=True):
        columns, cut = columns_of(data, own.names, where)
        torn = torn or cut
        dt_s, t0_s = time_base(own, earliest)
        path = (data.name or "").strip("/")
        for column in columns:
            name = "/".join(part for part in (path, column.name) if part)
            last = column.name or path.rsplit("/", 1)[-1]
            channel = SourceChannel(
                name,
                column.length,
                column.reader,
                own.unit_of(column.index),
                t0_s=t0_s,
                dt_s=dt_s,
                aliases=(last,) if last != name else (),
                why_not=column.why_not,
            )
            found.append(Found(path if column.name else path.rpartition("/")[0], channel))
    return found, torn
