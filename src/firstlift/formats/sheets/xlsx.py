"""XLSX: the cells row by row in one pass, never the whole sheet; values as the workbook last computed them.

The rows are parsed here and not by a library, because what must be known of a cell is lost there: a formula
without a value looks empty, merged cells are not told while streaming, and a text that hides in one of a
million columns is not noticed. Formulas, macros and links to other workbooks are never carried out or followed.
"""

from __future__ import annotations

from collections.abc import Generator
from pathlib import Path

from firstlift.formats.sheets.archive import chunks, damaged_part, merged_refs, open_archive
from firstlift.formats.sheets.reason import Reason, Why, because
from firstlift.formats.sheets.seam import Merged, Row, SheetInfo, refuse
from firstlift.formats.sheets.xlsx_cells import CellReader, RowMaker, column_of
from firstlift.formats.sheets.xlsx_parts import guarded_steps, read_date_styles, read_outline, read_strings

_MOST_MERGED = 200_000


class XlsxBook:
    """An open XLSX."""

    kind = "XLSX"

    def __init__(self, path: Path) -> None:
        self.file = path.name
        self._archive = open_archive(path)
        try:
            outline = read_outline(self._archive, self.file)
            self.sheets = outline.sheets
            self._from_1904 = outline.from_1904
            self._date_styles = read_date_styles(self._archive, outline.styles_part, self.file)
            self._strings = read_strings(self._archive, outline.strings_part, self.file)
        except BaseException:
            self._archive.close()
            raise
        self.notes = _notes(self._archive.namelist())
        self._fed = 0
        self._to_feed = max(1, sum(sheet.size for sheet in self.sheets))

    def close(self) -> None:
        """Let go of the file."""
        self._archive.close()

    def share_read(self) -> float:
        """Give the share of the sheets' bytes that was read so far."""
        return min(1.0, self._fed / self._to_feed)

    def merged(self, sheet: SheetInfo) -> tuple[Merged, ...]:
        """Give the merged cells of a sheet."""
        out: list[Merged] = []
        for left, top, right, bottom in merged_refs(self._archive, sheet.part, self.file):
            out.append(Merged(top, bottom, column_of(left), column_of(right)))
            if len(out) > _MOST_MERGED:
                raise refuse(
                    "IMP-004",
                    f"more than {_MOST_MERGED} blocks of cells are merged",
                    f"{self.file}, sheet '{sheet.name}'",
                    "a table without merged cells",
                    "Unmerge them",
                )
        return tuple(out)

    def rows(self, sheet: SheetInfo) -> Generator[Row]:
        """Give the rows of a sheet that hold anything, top to bottom."""
        where = f"{self.file}, sheet '{sheet.name}'"
        cells = CellReader(self._strings, self._date_styles, from_1904=self._from_1904)
        maker = RowMaker(cells, where)
        before = sum(one.size for one in self.sheets[: self.sheets.index(sheet)])
        stream = chunks(self._archive, sheet.part, self.file)
        for fed in guarded_steps(stream, maker.parser, sheet.part, self.file):
            self._fed = before + fed
            yield from maker.take()
        if not maker.seen:
            raise damaged_part(sheet.part, self.file, "it is no sheet of cells")


def _notes(parts: list[str]) -> tuple[Reason, ...]:
    out: list[Reason] = []
    if any(name.endswith("vbaProject.bin") for name in parts):
        out.append(because(Why.MACROS))
    if any("/externalLinks/" in name for name in parts):
        out.append(because(Why.LINKS))
    return tuple(out)
