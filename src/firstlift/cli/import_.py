"""``firstlift import``: a spreadsheet into the register, with a preview of what goes where."""

from __future__ import annotations

import argparse
import csv
import io
from dataclasses import replace
from pathlib import Path

from firstlift.cli.progress import Progress
from firstlift.cli.show import show
from firstlift.core.errors import Problem, UsageError
from firstlift.formats.sheet_table import did_you_mean
from firstlift.formats.sheets.dates import DateHabit
from firstlift.formats.sheets.fields import Takes, fields_of
from firstlift.formats.sheets.mapping import Mapping, SheetMapping, mapping_text, read_mapping
from firstlift.formats.sheets.numbers import DecimalMark
from firstlift.formats.sheets.plan import SheetPlan, to_mapping
from firstlift.formats.sheets.seam import column_name
from firstlift.usecases.import_sheet import ImportReport, import_sheet, preview_sheet, refused
from firstlift.usecases.register.place import now, opened

_SHOWN_TROUBLES = 20


def run(arguments: argparse.Namespace) -> int:
    """Run the command.

    Parameters
    ----------
    arguments : argparse.Namespace

    Returns
    -------
    int
        0 all rows taken; 1 some rows left out by choice, or a preview that found doubts or troubles.

    Raises
    ------
    FirstliftError
        The file cannot be read, doubts block, rows cannot be taken, or the store refuses.
    """
    mapping = _told(arguments)
    path = Path(arguments.file)
    if arguments.preview:
        with Progress("rows") as progress:
            report = preview_sheet(path, mapping, progress)
        _save(arguments, report)
        show(preview_text(report))
        return 1 if report.plan.blocks or report.rows_refused else 0
    with opened(arguments.store) as store, Progress("rows") as progress:
        report = import_sheet(
            store, path, mapping, at=now(), who="program:import",
            take_good_rows=arguments.take_good_rows, progress=progress,
        )  # fmt: skip
    _save(arguments, report)
    if report.rows_refused and not arguments.take_good_rows:
        raise refused(report)
    show(done_text(report))
    return 1 if report.rows_refused else 0


def _told(arguments: argparse.Namespace) -> Mapping:
    """Lay what the options say over the saved mapping."""
    mapping = read_mapping(Path(arguments.mapping)) if arguments.mapping else Mapping()
    units, constants = _pairs(arguments.unit, "--unit"), _pairs(arguments.constant, "--constant")
    sheets = mapping.sheets
    if all(sheet.name for sheet in sheets):
        sheets = (*sheets, SheetMapping())
    return Mapping(
        tuple(
            replace(sheet, units={**sheet.units, **units}, constants={**sheet.constants, **constants})
            for sheet in sheets
        ),
        DateHabit(arguments.dates) if arguments.dates else mapping.dates,
        DecimalMark(arguments.decimal) if arguments.decimal else mapping.decimal,
        arguments.encoding or mapping.encoding,
    )


def _pairs(texts: list[str], option: str) -> dict[str, str]:
    known = list(dict.fromkeys(key for takes in Takes for key in fields_of(takes)))
    out: dict[str, str] = {}
    for text in texts:
        key, sign, value = text.partition("=")
        key = key.strip().replace(" ", "_").lower()
        if not sign or not value.strip() or key not in known:
            raise UsageError(
                Problem(
                    "IMP-017", f"'{text}' does not say which field is what", option, "FIELD=VALUE",
                    did_you_mean(key, known) or f"Fields are {', '.join(known)}",
                )
            )  # fmt: skip
        out[key] = value.strip()
    return out


def _save(arguments: argparse.Namespace, report: ImportReport) -> None:
    from firstlift.usecases.certify import write_whole

    if arguments.save_mapping:
        write_whole(Path(arguments.save_mapping), mapping_text(to_mapping(report.plan)).encode())
    if arguments.report:
        out = io.StringIO()
        writer = csv.writer(out, lineterminator="\n")
        writer.writerow(("sheet", "row", "column", "heading", "value", "reason"))
        for one in report.troubles:
            cells = (one.sheet, one.row, one.column, one.heading, one.value, one.reason)
            # a cell that begins like a formula would be one again where this file is opened
            writer.writerow([f"'{c}" if str(c)[:1] in ("=", "+", "-", "@") else c for c in cells])
        write_whole(Path(arguments.report), out.getvalue().encode("utf-8-sig"))


def preview_text(report: ImportReport) -> str:
    """Word a preview: what goes where, samples, doubts, and the rows that cannot be taken.

    Parameters
    ----------
    report : ImportReport

    Returns
    -------
    str
    """
    plan = report.plan
    lines = [f"{plan.file} ({plan.kind})"]
    lines += [f"  note: {note}" for note in plan.notes]
    for sheet in plan.sheets:
        lines += ["", *_sheet_lines(sheet)]
    lines += [f"\nsheet '{name}' is left out: {why}" for name, why in plan.skipped]
    if plan.blocks:
        lines += ["", "To be settled first:", *(f"  {problem.sentence()}" for problem in plan.blocks)]
        return "\n".join(lines)
    lines += ["", f"{report.rows_taken} rows can be taken, {report.rows_refused} cannot."]
    return "\n".join(lines + _trouble_lines(report))


def _sheet_lines(sheet: SheetPlan) -> list[str]:
    name = f"sheet '{sheet.sheet.name}': " if sheet.sheet.name else ""
    lines = [f"{name}{sheet.takes}, headings in row {sheet.header_row}"]
    rows = [
        (
            column_name(column.index),
            column.heading,
            column.field.shown + (f" [{column.unit}]" if column.unit else ""),
            " | ".join(column.samples),
        )
        for column in sheet.columns
    ]
    widths = [max((len(row[at]) for row in rows), default=0) for at in range(3)]
    for letters, heading, field, samples in rows:
        shown = f"  {letters:>{widths[0]}}  {heading:<{widths[1]}}  ->  {field:<{widths[2]}}  {samples}"
        lines.append(shown.rstrip())
    for key, value in sheet.constants.items():
        lines.append(f"  all rows: {key.replace('_', ' ')} = {value}")
    for left in sheet.left_out:
        hint = f" (did you mean {left.hint}? name it in a mapping)" if left.hint else ""
        lines.append(f"  {column_name(left.index)}  {left.heading}: not taken{hint}")
    if sheet.merged:
        lines.append(f"  note: {len(sheet.merged)} blocks of cells are merged")
    return lines + [f"  note: {note}" for note in sheet.notes]


def _trouble_lines(report: ImportReport) -> list[str]:
    lines = [f"  {trouble.sentence()}" for trouble in report.troubles[:_SHOWN_TROUBLES]]
    more = len(report.troubles) + report.troubles_beyond - len(lines)
    return lines + ([f"  and {more} more: --report FILE.csv writes them all"] if more else [])


def done_text(report: ImportReport) -> str:
    """Word what an import kept.

    Parameters
    ----------
    report : ImportReport

    Returns
    -------
    str
    """
    counted = [(count, name.replace("_", " ")) for name, count in report.counts.items()]
    kinds = ", ".join(f"{count} {name}{'' if count == 1 else 's'}" for count, name in counted)
    lines = [f"{report.rows_taken} rows taken: {kinds or 'nothing new'}."]
    lines += [f"  note: {note}" for note in (*report.plan.notes, *report.notes)]
    if report.rows_refused:
        lines += [f"{report.rows_refused} rows left out:", *_trouble_lines(report)]
    return "\n".join(lines)
