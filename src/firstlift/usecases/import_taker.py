"""Take the rows of a spreadsheet into a unit of work: doubles found, in chunks, each trouble noted."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field
from typing import Any
from uuid import UUID
from zoneinfo import available_timezones

import sqlalchemy as sa

from firstlift.core.register.choose import search_key
from firstlift.core.register.equipment import Instrument, RegisteredValve
from firstlift.core.register.kinds import NAME_OF
from firstlift.core.register.places import Owner, Position, ProtectedSystem, Site
from firstlift.formats.sheets.convert import Taken, Trouble
from firstlift.formats.sheets.fields import Takes
from firstlift.formats.sheets.plan import BookPlan
from firstlift.formats.sheets.reason import Reason, Why, because
from firstlift.store.tables import TABLES
from firstlift.store.work import Work
from firstlift.usecases.import_entries import EntryMaker, Place, valve_keys

MOST_TROUBLES = 100_000
_CHUNK = 500


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
    notes: list[Reason] = field(default_factory=list)

    def add_troubles(self, troubles: list[Trouble]) -> None:
        """Note why a row is not taken."""
        self.rows_refused += 1
        room = MOST_TROUBLES - len(self.troubles)
        self.troubles += troubles[:room]
        self.troubles_beyond += max(0, len(troubles) - room)


class Doubles:
    """Finds a tag or serial that stands twice in one file."""

    def __init__(self, file: str) -> None:
        self._file = file
        self._seen: dict[tuple[str, ...], tuple[str, int]] = {}

    def troubles(self, taken: Taken) -> list[Trouble]:
        """Give a trouble for each key that an earlier row has; remember the row's keys where there is none."""
        keys = _keys(taken)
        troubles = [
            Trouble(taken.sheet, taken.row, "", "", said, _stands_in(*self._seen[key]), named)
            for key, named, said in keys
            if key in self._seen
        ]
        if not troubles:
            for key, _, _ in keys:
                self._seen[key] = (taken.sheet, taken.row)
        return troubles


def _stands_in(sheet: str, row: int) -> Reason:
    return because(Why.DOUBLE_ROW_OF_SHEET, sheet=sheet, row=row) if sheet else because(Why.DOUBLE_ROW, row=row)


def _keys(taken: Taken) -> list[tuple[tuple[str, ...], str, str]]:
    """Give what no two rows share, the field that says it, and what stands there."""
    values = taken.values
    if taken.takes is Takes.INSTRUMENTS:
        return [(("instrument", search_key(values["serial"])), "serial", values["serial"])]
    owner, site = search_key(values["owner"]), search_key(values["site"])
    return [
        (("tag", owner, site, search_key(values["tag"])), "tag", values["tag"]),
        (("serial", owner, *valve_keys(values)), "serial", values["serial"]),
    ]


class Taker:
    """Takes rows: in chunks, so that memory stays small and the register is asked once for many rows."""

    def __init__(
        self, work: Work, maker: EntryMaker, report: ImportReport, *, write: bool, stop_at_trouble: bool
    ) -> None:
        self._work, self._maker, self._report = work, maker, report
        self._write, self._stop = write, stop_at_trouble
        self._doubles = Doubles(report.plan.file)
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
            out.append(Trouble(taken.sheet, taken.row, "", "zone", zone, because(Why.NO_TIME_ZONE), "zone"))
        for key in ("last_test_date", "installed_on", "seat_date", "calibration_date"):
            if key in values and values[key] > self._maker.today:
                said, day = key.replace("_", " "), values[key].isoformat()
                out.append(Trouble(taken.sheet, taken.row, "", said, day, because(Why.IN_THE_FUTURE), key))
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
                Trouble(row.sheet, row.row, "", "", said, because(Why.IN_REGISTER), named)
                for key, named, said in _keys(row)
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
                self._report.notes.append(because(Why.ZONE_UTC, site=values["site"]))
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
