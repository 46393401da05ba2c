"""Recordings, job sheets and attachments: files by the hash of their bytes, compressed, checked on every read.

A file is written beside its place, brought to the disk, and renamed: it is whole or not there. It is kept
before the entry that names it is committed, so a crash leaves at most a file that nothing names.
"""

from __future__ import annotations

import hashlib
import os
import re
import struct
import tempfile
from collections.abc import Iterator
from pathlib import Path
from typing import Any, BinaryIO

from firstlift.core.errors import FirstliftError, Problem

_STRETCH = 1 << 20
_HASH = re.compile(r"[0-9a-f]{64}")
SUFFIX = ".zst"
# a skippable frame of 32 bytes (RFC 8878, 3.1.2)
_SEAL = struct.pack("<II", 0x184D2A50, 32)
_SEAL_LENGTH = len(_SEAL) + 32
LEFTOVER = ".half-written-"


def kept_path(folder: Path, sha256: str) -> Path:
    """Give where the file with a hash lies.

    Parameters
    ----------
    folder : Path
        The store's.
    sha256 : str

    Returns
    -------
    Path
    """
    return folder / "recordings" / sha256[:2] / f"{sha256}{SUFFIX}"


def keep_file(folder: Path, source: Path) -> str:
    """Keep a file's bytes.

    Parameters
    ----------
    folder : Path
        The store's.
    source : Path

    Returns
    -------
    str
        SHA-256 of its bytes.

    Raises
    ------
    FirstliftError
        STO-010 it cannot be read, STO-012 it cannot be written.
    """
    try:
        with source.open("rb") as file:
            return keep_stretches(folder, iter(lambda: file.read(_STRETCH), b""))
    except OSError as error:
        raise FirstliftError(
            Problem("STO-010", f"a file cannot be read: {error.strerror or error}", str(source), "a readable file")
        ) from error


def keep_bytes(folder: Path, data: bytes) -> str:
    """Keep bytes.

    Parameters
    ----------
    folder : Path
    data : bytes

    Returns
    -------
    str
        Their SHA-256.

    Raises
    ------
    FirstliftError
        STO-012 they cannot be written.
    """
    return keep_stretches(folder, iter([data]))


def read_kept(folder: Path, sha256: str) -> bytes:
    """Give kept bytes, checked.

    Parameters
    ----------
    folder : Path
    sha256 : str

    Returns
    -------
    bytes

    Raises
    ------
    FirstliftError
        STO-010 there is no such file, STO-011 its bytes are not those that were kept.
    """
    return b"".join(stretches_kept(folder, sha256))


def write_kept(folder: Path, sha256: str, target: Path) -> None:
    """Write kept bytes, checked, as a plain file.

    Parameters
    ----------
    folder : Path
    sha256 : str
    target : Path

    Raises
    ------
    FirstliftError
        STO-010 there is no such file, STO-011 its bytes are not those that were kept.
    """
    with target.open("wb") as file:
        for stretch in stretches_kept(folder, sha256):
            file.write(stretch)


def stretches_kept(folder: Path, sha256: str) -> Iterator[bytes]:
    """Give kept bytes a stretch at a time; the end comes only if all of them were right.

    Parameters
    ----------
    folder : Path
    sha256 : str

    Returns
    -------
    iterator of bytes

    Raises
    ------
    FirstliftError
        STO-010 there is no such file, STO-011 its bytes are not those that were kept.
    """
    import pyarrow as pa

    path = kept_path(folder, sha256)
    if not _HASH.fullmatch(sha256) or not path.is_file():
        raise FirstliftError(
            Problem("STO-010", "a kept file is missing", f"SHA-256 {sha256}", str(path), "Bring it back from a backup")
        )
    digest = hashlib.sha256()
    try:
        if not _packed_whole(path):
            raise _damaged(sha256, path)
        with pa.OSFile(str(path)) as packed, pa.CompressedInputStream(packed, "zstd") as file:
            while stretch := file.read(_STRETCH):
                digest.update(stretch)
                yield stretch
    except OSError as error:
        raise _damaged(sha256, path) from error
    if digest.hexdigest() != sha256:
        raise _damaged(sha256, path)


def fault_of(folder: Path, sha256: str) -> str | None:
    """Say what is wrong with a kept file.

    Parameters
    ----------
    folder : Path
    sha256 : str

    Returns
    -------
    str or None
        "missing", "damaged", or None where it is whole.
    """
    try:
        for _ in stretches_kept(folder, sha256):
            pass
    except FirstliftError as error:
        return "missing" if error.problems[0].code == "STO-010" else "damaged"
    return None


