"""What several pages read from the register: counts, due dates by week, people's names, pages of lists."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Annotated
from uuid import UUID

import sqlalchemy as sa
from fastapi import Query

from firstlift.core.errors import FirstliftError, Problem
from firstlift.core.register.choose import calibration_in_force
from firstlift.core.register.equipment import Calibration, Instrument
from firstlift.core.register.people import Person
from firstlift.store.read import Reader
from firstlift.store.search import SiteSummary
from firstlift.store.tables import TABLES, standing_table
from firstlift.usecases.papers.find import name_of
from firstlift.usecases.register.place import now

PAGE = 50
# a page of a list, as an address names it; one far beyond any list would not even be a number to the database
PageNumber = Annotated[int, Query(le=1_000_000)]
# tests of one visit that a page reads: far more than a team makes
MOST_OF_A_VISIT = 5000


@dataclass(frozen=True, slots=True)
class InstrumentState:
    """An instrument with its calibration in force; ``days`` until it is due, negative where overdue."""

    instrument: Instrument
    calibration: Calibration | None
    days: int | None

    @property
    def in_date(self) -> bool:
        """Whether its calibration runs."""
        return self.days is not None and self.days >= 0


@dataclass(frozen=True, slots=True)
class _Told:
    """As much of a calibration as says which one is in force."""

    id: UUID
    date: dt.date
    supersedes: UUID | None


def today() -> dt.date:
    """Give today, in UTC.

    Returns
    -------
    date
    """
    return now().date()


def identifier(text: str) -> UUID:
    """Read an identifier from an address.

    Parameters
    ----------
    text : str

    Returns
    -------
    UUID

    Raises
    ------
    FirstliftError
        WEB-005 it is none.
    """
    try:
        return UUID(text)
    except ValueError:
        raise FirstliftError(
            Problem("WEB-005", "there is no such page", text[:80], "a page of this app", "Search the register")
        ) from None


def due_by_week(reader: Reader, on: dt.date, weeks: int) -> list[int]:
    """Count the valves in use that fall due, week by week; what is overdue counts in none.

    Parameters
    ----------
    reader : Reader
    on : date
        First day of the first week.
    weeks : int

    Returns
    -------
    list of int
    """
    table, counts = standing_table, [0] * weeks
    last = on + dt.timedelta(days=7 * weeks - 1)
    query = (
        sa.select(table.c.due, sa.func.count())
        .where(table.c.active.is_(True), table.c.due >= on, table.c.due <= last)
        .group_by(table.c.due)
    )
    for day, count in reader.connection.execute(query):
        counts[(day - on).days // 7] += int(count)
    return counts


def site_summaries(reader: Reader, on: dt.date) -> dict[UUID, SiteSummary]:
    """Give every site at a glance, from one question.

    Parameters
    ----------
    reader : Reader
    on : date
        Due before it is overdue.

    Returns
    -------
    dict of site's identifier to SiteSummary
        Without sites where no valve is in use.
    """
    table = standing_table
    # grouped as the index has it, so that nothing is sorted: no verdict is named afterwards
    query = (
        sa.select(
            table.c.site_id,
            table.c.last_verdict,
            sa.func.count(),
            sa.func.sum(sa.case((table.c.due < on, 1), else_=0)),
            sa.func.sum(sa.case((table.c.due.is_(None), 1), else_=0)),
            sa.func.sum(sa.case((table.c.not_tested.is_not(None), 1), else_=0)),
        )
        .where(table.c.active.is_(True))
        .group_by(table.c.site_id, table.c.last_verdict)
    )
    rows: dict[UUID, list[tuple[str, list[int]]]] = {}
    for site, outcome, *numbers in reader.connection.execute(query):
        rows.setdefault(site, []).append((outcome or "", [int(number) for number in numbers]))
    return {
        site: SiteSummary(
            site,
            *(sum(numbers[column] for _, numbers in of_site) for column in range(4)),
            verdicts={outcome: numbers[0] for outcome, numbers in sorted(of_site)},
        )
        for site, of_site in rows.items()
    }


@dataclass(frozen=True, slots=True)
class Day:
    """The valves in use on a day: all, overdue, due within thirty days, and what their last tests said of them."""

    valves: int
    late: int
    soon: int
    inoperable: int
    unfit: int


def count_day(reader: Reader, on: dt.date) -> Day:
    """Count what the day begins with, from one question.

    Parameters
    ----------
    reader : Reader
    on : date

    Returns
    -------
    Day
    """
    columns = standing_table.c
    by_then = sa.and_(columns.due >= on, columns.due <= on + dt.timedelta(days=30))
    counted = (
        columns.due < on,
        by_then,
        columns.last_disposition == "inoperable",
        columns.last_disposition == "unfit",
    )
    sums = (sa.func.sum(sa.case((each, 1), else_=0)) for each in counted)
    query = sa.select(sa.func.count(), *sums).where(columns.active.is_(True))
    return Day(*(int(number or 0) for number in reader.connection.execute(query).one()))


def instrument_states(reader: Reader, on: dt.date) -> list[InstrumentState]:
    """Give every instrument in use with its calibration in force, by serial.

    Parameters
    ----------
    reader : Reader
    on : date

    Returns
    -------
    list of InstrumentState
    """
    return _states(reader, reader.list(Instrument, order=("serial_key",), active=True), on)


def instrument_state(reader: Reader, instrument: Instrument, on: dt.date) -> InstrumentState:
    """Give one instrument with its calibration in force.

    Parameters
    ----------
    reader : Reader
    instrument : Instrument
    on : date

    Returns
    -------
    InstrumentState
    """
    return _states(reader, [instrument], on)[0]


def _states(reader: Reader, instruments: Sequence[Instrument], on: dt.date) -> list[InstrumentState]:
    table = TABLES["calibration"]
    told = sa.select(table.c.id, table.c.instrument_id, table.c.date, table.c.supersedes).where(
        table.c.instrument_id.in_([one.id for one in instruments])
    )
    of_each: dict[UUID, list[_Told]] = {one.id: [] for one in instruments}
    for row in reader.connection.execute(told):
        of_each[row.instrument_id].append(_Told(row.id, row.date, row.supersedes))
    # of a life of calibrations only those in force are read whole
    chosen = {one: made.id for one, all_told in of_each.items() if (made := calibration_in_force(all_told, on))}
    whole = {made.id: made for made in reader.list(Calibration, id=frozenset(chosen.values()))}
    found: list[InstrumentState] = []
    for instrument in instruments:
        calibration = whole[chosen[instrument.id]] if instrument.id in chosen else None
        days = None if calibration is None else (calibration.due - on).days
        found.append(InstrumentState(instrument, calibration, days))
    return found


def names(reader: Reader, people: Iterable[UUID]) -> list[str]:
    """Give people's names.

    Parameters
    ----------
    reader : Reader
    people : iterable of UUID

    Returns
    -------
    list of str
    """
    return [name_of(reader.find(Person, person)) for person in people]


def teller(reader: Reader, who: str) -> str:
    """Say who stands in the chain: a name, or the program.

    Parameters
    ----------
    reader : Reader
    who : str

    Returns
    -------
    str
    """
    try:
        return name_of(reader.find(Person, UUID(who))) or who
    except ValueError:
        return who.removeprefix("program:")
