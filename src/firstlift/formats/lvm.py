"""LabVIEW measurement files (.lvm): text in segments, each with a heading that states units, start and step.

A file begins with a heading of its own; segments follow. Which time base a channel has is judged by
`firstlift.formats.lvm_channels`.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass, field
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from firstlift.core.errors import FirstliftError, Problem
from firstlift.formats.csv_table import parse_rows
from firstlift.formats.csv_values import numbers_of
from firstlift.formats.lvm_channels import Segment, channels_of
from firstlift.formats.seam import BadValue, Guess, Source
from firstlift.formats.text_layout import GAP_TEXTS, Layout, split_row, to_utf8

NAME = "LVM"
_MARK = "LabVIEW Measurement"
_END = "***End_of_Header***"
_SPECIAL = ("***Start_Special***", "***End_Special***")
_SEPARATORS = {"tab": "\t", "comma": ",", "semicolon": ";"}
_DECIMALS = (".", ",")


def sniff(head: bytes, name: str) -> Guess:
    """Say whether the first bytes are a LabVIEW measurement file's, and why.

    Parameters
    ----------
    head : bytes
    name : str

    Returns
    -------
    Guess
    """
    if (to_utf8(head[:200]) or b"").lstrip().startswith(_MARK.encode()):
        return Guess(NAME, 1.0, f"begins with '{_MARK}'")
    ending = ", though its name says so" if name.lower().endswith(".lvm") else ""
    return Guess(NAME, 0.0, f"does not begin with '{_MARK}'{ending}")


def open_file(path: Path) -> Source:
    """Open a LabVIEW measurement file.

    Parameters
    ----------
    path : Path

    Returns
    -------
    Source
        Channels by the names above their columns; "X_Value" is one of them where the file holds it.

    Raises
    ------
    FirstliftError
        REC-001 cannot be read, REC-003 no text, REC-005 no samples or a heading that cannot be followed,
        REC-006 too many values that are no numbers, when the channel is used.
    """
    where = path.name
    try:
        data = to_utf8(path.read_bytes())
    except OSError as error:
        raise FirstliftError(Problem("REC-001", f"the recording cannot be read: {error.strerror}", where)) from error
    if data is None:
        raise FirstliftError(Problem("REC-003", "the recording holds bytes that are no text", where, "a text table"))
    text = data.decode("utf-8", errors="replace")
    reading = _Reading(text.replace("\r\n", "\n").replace("\r", "\n").split("\n"), where)
    reading.read()
    segments = [part for part in reading.segments if part.rows]
    if not segments:
        cut = " before the place where it was cut off" if reading.torn_line else ""
        raise FirstliftError(
            Problem("REC-005", f"the LVM file holds no samples{cut}", where, "at least one segment with samples")
        )
    last = segments[-1]
    stated = max(last.samples.values(), default=0)
    torn = reading.torn_line is not None or 0 < last.rows < stated
    return Source(NAME, channels_of(segments, where), torn=torn, torn_line=reading.torn_line)


@dataclass
class _Reading:
    """A file being read line by line: its heading, then segment after segment."""

    lines: list[str]
    where: str
    at: int = 0
    separator: str = "\t"
    decimal: str = "."
    segments: list[Segment] = field(default_factory=list)
    torn_line: int | None = None

    def read(self) -> None:
        """Read the whole file."""
        self.separator = self._separator()
        tags = self._heading()
        entries = tags.get("decimal_separator", [])
        if self.separator == "," and entries[:2] == ["", ""]:  # a comma that was taken for the separator
            entries = [","]
        self.decimal = entries[0] if entries and entries[0] in _DECIMALS else "."
        if self.decimal == self.separator:
            raise self._lost("separator and decimal sign are both a comma")
        while self._skip_blank():
            before = self.segments[-1] if self.segments else None
            if before is not None and not self._is_heading(before):
                self._block(before.names, before.tags)
                continue
            tags = self._heading()
            if not self._skip_blank():
                return
            names = split_row(self.lines[self.at], self.separator)
            self.at += 1
            self._block(tuple(names), tags)

    def _separator(self) -> str:
        for line in self.lines[:40]:
            match = re.match(r"Separator(.)\s*(\w+)", line, re.IGNORECASE)
            if match:
                return _SEPARATORS.get(match[2].lower(), match[1])
        raise self._lost("its heading names no separator")

    def _heading(self) -> dict[str, list[str]]:
        """Read tags up to the end of a heading; the lines of special blocks belong to others."""
        tags: dict[str, list[str]] = {}
        special = False
        while self.at < len(self.lines):
            fields = split_row(self.lines[self.at], self.separator)
            self.at += 1
            tag = fields[0] if fields else ""
            if tag in _SPECIAL:
                special = tag == _SPECIAL[0]
            elif tag == _END:
                return tags
            elif tag and not special:
                tags[tag.lower()] = fields[1:]
        self.torn_line = len(self.lines)
        return tags

    def _skip_blank(self) -> bool:
        """Go to the next line that holds anything; False at the end of the file."""
        while self.at < len(self.lines) and not self.lines[self.at].strip(f"{self.separator} "):
            self.at += 1
        return self.at < len(self.lines)

    def _is_heading(self, before: Segment) -> bool:
        """Tell whether a heading begins here, rather than more rows of the segment before."""
        first = next((field for field in split_row(self.lines[self.at], self.separator) if field), "")
        values, wrong = numbers_of([first], self.decimal)
        return bool(wrong.size) and first.lower() not in GAP_TEXTS and values.size == 1 and bool(before.names)

    def _block(self, names: tuple[str, ...], tags: Mapping[str, list[str]]) -> None:
        """Read rows down to the next blank line; a last line that was not finished is the tear."""
        first = self.at
        while self.at < len(self.lines) and self.lines[self.at].strip():
            self.at += 1
        rows = self.lines[first : self.at]
        if rows and self.at == len(self.lines) and not self._is_finished(rows, tags):
            rows.pop()
            self.torn_line = self.at
        width = max(len(names), *(row.count(self.separator) + 1 for row in rows), 1) if rows else len(names)
        values, bad = self._values(rows, names, width, first + 1)
        self.segments.append(Segment(names, dict(tags), values, bad, len(rows), self.decimal))

    def _is_finished(self, rows: list[str], tags: Mapping[str, list[str]]) -> bool:
        """Tell whether the file's last line, which has no end of line, is whole all the same."""
        stated = [int(text) for text in tags.get("samples", []) if text.isdigit()]
        if len(rows) != max(stated, default=-1) or len(rows) < 2:
            return False
        last, above = (split_row(row, self.separator) for row in (rows[-1], rows[-2]))
        decimals = [row[-1].partition(self.decimal)[2] for row in (last, above)]
        return len(last) == len(above) and len(decimals[0]) == len(decimals[1])

    def _values(
        self, rows: list[str], names: tuple[str, ...], width: int, line: int
    ) -> tuple[list[NDArray[np.float64]], list[tuple[BadValue, ...]]]:
        """Read a block column by column: in bulk, or field by field where that fails."""
        full = [row + self.separator * (width - 1 - row.count(self.separator)) for row in rows]
        columns = len(names)
        kinds = tuple("text" if n >= columns or names[n].lower() == "comment" else "number" for n in range(width))
        padded = tuple(str(n) for n in range(width))
        layout = Layout(self.separator, self.decimal, padded, (None,) * width, 0, line, kinds)
        table = parse_rows("\n".join(full).encode() + b"\n", layout, numbers=True) if rows else None
        if table is not None and table.num_rows == len(rows):
            bulk = [
                np.array(table.column(n).to_numpy()) if kinds[n] == "number" else np.full(len(rows), np.nan)
                for n in range(columns)
            ]
            return [np.where(np.isfinite(column), column, np.nan) for column in bulk], [()] * columns
        split = [split_row(row, self.separator) for row in full]
        values: list[NDArray[np.float64]] = []
        bad: list[tuple[BadValue, ...]] = []
        for n in range(columns):
            texts = [row[n] if n < len(row) and kinds[n] == "number" else "" for row in split]
            column, wrong = numbers_of(texts, self.decimal)
            values.append(column)
            bad.append(tuple(BadValue(int(row), line + int(row), texts[int(row)][:60]) for row in wrong))
        return values, bad

    def _lost(self, why: str) -> FirstliftError:
        return FirstliftError(
            Problem("REC-005", f"the LVM file cannot be followed: {why}", self.where, "a heading as LabVIEW writes it")
        )