def kept_hashes(folder: Path) -> Iterator[str]:
    """Give the hashes of all files there are.

    Parameters
    ----------
    folder : Path

    Returns
    -------
    iterator of str
    """
    for path in sorted((folder / "recordings").glob(f"??/*{SUFFIX}")):
        yield path.name.removesuffix(SUFFIX)


def sweep(folder: Path, *, older_than_s: float, now_s: float) -> int:
    """Remove what a crash left half-written.

    Parameters
    ----------
    folder : Path
    older_than_s : float, [s]
        Younger ones may still be in the making.
    now_s : float, [s]
        Since the epoch.

    Returns
    -------
    int
        How many were removed.
    """
    old = [path for path in (folder / "recordings").glob(f"{LEFTOVER}*") if path.stat().st_mtime < now_s - older_than_s]
    for path in old:
        path.unlink(missing_ok=True)
    return len(old)


def keep_stretches(folder: Path, stretches: Iterator[bytes]) -> str:
    """Keep bytes that come a stretch at a time.

    Parameters
    ----------
    folder : Path
    stretches : iterator of bytes

    Returns
    -------
    str
        SHA-256 of them all.

    Raises
    ------
    FirstliftError
        STO-012 they cannot be written.
    """
    base = folder / "recordings"
    name = ""
    try:
        base.mkdir(parents=True, exist_ok=True)
        handle, name = tempfile.mkstemp(prefix=LEFTOVER, dir=base)
        with os.fdopen(handle, "wb") as file:
            sha256 = _pack(file, stretches)
            os.fsync(file.fileno())
        target = kept_path(folder, sha256)
        target.parent.mkdir(exist_ok=True)
        Path(name).chmod(0o644)
        Path(name).replace(target)
        _sync_folder(target.parent)
        _sync_folder(base)
        return sha256
    except OSError as error:
        raise FirstliftError(
            Problem("STO-012", f"a file cannot be kept: {error.strerror or error}", str(base), "room to write")
        ) from error
    finally:
        if name:
            Path(name).unlink(missing_ok=True)


class _Packed:
    """Takes packed bytes into a file and hashes them; closing it leaves the file open."""

    def __init__(self, file: BinaryIO) -> None:
        self.file = file
        self.digest = hashlib.sha256()
        self.closed = False

    def write(self, data: Any) -> int:
        """Write and hash."""
        self.digest.update(data)
        return self.file.write(data)

    def flush(self) -> None:
        """Hand over to the system."""
        self.file.flush()

    def close(self) -> None:
        """Take no more."""
        self.closed = True


def _pack(file: BinaryIO, stretches: Iterator[bytes]) -> str:
    """Write zstd, and behind it, in a frame that every zstd reader skips, the hash of the packed bytes.

    Without it a changed byte that happens to unpack to the same would go unseen.
    """
    import pyarrow as pa

    digest, packed = hashlib.sha256(), _Packed(file)
    with pa.CompressedOutputStream(pa.PythonFile(packed, "w"), "zstd") as stream:
        for stretch in stretches:
            digest.update(stretch)
            stream.write(stretch)
    file.write(_SEAL + packed.digest.digest())
    file.flush()
    return digest.hexdigest()


def _packed_whole(path: Path) -> bool:
    """Say whether the packed bytes are those that were written."""
    left = path.stat().st_size - _SEAL_LENGTH
    if left < 0:
        return False
    digest = hashlib.sha256()
    with path.open("rb") as file:
        while left > 0 and (stretch := file.read(min(_STRETCH, left))):
            digest.update(stretch)
            left -= len(stretch)
        return file.read() == _SEAL + digest.digest()


def _sync_folder(folder: Path) -> None:
    if os.name == "nt":  # folders cannot be opened there
        return
    handle = os.open(folder, os.O_RDONLY)
    try:
        os.fsync(handle)
    finally:
        os.close(handle)


def _damaged(sha256: str, path: Path) -> FirstliftError:
    return FirstliftError(
        Problem(
            "STO-011",
            "a kept file is damaged: its bytes are not those that were kept",
            f"{path}, SHA-256 {sha256}",
            "the bytes with that hash",
            "Bring it back from a backup",
        )
    )
