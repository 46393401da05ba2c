"""The parts of an XLSX around its cells: names of sheets, shared texts, and which number formats mean a date."""

from __future__ import annotations

import datetime as dt
import posixpath
import re
import zipfile
from collections.abc import Generator
from dataclasses import dataclass
from typing import Any
from xml.parsers import expat

from firstlift.formats.sheets.archive import LARGEST_STRINGS, chunks, damaged_part, local, small_part
from firstlift.formats.sheets.reason import Why, because
from firstlift.formats.sheets.seam import SheetInfo, Unreadable, refuse

# built-in number formats that show a date or time, European and East Asian ones included [ECMA-376-1, 18.8.30]
_DATE_FORMATS = frozenset({*range(14, 23), *range(27, 37), *range(45, 48), *range(50, 59)})
_QUOTED = re.compile(r'"[^"]*"|\\.|_.|\*.|\[[^\]]*\]')
_LAST_DAY = 2_958_465  # 31 December 9999
_NAME = re.compile(r"[^\x00-\x1f\x7f]{1,255}")


@dataclass(frozen=True, slots=True)
class Outline:
    """What a workbook says of itself."""

    sheets: tuple[SheetInfo, ...]
    strings_part: str
    styles_part: str
    from_1904: bool


def read_outline(archive: zipfile.ZipFile, where: str) -> Outline:
    """Read which sheets a workbook has and where its parts are.

    Parameters
    ----------
    archive : zipfile.ZipFile
    where : str

    Returns
    -------
    Outline

    Raises
    ------
    FirstliftError
        IMP-002 no workbook of this kind, IMP-003 damaged.
    """
    main = _workbook_part(archive, where)
    folder, name = posixpath.split(main)
    targets, kinds = _relations(archive, f"{folder}/_rels/{name}.rels".lstrip("/"), folder, where)
    root = small_part(archive, main, where)
    sheets: list[SheetInfo] = []
    from_1904 = False
    for item in root.iter():
        tag = local(item.tag)
        if tag == "workbookPr":
            from_1904 = item.get("date1904", "0") in ("1", "true")
        elif tag == "sheet":
            key = next((value for key, value in item.attrib.items() if local(key) == "id" and "}" in key), "")
            part = targets.get(key, "")
            if kinds.get(key) != "worksheet" or part not in archive.namelist():
                continue  # chart sheets and dialogues hold no cells
            title = item.get("name", "")
            if _NAME.fullmatch(title) is None:
                raise damaged_part(main, where, "a sheet has no usable name")
            hidden = item.get("state", "visible") != "visible"
            sheets.append(SheetInfo(title, part, archive.getinfo(part).file_size, hidden))
    by_kind = {kind: targets[key] for key, kind in kinds.items()}
    return Outline(tuple(sheets), by_kind.get("sharedStrings", ""), by_kind.get("styles", ""), from_1904)


def _workbook_part(archive: zipfile.ZipFile, where: str) -> str:
    targets, kinds = _relations(archive, "_rels/.rels", "", where)
    for key, kind in kinds.items():
        if kind == "officeDocument":
            part = targets[key]
            if part.endswith(".bin"):
                raise refuse("IMP-002", "this is a binary workbook (XLSB)", where, "XLSX or CSV", "Save it as XLSX")
            if part in archive.namelist() and local(small_part(archive, part, where).tag) == "workbook":
                return part
    raise refuse("IMP-002", "this is no workbook", where, "XLSX or CSV", "Save the table as XLSX or CSV")


def _relations(archive: zipfile.ZipFile, part: str, folder: str, where: str) -> tuple[dict[str, str], dict[str, str]]:
    """Give target and kind of each relation by its id; what lies outside the file is left out."""
    targets: dict[str, str] = {}
    kinds: dict[str, str] = {}
    if part not in archive.namelist():
        raise refuse("IMP-002", "this ZIP is no workbook", where, "XLSX or CSV", "Save the table as XLSX or CSV")
    for item in small_part(archive, part, where):
        target = item.get("Target", "")
        if item.get("TargetMode") == "External" or not target:
            continue
        key = item.get("Id", "")
        targets[key] = target.lstrip("/") if target.startswith("/") else posixpath.normpath(f"{folder}/{target}")
        targets[key] = targets[key].lstrip("/")
        kinds[key] = item.get("Type", "").rpartition("/")[2]
    return targets, kinds


def read_date_styles(archive: zipfile.ZipFile, part: str, where: str) -> frozenset[str]:
    """Give the cell styles that show a number as a date, as their index is written.

    Parameters
    ----------
    archive : zipfile.ZipFile
    part : str
        Empty where the workbook has no styles.
    where : str

    Returns
    -------
    frozenset of str
    """
    if not part or part not in archive.namelist():
        return frozenset()
    root = small_part(archive, part, where)
    own = {
        item.get("numFmtId", ""): _means_date(item.get("formatCode", ""))
        for item in root.iter()
        if local(item.tag) == "numFmt"
    }
    styles = next((item for item in root.iter() if local(item.tag) == "cellXfs"), None)
    out: set[str] = set()
    for index, item in enumerate(styles if styles is not None else ()):
        number = item.get("numFmtId", "0")
        builtin = number.isdecimal() and len(number) < 6 and int(number) in _DATE_FORMATS
        if own.get(number, builtin):
            out.add(str(index))
    return frozenset(out)


