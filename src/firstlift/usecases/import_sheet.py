"""Bring a spreadsheet into the register: in one transaction, all or nothing, or the good rows by choice."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable
from pathlib import Path
from uuid import UUID

from firstlift.core.errors import FirstliftError, Problem
from firstlift.formats.sheets.book import open_book
from firstlift.formats.sheets.convert import taken_rows
from firstlift.formats.sheets.mapping import Mapping as SheetsMapping
from firstlift.formats.sheets.match import plan_book
from firstlift.store.open import Store
from firstlift.usecases.import_entries import EntryMaker, ordered_ids
from firstlift.usecases.import_taker import Doubles, ImportReport, Taker

Progress = Callable[[float, int], None]


def preview_sheet(path: Path, mapping: SheetsMapping, progress: Progress | None = None) -> ImportReport:
    """Say what an import would do with a spreadsheet, as far as the file alone tells; nothing is written.

    Parameters
    ----------
    path : Path
    mapping : SheetsMapping
    progress : callable, optional
        Called with the share done and the rows read.

    Returns
    -------
    ImportReport
        Where doubts block (``plan.blocks``), the rows were not read.

    Raises
    ------
    FirstliftError
        The file cannot be read.
    """
    book = open_book(path, encoding=mapping.encoding)
    try:
        report = ImportReport(plan_book(book, mapping))
        if report.plan.blocks:
            return report
        seen = Doubles(report.plan.file)
        for sheet in report.plan.sheets:
            for taken, troubles in taken_rows(book, sheet):
                troubles = troubles or (seen.troubles(taken) if taken else [])
                if troubles:
                    report.add_troubles(troubles)
                else:
                    report.rows_taken += 1
                _tell(progress, book.share_read(), report)
        return report
    finally:
        book.close()


def import_sheet(
    store: Store,
    path: Path,
    mapping: SheetsMapping,
    *,
    at: dt.datetime,
    who: str,
    take_good_rows: bool = False,
    progress: Progress | None = None,
    new_id: Callable[[], UUID] | None = None,
) -> ImportReport:
    """Bring a spreadsheet in.

    Parameters
    ----------
    store : Store
    path : Path
    mapping : SheetsMapping
    at : datetime
        The moment of the import; dates that rows do not state are its day.
    who : str
    take_good_rows : bool
        Keep the rows that can be taken where others cannot; else one bad row keeps everything out.
    progress : callable, optional
        Called with the share done and the rows read.
    new_id : callable, optional
        Gives the identifier of each new entry; ordered by the moment where not given.

    Returns
    -------
    ImportReport

    Raises
    ------
    FirstliftError
        The file cannot be read, doubts about its columns block (IMP-011 to IMP-014), or the store refuses.
    """
    book = open_book(path, encoding=mapping.encoding)
    try:
        report = ImportReport(plan_book(book, mapping))
        if report.plan.blocks:
            raise FirstliftError(report.plan.blocks)
        maker = EntryMaker(today=at.date(), source=path.name, new_id=new_id or ordered_ids(at))
        try:
            with store.work(at=at, who=who) as work:
                taker = Taker(work, maker, report, write=True, stop_at_trouble=not take_good_rows)
                for sheet in report.plan.sheets:
                    for taken, troubles in taken_rows(book, sheet):
                        taker.take(taken, troubles)
                        _tell(progress, book.share_read(), report)
                    taker.flush()
                if report.troubles and not take_good_rows:
                    raise _NothingKeptError
        except _NothingKeptError:
            report.counts.clear()
            return report
        report.kept = report.rows_taken > 0
        return report
    finally:
        book.close()


class _NothingKeptError(Exception):
    """Ends the transaction without a trace."""


def _tell(progress: Progress | None, share: float, report: ImportReport) -> None:
    rows = report.rows_taken + report.rows_refused
    if progress is not None and rows % 200 == 0:
        progress(share, rows)


def refused(report: ImportReport) -> FirstliftError:
    """Give the error that says why nothing was kept: each trouble of the first fifty, and how many there are.

    Parameters
    ----------
    report : ImportReport

    Returns
    -------
    FirstliftError
    """
    file = report.plan.file
    shown = [Problem("IMP-015", trouble.sentence(), file) for trouble in report.troubles[:50]]
    more = len(report.troubles) + report.troubles_beyond - len(shown)
    last = Problem(
        "IMP-016",
        f"{report.rows_refused} of {report.rows_refused + report.rows_taken} rows cannot be taken, so nothing was kept"
        + (f"; {more} more troubles are not shown here" if more else ""),
        file,
        "rows that can be taken",
        "Correct them, or import again with --take-good-rows; --report FILE.csv writes every trouble to a file",
    )
    return FirstliftError([*shown, last])
