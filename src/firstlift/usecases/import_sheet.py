"""Bring a spreadsheet into the register: in one transaction, all or nothing, or the good rows by choice."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable, Iterable
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any
from uuid import UUID, uuid4
from zoneinfo import available_timezones

import sqlalchemy as sa

from firstlift.core.errors import FirstliftError, Problem
from firstlift.core.register.choose import search_key
from firstlift.core.register.equipment import Instrument, RegisteredValve
from firstlift.core.register.kinds import NAME_OF
from firstlift.core.register.places import Owner, Position, ProtectedSystem, Site
from firstlift.formats.sheets.book import open_book
from firstlift.formats.sheets.convert import Taken, Trouble, taken_rows
from firstlift.formats.sheets.fields import Takes
from firstlift.formats.sheets.mapping import Mapping as SheetsMapping
from firstlift.formats.sheets.match import plan_book
from firstlift.formats.sheets.plan import BookPlan
from firstlift.store.open import Store
from firstlift.store.tables import TABLES
from firstlift.store.work import Work
from firstlift.usecases.import_entries import EntryMaker, Place, valve_keys

MOST_TROUBLES = 100_000
_CHUNK = 500

Progress = Callable[[float, int], None]


@dataclass(slots=True)
class ImportReport:
    """What came in, and every row that did not, with its reason. ``kept`` says whether anything was kept."""

    plan: BookPlan
    kept: bool = False
    rows_taken: int = 0
    rows_refused: int = 0
    counts: dict[str, int] = field(default_factory=dict)
    troubles: list[Trouble] = field(default_factory=list)
    troubles_beyond: int = 0
    notes: list[str] = field(default_factory=list)

    def add_troubles(self, troubles: list[Trouble]) -> None:
        """Note why a row is not taken."""
        self.rows_refused += 1
        room = MOST_TROUBLES - len(self.troubles)
        self.troubles += troubles[:room]
        self.troubles_beyond += max(0, len(troubles) - room)


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
        seen = _Doubles(report.plan.file)
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
    new_id: Callable[[], UUID] = uuid4,
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
    new_id : callable
        Gives the identifier of each new entry.

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
        maker = EntryMaker(today=at.date(), source=path.name, new_id=new_id)
        try:
            with store.work(at=at, who=who) as work:
                taker = _Taker(work, maker, report, write=True, stop_at_trouble=not take_good_rows)
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


class _Doubles:
    """Finds a tag or serial that stands twice in one file."""

    def __init__(self, file: str) -> None:
        self._file = file
        self._seen: dict[tuple[str, ...], tuple[str, int]] = {}

    def troubles(self, taken: Taken) -> list[Trouble]:
        """Give a trouble for each key that an earlier row has; remember the row's keys where there is none."""
        keys = _keys(taken)
        troubles = [
            Trouble(taken.sheet, taken.row, "", "", said, f"stands in {_spot(self._seen[key])} already")
            for key, said in keys
            if key in self._seen
        ]
        if not troubles:
            for key, _ in keys:
                self._seen[key] = (taken.sheet, taken.row)
        return troubles


def _spot(place: tuple[str, int]) -> str:
    return f"sheet '{place[0]}', row {place[1]}" if place[0] else f"row {place[1]}"


def _keys(taken: Taken) -> list[tuple[tuple[str, ...], str]]:
    values = taken.values
    if taken.takes is Takes.INSTRUMENTS:
        return [(("instrument", search_key(values["serial"])), f"serial {values['serial']}")]
    owner, site = search_key(values["owner"]), search_key(values["site"])
    return [
        (("tag", owner, site, search_key(values["tag"])), f"tag {values['tag']}"),
        (("serial", owner, *valve_keys(values)), f"serial {values['serial']}"),
    ]