def _means_date(code: str) -> bool:
    plain = _QUOTED.sub("", code.split(";")[0]).lower()
    return plain != "general" and re.search(r"[dmyhs]", plain) is not None


def day_of_serial(number: float, *, from_1904: bool) -> dt.datetime | Unreadable:
    """Turn a spreadsheet's day number into a date and time.

    Day 1 is 1 January 1900, and a 29 February 1900 that never was is day 60; or day 0 is 1 January 1904.

    Parameters
    ----------
    number : float
    from_1904 : bool

    Returns
    -------
    datetime or Unreadable
    """
    if not 0.0 <= number < _LAST_DAY:
        return Unreadable(because(Why.DAY_NUMBER_IS_NONE), f"{number:g}")
    if from_1904:
        start = dt.datetime(1904, 1, 1)  # noqa: DTZ001  a spreadsheet's dates have no zone
    else:
        if 60.0 <= number < 61.0:
            return Unreadable(because(Why.DAY_NEVER_WAS), f"{number:g}")
        start = dt.datetime(1899, 12, 30 if number >= 60.0 else 31)  # noqa: DTZ001
    return start + dt.timedelta(milliseconds=round(number * 86_400_000))


def read_strings(archive: zipfile.ZipFile, part: str, where: str) -> list[str]:
    """Read the texts that cells share. They are the only part that is held whole.

    Parameters
    ----------
    archive : zipfile.ZipFile
    part : str
        Empty where there are none.
    where : str

    Returns
    -------
    list of str

    Raises
    ------
    FirstliftError
        IMP-003 damaged, IMP-004 too large.
    """
    if not part or part not in archive.namelist():
        return []
    size = archive.getinfo(part).file_size
    if size > LARGEST_STRINGS:
        raise refuse(
            "IMP-004",
            f"the texts of the workbook take {size / 1e6:.0f} MB",
            f"{where}, {part}",
            f"at most {LARGEST_STRINGS // 10**6} MB",
            "Split the workbook",
        )
    collector = _Strings()
    guarded_parse(chunks(archive, part, where), collector.parser(), part, where)
    return collector.texts


class _Strings:
    """Collects the text of each `si`; phonetic readings (rPh) are no text of the cell."""

    def __init__(self) -> None:
        self.texts: list[str] = []
        self._parts: list[str] = []
        self._taking = False
        self._phonetic = False

    def parser(self) -> Any:
        parser = guarded_parser()
        parser.StartElementHandler = self._start
        parser.EndElementHandler = self._end
        parser.CharacterDataHandler = self._text
        return parser

    def _start(self, name: str, _attributes: dict[str, str]) -> None:
        tag = name.rpartition(":")[2]
        if tag == "si":
            self._parts = []
        elif tag == "rPh":
            self._phonetic = True
        elif tag == "t":
            self._taking = not self._phonetic

    def _end(self, name: str) -> None:
        tag = name.rpartition(":")[2]
        if tag == "t":
            self._taking = False
        elif tag == "rPh":
            self._phonetic = False
        elif tag == "si":
            self.texts.append("".join(self._parts))

    def _text(self, text: str) -> None:
        if self._taking:
            self._parts.append(text)


class ForbiddenXml(Exception):  # noqa: N818  it never leaves this room
    """The part declares a document type: the way to entities that swell or point outside."""


def guarded_parser() -> Any:
    """Make a parser that refuses any document type, and with it every entity and outside reference.

    Returns
    -------
    xml.parsers.expat.XMLParserType
    """

    def forbid(*_: object) -> None:
        raise ForbiddenXml

    parser = expat.ParserCreate()
    parser.buffer_text = True
    parser.StartDoctypeDeclHandler = forbid
    parser.EntityDeclHandler = forbid
    return parser


def guarded_parse(stream: Generator[bytes], parser: Any, part: str, where: str) -> None:
    """Feed a whole part to a parser.

    Parameters
    ----------
    stream : generator of bytes
        Closed at the end.
    parser : xml.parsers.expat.XMLParserType
    part, where : str

    Raises
    ------
    FirstliftError
        IMP-003 no XML, or with a document type.
    """
    for _ in guarded_steps(stream, parser, part, where):
        pass


def guarded_steps(stream: Generator[bytes], parser: Any, part: str, where: str) -> Generator[int]:
    """Feed a part to a parser bit by bit.

    Parameters
    ----------
    stream : generator of bytes
        Closed at the end.
    parser : xml.parsers.expat.XMLParserType
    part, where : str

    Yields
    ------
    int
        Bytes fed so far.

    Raises
    ------
    FirstliftError
        IMP-003 no XML, or with a document type.
    """
    fed = 0
    try:
        for data in stream:
            parser.Parse(data, False)
            fed += len(data)
            yield fed
        parser.Parse(b"", True)
    except ForbiddenXml as error:
        raise damaged_part(part, where, "it declares entities or a document type") from error
    except (expat.ExpatError, ValueError, LookupError) as error:
        raise damaged_part(part, where, f"no XML: {error}") from error
    finally:
        stream.close()
    yield fed
