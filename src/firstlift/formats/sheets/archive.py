"""An XLSX is a ZIP of XML parts: what it claims to unpack to is held to limits before anything is unpacked."""

from __future__ import annotations

import re
import zipfile
import zlib
from collections.abc import Generator, Iterator
from pathlib import Path
from typing import Any
from xml.etree.ElementTree import ParseError

from firstlift.core.errors import FirstliftError
from firstlift.formats.sheets.seam import refuse

LARGEST_FILE = 400_000_000
LARGEST_PART = 2_000_000_000
LARGEST_STRINGS = 400_000_000
LARGEST_SMALL_PART = 20_000_000
MOST_PARTS = 5_000
HIGHEST_RATIO = 250
_RATIO_FROM = 10_000_000
_CHUNK = 1 << 16


def open_archive(path: Path) -> zipfile.ZipFile:
    """Open the ZIP of an XLSX and check every part's claimed size.

    Real workbooks unpack to 5 to 60 times their size; a part that claims much more is made to fill memory.

    Parameters
    ----------
    path : Path

    Returns
    -------
    zipfile.ZipFile

    Raises
    ------
    FirstliftError
        IMP-003 the ZIP is damaged, IMP-004 it is too large or unpacks to too much, IMP-005 a part is encrypted.
    """
    try:
        archive = zipfile.ZipFile(path)
    except (zipfile.BadZipFile, OSError, ValueError, NotImplementedError) as error:
        raise refuse(
            "IMP-003", f"the workbook is damaged: {error}", path.name, "a whole XLSX", "Save it again"
        ) from error
    try:
        _check(archive, path)
    except BaseException:
        archive.close()
        raise
    return archive


def _check(archive: zipfile.ZipFile, path: Path) -> None:
    parts = archive.infolist()
    if path.stat().st_size > LARGEST_FILE or len(parts) > MOST_PARTS:
        raise _too_much(f"the workbook has {path.stat().st_size / 1e6:.0f} MB in {len(parts)} parts", path.name)
    names = [part.filename for part in parts]
    if len(set(names)) != len(names):
        raise refuse("IMP-003", "the workbook holds two parts of one name", path.name, "a whole XLSX", "Save it again")
    total = 0
    for part in parts:
        total += part.file_size
        # only what a ZIP of today may hold: other ways of packing are no spreadsheet's
        if part.compress_type not in (zipfile.ZIP_STORED, zipfile.ZIP_DEFLATED):
            raise damaged_part(part.filename, path.name, "it is packed in a way that no spreadsheet is")
        where = f"{path.name}, {part.filename}"
        if part.flag_bits & 0x1:
            raise refuse("IMP-005", "the workbook is encrypted", where, "a workbook without password", _UNLOCK)
        ratio = part.file_size / max(part.compress_size, 1)
        if part.file_size > _RATIO_FROM and ratio > HIGHEST_RATIO:
            raise _too_much(f"a part of the workbook unpacks to {ratio:.0f} times its size", where)
    if total > LARGEST_PART:
        raise _too_much(f"the workbook unpacks to {total / 1e6:.0f} MB", path.name)


_UNLOCK = "Save a copy without password"


def _too_much(what: str, where: str) -> FirstliftError:
    return refuse(
        "IMP-004",
        what,
        where,
        f"at most {LARGEST_FILE // 10**6} MB, unpacked {LARGEST_PART // 10**6} MB and {HIGHEST_RATIO} times its size",
        "Copy the cells that count into a new workbook, or split it",
    )


def chunks(archive: zipfile.ZipFile, part: str, where: str) -> Generator[bytes]:
    """Unpack a part bit by bit; never more than it claims.

    Parameters
    ----------
    archive : zipfile.ZipFile
    part : str
    where : str
        The file, said in messages.

    Yields
    ------
    bytes

    Raises
    ------
    FirstliftError
        IMP-003 the part is missing or damaged.
    """
    try:
        with archive.open(part) as stream:
            while data := stream.read(_CHUNK):
                yield data
    except KeyError as error:
        raise damaged_part(part, where, "it is missing") from error
    except (zipfile.BadZipFile, zlib.error, EOFError, OSError, NotImplementedError, RuntimeError) as error:
        raise damaged_part(part, where, str(error)) from error


def damaged_part(part: str, where: str, reason: str) -> FirstliftError:
    """Make the error that a part cannot be read.

    Parameters
    ----------
    part, where, reason : str

    Returns
    -------
    FirstliftError
    """
    return refuse(
        "IMP-003", f"the workbook is damaged: {reason}", f"{where}, {part}", "a whole XLSX", "Open it and save it again"
    )


def small_part(archive: zipfile.ZipFile, part: str, where: str) -> Any:
    """Read a small part (workbook, relations, styles) as a tree; entities and outside references are refused.

    Parameters
    ----------
    archive : zipfile.ZipFile
    part, where : str

    Returns
    -------
    xml.etree.ElementTree.Element

    Raises
    ------
    FirstliftError
        IMP-003 missing, damaged or with entities; IMP-004 too large.
    """
    from defusedxml.common import DefusedXmlException
    from defusedxml.ElementTree import fromstring

    try:
        size = archive.getinfo(part).file_size
    except KeyError as error:
        raise damaged_part(part, where, "it is missing") from error
    if size > LARGEST_SMALL_PART:
        raise _too_much(f"a part of the workbook unpacks to {size / 1e6:.0f} MB", f"{where}, {part}")
    try:
        return fromstring(b"".join(chunks(archive, part, where)), forbid_dtd=True)
    except DefusedXmlException as error:
        raise damaged_part(part, where, "it declares entities or a document type") from error
    except (ParseError, ValueError, LookupError) as error:
        raise damaged_part(part, where, f"no XML: {error}") from error


def local(tag: str) -> str:
    """Give an XML name without its namespace: producers use two of them for the same thing.

    Parameters
    ----------
    tag : str

    Returns
    -------
    str
    """
    return tag.rpartition("}")[2]


_MERGE = re.compile(rb"<(?:\w+:)?mergeCell\b[^>]*?\bref\s*=\s*[\"']([A-Z]+)(\d+):([A-Z]+)(\d+)[\"']")


def merged_refs(archive: zipfile.ZipFile, part: str, where: str) -> Iterator[tuple[str, int, str, int]]:
    """Give the merged blocks of a sheet. They stand after the cells, so they are looked for beforehand.

    Parameters
    ----------
    archive : zipfile.ZipFile
    part, where : str

    Yields
    ------
    first column, first row, last column, last row : str, int, str, int
    """
    kept = b""
    for data in chunks(archive, part, where):
        block = kept + data
        last = 0
        if b"mergeCell" in block:
            for match in _MERGE.finditer(block):
                left, top, right, bottom = match.groups()
                yield left.decode(), int(top), right.decode(), int(bottom)
                last = match.end()
        kept = block[max(last, len(block) - 300) :]
