"""Open a spreadsheet by what it is, not by what it is called."""

from __future__ import annotations

from pathlib import Path

from firstlift.core.errors import FirstliftError
from firstlift.formats.sheets.csv_book import CsvBook
from firstlift.formats.sheets.seam import Book, refuse
from firstlift.formats.sheets.xlsx import XlsxBook

_OLE = b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1"
_ENCRYPTED = "EncryptedPackage".encode("utf-16-le")
_OTHERS = (
    (b"%PDF", "a PDF"),
    (b"PAR1", "a Parquet file"),
    (b"\x89PNG", "a picture"),
    (b"\xff\xd8\xff", "a picture"),
    (b"SQLite format 3", "a database"),
    (b"\x1f\x8b", "a compressed file"),
)


def open_book(path: Path, *, encoding: str = "") -> Book:
    """Open a CSV or XLSX.

    Parameters
    ----------
    path : Path
    encoding : str
        Of a CSV that is not UTF-8; empty where it is to be found from the file.

    Returns
    -------
    Book
        Close it after use.

    Raises
    ------
    FirstliftError
        IMP-001 cannot be read or empty, IMP-002 another format, IMP-003 damaged, IMP-004 too large, IMP-005 with a
        password, IMP-007 no known encoding.
    """
    try:
        with path.open("rb") as stream:
            head = stream.read(1 << 16)
        return _open(path, head, encoding)
    except OSError as error:
        reason = error.strerror or str(error)
        raise refuse("IMP-001", f"the spreadsheet cannot be read: {reason}", str(path), "a CSV or XLSX") from error


def _open(path: Path, head: bytes, encoding: str) -> Book:
    if not head:
        raise refuse("IMP-001", "the file is empty", path.name, "a table with a heading row")
    if head.startswith(_OLE):
        raise _old_or_locked(path)
    if head.startswith(b"PK\x03\x04") or head.startswith(b"PK\x05\x06"):
        if b"opendocument" in head[:200]:
            raise _other("an OpenDocument file", path.name)
        return XlsxBook(path)
    for mark, name in _OTHERS:
        if head.startswith(mark):
            raise _other(name, path.name)
    if head.lstrip(b"\xef\xbb\xbf \t\r\n")[:1] == b"<":
        raise _other("a page of HTML or XML", path.name)
    wide = head.startswith((b"\xff\xfe", b"\xfe\xff"))
    if not wide and sum(byte < 32 and byte not in b"\t\r\n\f" for byte in head) > len(head) // 20:
        raise _other("a file of bytes that are no text", path.name)
    return CsvBook(path, encoding)


def _other(name: str, where: str) -> FirstliftError:
    return refuse("IMP-002", f"this is {name}", where, "XLSX or CSV", "Save the table as XLSX or CSV")


def _old_or_locked(path: Path) -> FirstliftError:
    with path.open("rb") as stream:
        locked = _ENCRYPTED in stream.read(4 << 20)
    if locked:
        return refuse(
            "IMP-005", "the workbook is protected with a password", path.name, "a workbook without password",
            "Save a copy without password",
        )  # fmt: skip
    return refuse("IMP-002", "this is a workbook of the old kind (XLS)", path.name, "XLSX or CSV", "Save it as XLSX")
