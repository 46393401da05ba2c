"""Spreadsheets made in code: ordinary ones, and ones that no honest program writes."""

import csv
import io
import zipfile

HEADINGS = ["Owner", "Site", "Tag", "Serial No.", "Medium", "Set pressure [bar]"]
GOOD = [
    ["Marrow Bay Energy", "North", "PSV-1001", "S-1", "gas", 10.5],
    ["Marrow Bay Energy", "North", "PSV-1002", "S-2", "steam", 12],
    ["Marrow Bay Energy", "South", "PSV-2001", "S-3", "water", 8],
]
_TYPES = (
    '<Types xmlns="http://schemas.openxmlformats.org/package/2006/content-types">'
    '<Default Extension="xml" ContentType="application/xml"/></Types>'
)
_REL = "http://schemas.openxmlformats.org/officeDocument/2006/relationships"
_MAIN = "http://schemas.openxmlformats.org/spreadsheetml/2006/main"
_PACKAGE = "http://schemas.openxmlformats.org/package/2006/relationships"


def relations(*pairs):
    inner = "".join(
        f'<Relationship Id="rId{n}" Type="{_REL}/{kind}" Target="{target}"/>'
        for n, (kind, target) in enumerate(pairs, 1)
    )
    return f'<Relationships xmlns="{_PACKAGE}">{inner}</Relationships>'


def text_cell(value):
    escaped = str(value).replace("&", "&amp;").replace("<", "&lt;")
    return f't="inlineStr"><is><t xml:space="preserve">{escaped}</t></is>'


def cell(column, row, value):
    """Give a cell's XML; a text that begins with '<' is taken as it stands."""
    ref = f'<c r="{column}{row}" '
    if isinstance(value, str) and value.startswith("<"):
        return ref + ">" + value[1:] + "</c>" if value.startswith("<>") else ref[:-1] + value[1:] + "</c>"
    if isinstance(value, str):
        return ref + text_cell(value) + "</c>"
    return "" if value is None else f"{ref}><v>{value!r}</v></c>"


def letters(index):
    out = ""
    while index:
        index, rest = divmod(index - 1, 26)
        out = chr(65 + rest) + out
    return out


def sheet_xml(rows, *, merged=(), head=""):
    body = "".join(
        f'<row r="{n}">' + "".join(cell(letters(c), n, value) for c, value in enumerate(row, 1)) + "</row>"
        for n, row in enumerate(rows, 1)
    )
    blocks = "".join(f'<mergeCell ref="{ref}"/>' for ref in merged)
    merges = f'<mergeCells count="{len(merged)}">{blocks}</mergeCells>' if merged else ""
    return f'<?xml version="1.0"?>{head}<worksheet xmlns="{_MAIN}"><sheetData>{body}</sheetData>{merges}</worksheet>'


def write_raw(path, sheets, *, extra=None, workbook_attributes=""):
    """Write a workbook from the XML of its sheets, by name."""
    names = "".join(f'<sheet name="{name}" sheetId="{n}" r:id="rId{n}"/>' for n, name in enumerate(sheets, 1))
    book = f'<workbook xmlns="{_MAIN}" xmlns:r="{_REL}">{workbook_attributes}<sheets>{names}</sheets></workbook>'
    with zipfile.ZipFile(path, "w", zipfile.ZIP_DEFLATED) as archive:
        archive.writestr("[Content_Types].xml", _TYPES)
        archive.writestr("_rels/.rels", relations(("officeDocument", "xl/workbook.xml")))
        archive.writestr("xl/workbook.xml", book)
        pairs = [("worksheet", f"worksheets/sheet{n}.xml") for n in range(1, len(sheets) + 1)]
        archive.writestr("xl/_rels/workbook.xml.rels", relations(*pairs))
        for n, xml in enumerate(sheets.values(), 1):
            archive.writestr(f"xl/worksheets/sheet{n}.xml", xml)
        for name, data in (extra or {}).items():
            archive.writestr(name, data)
    return path


def write_rows(path, rows, **options):
    return write_raw(path, {"Valves": sheet_xml(rows, **options)})


def write_library(path, rows, name="Valves"):
    """Write a workbook as the usual library does."""
    import openpyxl

    book = openpyxl.Workbook()
    sheet = book.active
    sheet.title = name
    for row in rows:
        sheet.append(row)
    book.save(path)
    return path


def write_csv(path, rows, *, delimiter=",", encoding="utf-8"):
    out = io.StringIO()
    csv.writer(out, delimiter=delimiter, lineterminator="\r\n").writerows(rows)
    path.write_bytes(out.getvalue().encode(encoding))
    return path


def with_cell(column, value, row=0):
    """Give the good rows with one cell put in another's place; headings first."""
    rows = [list(one) for one in GOOD]
    rows[row][HEADINGS.index(column)] = value
    return [HEADINGS, *rows]
