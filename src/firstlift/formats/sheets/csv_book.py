"""CSV and its kin as one sheet: separator and encoding found from the file, and refused where they are not plain."""

from __future__ import annotations

import codecs
import csv
import io
from collections.abc import Generator, Iterator
from pathlib import Path

from firstlift.core.errors import FirstliftError
from firstlift.formats.sheets.reason import Reason
from firstlift.formats.sheets.seam import Merged, Row, SheetInfo, Value, check_width, refuse

LARGEST_FILE = 2_000_000_000
_SEPARATORS = ";\t,|"
_HEAD = 1 << 16
_MARKS = (
    (codecs.BOM_UTF8, "utf-8-sig"),
    (codecs.BOM_UTF32_LE, "utf-32"),
    (codecs.BOM_UTF16_LE, "utf-16"),
    (codecs.BOM_UTF16_BE, "utf-16"),
)


class CsvBook:
    """An open CSV. Rows are numbered by the line they begin on, as an editor shows it."""

    kind = "CSV"

    def __init__(self, path: Path, encoding: str = "") -> None:
        self.file = path.name
        self._path = path
        self._size = max(1, path.stat().st_size)
        if self._size > LARGEST_FILE:
            raise refuse("IMP-004", f"the file has {self._size / 1e6:.0f} MB", self.file, "at most 2000 MB", "Split it")
        with path.open("rb") as stream:
            head = stream.read(_HEAD)
        self._encoding = encoding or next((name for mark, name in _MARKS if head.startswith(mark)), "utf-8")
        try:
            codecs.lookup(self._encoding)
        except LookupError as error:
            raise refuse(
                "IMP-007", f"the encoding '{encoding}' is not known", self.file, "one such as utf-8 or cp1252"
            ) from error
        text = head.decode(self._encoding, errors="replace")
        self._separator, self._skip = _find_separator(text, self.file)
        self.sheets = (SheetInfo("", "", self._size),)
        self.notes: tuple[Reason, ...] = ()
        self._raw: io.BufferedReader | None = None
        self._share = 0.0

    def close(self) -> None:
        """Let go of the file."""
        if self._raw is not None:
            self._raw.close()

    def share_read(self) -> float:
        """Give the share of the file that was read so far."""
        return self._share

    def merged(self, sheet: SheetInfo) -> tuple[Merged, ...]:
        """Give no merged cells: CSV has none."""
        del sheet
        return ()

    def rows(self, sheet: SheetInfo) -> Generator[Row]:
        """Give the rows that hold anything, top to bottom."""
        del sheet
        self.close()
        self._raw = self._path.open("rb")
        text = io.TextIOWrapper(self._raw, encoding=self._encoding, newline="")
        lines = _checked(text, self.file)
        reader = csv.reader(lines, delimiter=self._separator)
        begins = 1
        try:
            for fields in reader:
                number, begins = begins, reader.line_num + 1
                if number % 256 == 1:
                    self._share = min(1.0, self._raw.tell() / self._size)
                if number <= self._skip:
                    continue
                cells: list[Value] = [field or None for field in fields]
                while cells and cells[-1] is None:
                    cells.pop()
                if cells:
                    check_width(len(cells), number, self.file)
                    yield Row(number, cells)
        except UnicodeDecodeError as error:
            raise _not_text(error, self.file, begins, self._encoding) from error
        except csv.Error as error:
            raise refuse(
                "IMP-008",
                f"the table cannot be read on: {error}",
                f"{self.file}, line {begins}",
                "quotes that are closed again",
                "Look for a quote that is not closed",
            ) from error
        finally:
            text.close()


def _checked(text: Iterator[str], where: str) -> Iterator[str]:
    for number, line in enumerate(text, start=1):
        if "\0" in line:
            raise refuse(
                "IMP-008",
                "a NUL character stands in the table",
                f"{where}, line {number}",
                "plain text",
                "Save it again as CSV UTF-8",
            )
        yield line


def _not_text(error: UnicodeDecodeError, where: str, line: int, encoding: str) -> FirstliftError:
    odd = " ".join(f"{byte:02X}" for byte in error.object[error.start : error.start + 3])
    return refuse(
        "IMP-007",
        f"the file is not text in {encoding.upper().replace('-SIG', '')}: bytes {odd}",
        f"{where}, soon after line {line}",
        "text in a known encoding",
        "Save it as CSV UTF-8, or name its encoding, such as --encoding cp1252",
    )


def _find_separator(head: str, where: str) -> tuple[str, int]:
    """Give the separator and how many lines stand before the table: "sep=;" is a line of its own."""
    lines = [line for line in head.splitlines()[:40] if line.strip()]
    if not lines:
        raise refuse("IMP-001", "the file is empty", where, "a table with a heading row")
    if lines[0].lower().startswith("sep=") and len(lines[0]) == 5:
        return lines[0][4], 1
    best = max(_SEPARATORS, key=lambda separator: _evenness(lines, separator))
    return best, 0


def _evenness(lines: list[str], separator: str) -> float:
    """Weigh a separator: how many columns it makes, counted only as far as the lines agree."""
    widths = [len(fields) for fields in csv.reader(lines, delimiter=separator)]
    if not widths:
        return 0.0
    common = max(set(widths), key=lambda width: (widths.count(width), width))
    return 0.0 if common < 2 else widths.count(common) / len(widths) + common / 1000.0
