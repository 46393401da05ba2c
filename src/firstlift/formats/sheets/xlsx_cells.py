"""From the parser's events to rows: the innermost loop of reading an XLSX, written to be fast."""

from __future__ import annotations

from firstlift.formats.sheets.reason import Why, because
from firstlift.formats.sheets.seam import (
    LONGEST_CELL,
    MOST_ROWS,
    Row,
    Unreadable,
    Value,
    check_width,
    refuse,
)
from firstlift.formats.sheets.xlsx_parts import day_of_serial, guarded_parser

# the parser hands text over in pieces of a few kB: so many of them are far beyond the longest cell
_MOST_PIECES = 200


def column_of(letters: str) -> int:
    """Give a column's number: A is 1, AA is 27.

    Parameters
    ----------
    letters : str

    Returns
    -------
    int
    """
    number = 0
    for letter in letters:
        number = number * 26 + ord(letter) - 64
    return number


class CellReader:
    """Turns a cell's kind, style and text into its value."""

    def __init__(self, strings: list[str], date_styles: frozenset[str], *, from_1904: bool) -> None:
        self._strings, self._date_styles, self._from_1904 = strings, date_styles, from_1904

    def value(self, kind: str, style: str, text: str) -> Value:
        """Give the value of a cell whose text is not empty.

        Parameters
        ----------
        kind, style, text : str

        Returns
        -------
        Value
        """
        if kind == "s":
            try:
                text = self._strings[int(text)] if text[:1] != "-" else ""
            except (ValueError, IndexError):
                return Unreadable(because(Why.TEXT_NOT_THERE), text)
        if kind in ("s", "str", "inlineStr"):
            if len(text) > LONGEST_CELL:
                return Unreadable(because(Why.TEXT_ENDLESS, found=len(text)), text[:40])
            return text or None
        return self._number(style, text) if kind == "n" else _other(kind, text)

    def _number(self, style: str, text: str) -> Value:
        try:
            number = float(text)
        except ValueError:
            return Unreadable(because(Why.NUMBER_IS_NONE), text[:40])
        if number - number != 0.0:  # infinite or not a number
            return Unreadable(because(Why.NUMBER_NOT_FINITE), text[:40])
        return day_of_serial(number, from_1904=self._from_1904) if style in self._date_styles else number


def _other(kind: str, text: str) -> Value:
    """Give the value of the rarer kinds: truth values, errors, dates as text."""
    if kind == "b":
        return text.strip() in ("1", "true")
    if kind == "d":
        return text
    if kind == "e":
        return Unreadable(because(Why.SPREADSHEET_ERROR), text[:40])
    return Unreadable(because(Why.CELL_UNKNOWN, kind=kind[:20]), text[:40])


class RowMaker:
    """Makes rows of the parser's events; a prefix before the tags is allowed, the same one throughout."""

    def __init__(self, cells: CellReader, where: str) -> None:
        self.seen = False
        self.parser = guarded_parser()
        self.parser.StartElementHandler = self._first
        self._value_of, self._where = cells.value, where
        self._rows: list[Row] = []
        self._pieces: list[str] = []
        self._columns: dict[str, int] = {}
        self._row = self._column = 0
        self._kind, self._style, self._text, self._formula = "n", "", "", ""
        self._cells: list[Value] = []

    def take(self) -> list[Row]:
        """Hand over the rows that are ready.

        Returns
        -------
        list of Row

        Raises
        ------
        FirstliftError
            IMP-004 a text without end.
        """
        if len(self._pieces) > _MOST_PIECES:
            raise refuse(
                "IMP-004", "a cell holds a text without end", self._where, f"at most {LONGEST_CELL} characters"
            )
        ready, self._rows = self._rows, []
        return ready

    def _first(self, name: str, _attributes: dict[str, str]) -> None:
        """See the root: from here on every tag is known by its whole name."""
        prefix, colon, tag = name.rpartition(":")
        if tag != "worksheet":
            return
        self.seen = True
        names = (prefix + colon + tag for tag in ("row", "c", "v", "t", "f"))
        self._row_tag, self._c_tag, self._v_tag, self._t_tag, self._f_tag = names
        self.parser.StartElementHandler = self._start
        self.parser.EndElementHandler = self._end
        self.parser.CharacterDataHandler = self._pieces.append

    def _start(self, tag: str, attributes: dict[str, str]) -> None:
        if tag == self._c_tag:
            self._kind, self._style = attributes.get("t", "n"), attributes.get("s", "")
            self._text = self._formula = ""
            reference = attributes.get("r")
            if reference is None:
                self._column += 1
            else:
                letters = reference.rstrip("0123456789")
                known = self._columns.get(letters)
                if known is None:
                    known = self._columns[letters] = _known_column(letters, self._where)
                self._column = known
        elif tag == self._v_tag or tag == self._t_tag:
            self._pieces.clear()
        elif tag == self._f_tag:
            self._pieces.clear()
            self._formula = " "
        elif tag == self._row_tag:
            self._row = _row_number(attributes.get("r"), self._row, self._where)
            self._column, self._cells = 0, []

    def _end(self, tag: str) -> None:
        if tag == self._c_tag:
            self._pieces.clear()
            if self._text:
                self._put(self._value_of(self._kind, self._style, self._text))
            elif self._formula and self._kind != "str":
                self._put(Unreadable(because(Why.FORMULA_WITHOUT_VALUE), self._formula.strip()[:40]))
        elif tag == self._v_tag:
            self._text = "".join(self._pieces)
        elif tag == self._t_tag:
            self._text += "".join(self._pieces)
        elif tag == self._f_tag:
            self._formula = "=" + "".join(self._pieces)
        elif tag == self._row_tag:
            self._pieces.clear()
            if self._cells:
                self._rows.append(Row(self._row, self._cells))

    def _put(self, value: Value) -> None:
        """Put a cell in its place; blank ones before it are filled in."""
        if value is None:
            return
        missing = self._column - len(self._cells) - 1
        if missing < 0:
            self._cells[self._column - 1] = value
            return
        check_width(self._column, self._row, self._where)
        if missing:
            self._cells.extend([None] * missing)
        self._cells.append(value)


def _known_column(letters: str, where: str) -> int:
    if not letters.isascii() or not letters.isalpha() or not letters.isupper() or len(letters) > 3:
        raise refuse("IMP-003", f"the workbook is damaged: a cell says it stands in column '{letters[:20]}'", where)
    return column_of(letters)


def _row_number(stated: str | None, before: int, where: str) -> int:
    number = before + 1
    if stated is not None:
        number = int(stated) if stated.isascii() and stated.isdigit() and len(stated) <= 7 else 0
    if not before < number <= MOST_ROWS:
        raise refuse(
            "IMP-003", f"the workbook is damaged: row '{(stated or '')[:20]}' follows row {before}", where,
            "rows that follow one another", "Open it and save it again",
        )  # fmt: skip
    return number