class _Taker:
    """Takes rows: in chunks, so that memory stays small and the register is asked once for many rows."""

    def __init__(
        self, work: Work, maker: EntryMaker, report: ImportReport, *, write: bool, stop_at_trouble: bool
    ) -> None:
        self._work, self._maker, self._report = work, maker, report
        self._write, self._stop = write, stop_at_trouble
        self._doubles = _Doubles(report.plan.file)
        self._waiting: list[Taken] = []
        self._owners: dict[str, UUID] = {}
        self._sites: dict[tuple[UUID, str], Place] = {}
        self._systems: dict[tuple[UUID, str], UUID] = {}
        self._zones = available_timezones()

    def take(self, taken: Taken | None, troubles: list[Trouble]) -> None:
        """Take a row, or note why it cannot be taken."""
        if taken is not None and not troubles:
            troubles = [*self._wrong(taken), *self._doubles.troubles(taken)]
        if troubles or taken is None:
            self._refuse(troubles)
            return
        self._report.rows_taken += 1
        self._waiting.append(taken)
        if len(self._waiting) >= _CHUNK:
            self.flush()

    def flush(self) -> None:
        """Write the rows that wait."""
        waiting, self._waiting = self._waiting, []
        valves = self._new(waiting, Takes.VALVES)
        instruments = self._new(waiting, Takes.INSTRUMENTS)
        if not self._write:
            return
        placed = [(row, *self._place(row)) for row in valves]
        self._add(list(self._maker.valves(placed).in_order()))
        self._add([entry for row in instruments for entry in self._maker.instrument(row)])

    def _refuse(self, troubles: list[Trouble]) -> None:
        self._report.add_troubles(troubles)
        if self._stop:
            # nothing will be kept: the rest is read only to name every other trouble
            self._write = False

    def _wrong(self, taken: Taken) -> list[Trouble]:
        values, out = taken.values, list[Trouble]()
        zone = values.get("zone")
        if zone is not None and zone not in self._zones:
            reason = "is no time zone: write one such as Europe/Oslo"
            out.append(Trouble(taken.sheet, taken.row, "", "zone", zone, reason))
        for key in ("last_test_date", "installed_on", "seat_date", "calibration_date"):
            if key in values and values[key] > self._maker.today:
                said = key.replace("_", " ")
                out.append(Trouble(taken.sheet, taken.row, "", said, values[key].isoformat(), "lies in the future"))
        return out

    def _new(self, rows: list[Taken], takes: Takes) -> list[Taken]:
        """Leave out the rows that the register holds already."""
        rows = [row for row in rows if row.takes is takes]
        if not rows:
            return []
        there = self._instruments_there(rows) if takes is Takes.INSTRUMENTS else self._valves_there(rows)
        new: list[Taken] = []
        for row in rows:
            troubles = [
                Trouble(row.sheet, row.row, "", "", said, "is in the register already")
                for key, said in _keys(row)
                if key in there
            ]
            if troubles:
                self._report.rows_taken -= 1
                self._refuse(troubles)
            else:
                new.append(row)
        return new

    def _instruments_there(self, rows: list[Taken]) -> set[tuple[str, ...]]:
        keys = {search_key(row.values["serial"]) for row in rows}
        return {("instrument", key) for (key,) in _known(self._work, Instrument, ("serial_key",), keys)}

    def _valves_there(self, rows: list[Taken]) -> set[tuple[str, ...]]:
        there: set[tuple[str, ...]] = set()
        by_place: dict[tuple[str, str], list[Taken]] = {}
        for row in rows:
            pair = search_key(row.values["owner"]), search_key(row.values["site"])
            by_place.setdefault(pair, []).append(row)
        for (owner, site), group in by_place.items():
            owner_id = self._owner_id(owner)
            if owner_id is None:
                continue
            serials = {search_key(row.values["serial"]) for row in group}
            same = _known(self._work, RegisteredValve, ("serial_key", "maker_key"), serials, owner_id=owner_id)
            there |= {("serial", owner, maker, serial) for serial, maker in same}
            place = self._site(owner_id, site)
            if place is not None:
                tags = {search_key(row.values["tag"]) for row in group}
                found = _known(self._work, Position, ("tag_key",), tags, site_id=place.site_id)
                there |= {("tag", owner, site, tag) for (tag,) in found}
        return there

    def _owner_id(self, key: str) -> UUID | None:
        if key not in self._owners:
            found = self._work.list(Owner, name_key=key)
            if not found:
                return None
            self._owners[key] = found[0].id
        return self._owners[key]

    def _site(self, owner_id: UUID, key: str) -> Place | None:
        if (owner_id, key) not in self._sites:
            found = self._work.list(Site, owner_id=owner_id, name_key=key)
            if not found:
                return None
            self._sites[owner_id, key] = Place(owner_id, found[0].id, found[0].zone)
        return self._sites[owner_id, key]

    def _place(self, row: Taken) -> tuple[Place, UUID | None]:
        """Give a row's site and protected system; make what is new."""
        values = row.values
        owner_key, site_key = search_key(values["owner"]), search_key(values["site"])
        owner_id = self._owner_id(owner_key)
        if owner_id is None:
            owner = self._maker.owner(values["owner"])
            self._add([owner])
            owner_id = self._owners[owner_key] = owner.id
        place = self._site(owner_id, site_key)
        if place is None:
            zone = values.get("zone", "UTC")
            if "zone" not in values:
                self._report.notes.append(f"site '{values['site']}' states no time zone: UTC is taken")
            site = self._maker.site(owner_id, values["site"], zone)
            self._add([site])
            place = self._sites[owner_id, site_key] = Place(owner_id, site.id, zone)
        return place, self._system(place.site_id, values.get("system"))

    def _system(self, site_id: UUID, name: str | None) -> UUID | None:
        if name is None:
            return None
        key = (site_id, search_key(name))
        if key not in self._systems:
            found = [one for one in self._work.list(ProtectedSystem, site_id=site_id) if search_key(one.name) == key[1]]
            if not found:
                found = [self._maker.system(site_id, name)]
                self._add(found)
            self._systems[key] = found[0].id
        return self._systems[key]

    def _add(self, entries: list[Any]) -> None:
        if not entries:
            return
        self._work.add_all(entries)
        counts = self._report.counts
        for entry in entries:
            name = NAME_OF[type(entry)]
            counts[name] = counts.get(name, 0) + 1


def _known(
    work: Work, kind: type[Any], columns: tuple[str, ...], keys: Iterable[str], **equal: UUID
) -> list[tuple[str, ...]]:
    """Ask the register for those of some keys that it holds; the first column is the one looked for."""
    table = TABLES[NAME_OF[kind]]
    query = sa.select(*(table.c[name] for name in columns)).where(table.c[columns[0]].in_(sorted(keys)))
    for name, value in equal.items():
        query = query.where(table.c[name] == value)
    return [tuple(row) for row in work.connection.execute(query)]


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
