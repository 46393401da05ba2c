"""What happened, by valve or by position: valves rotate, so each has a history of its own."""

from __future__ import annotations

import datetime as dt
import functools
from dataclasses import dataclass
from typing import Any
from uuid import UUID

import sqlalchemy as sa

from firstlift.core.register.equipment import Installation
from firstlift.core.register.work import AdjustmentMade, CertificateState
from firstlift.core.seat.record import SeatRecord
from firstlift.core.seat.word import SeatWord
from firstlift.store.read import Reader
from firstlift.store.tables import TABLES, test_instrument_table


@dataclass(frozen=True, slots=True)
class PastTest:
    """A test in a history, without its whole result. ``superseded_by`` names the test that corrects it."""

    id: UUID
    valve_id: UUID
    serial: str
    position_id: UUID | None
    tag: str | None
    kind: str
    purpose: str
    at: str
    zone: str
    day: dt.date
    not_tested: str | None
    verdict: str
    disposition: str
    set_pressure_pa: float | None
    expanded_uncertainty_pa: float | None
    lower_bound_pa: float | None
    superseded_by: UUID | None


@dataclass(frozen=True, slots=True)
class ValveHistory:
    """A valve's life, the latest first: where it hung, its seats, its tests, what was adjusted and said of seats."""

    installations: list[Installation]
    seats: list[SeatRecord]
    tests: list[PastTest]
    adjustments: list[AdjustmentMade]
    words: list[SeatWord]


@dataclass(frozen=True, slots=True)
class PositionHistory:
    """A position's life, the latest first: which valves hung there and what their tests there said."""

    installations: list[Installation]
    tests: list[PastTest]


def past_tests(
    reader: Reader,
    *,
    valve_id: UUID | None = None,
    position_id: UUID | None = None,
    visit_id: UUID | None = None,
    limit: int = 200,
) -> list[PastTest]:
    """Give the tests of a valve, at a position or of a visit, the latest first.

    Parameters
    ----------
    reader : Reader
    valve_id, position_id, visit_id : UUID or None
    limit : int

    Returns
    -------
    list of PastTest
    """
    named = {"valve_id": valve_id, "position_id": position_id, "visit_id": visit_id}
    asked = {name: value for name, value in named.items() if value}
    rows = reader.connection.execute(_past_tests(tuple(asked)), {**asked, "most": limit})
    return [PastTest(*row) for row in rows]


@functools.cache
def _past_tests(asked: tuple[str, ...]) -> sa.Select[*tuple[Any, ...]]:
    """Make the question once: building it takes longer than most answers."""
    test, valve, position = TABLES["valve_test"], TABLES["valve"], TABLES["position"]
    later = test.alias("later")
    named = {"serial": valve.c.serial, "tag": position.c.tag, "superseded_by": later.c.id}
    # in the order of the fields: a row is then a line as it stands
    columns = [named[name] if name in named else test.c[name] for name in PastTest.__dataclass_fields__]
    corrects = sa.and_(later.c.valve_id == test.c.valve_id, later.c.supersedes == test.c.id)
    return (
        sa.select(*columns)
        .select_from(
            test.join(valve, valve.c.id == test.c.valve_id)
            .outerjoin(position, position.c.id == test.c.position_id)
            .outerjoin(later, corrects)
        )
        .where(*(test.c[name] == sa.bindparam(name) for name in asked))
        .order_by(test.c.at.desc(), test.c.id.desc())
        .limit(sa.bindparam("most", type_=sa.Integer()))
    )


def valve_history(reader: Reader, valve_id: UUID, *, limit: int = 200) -> ValveHistory:
    """Give a valve's life.

    Parameters
    ----------
    reader : Reader
    valve_id : UUID
    limit : int
        Of tests.

    Returns
    -------
    ValveHistory
    """
    return ValveHistory(
        reader.list(Installation, valve_id=valve_id, order=("-since", "-id")),
        reader.list(SeatRecord, valve_id=valve_id, order=("-date", "-id")),
        past_tests(reader, valve_id=valve_id, limit=limit),
        reader.list(AdjustmentMade, valve_id=valve_id, order=("-at", "-id")),
        reader.list(SeatWord, valve_id=valve_id, order=("-at", "-id")),
    )


@dataclass(frozen=True, slots=True)
class Resting:
    """A test that was computed with a seat record; ``issued``: a certificate of it stands."""

    test_id: UUID
    record_id: UUID
    day: dt.date
    issued: bool


def tests_on_seats(reader: Reader, valve_id: UUID) -> list[Resting]:
    """Give the tests of a valve that rest on a seat record and that no other supersedes, the latest first.

    Parameters
    ----------
    reader : Reader
    valve_id : UUID

    Returns
    -------
    list of Resting
    """
    test, paper = TABLES["valve_test"], TABLES["certificate"]
    later = test.alias("later")
    superseded = sa.exists().where(later.c.valve_id == test.c.valve_id, later.c.supersedes == test.c.id)
    issued = sa.exists().where(paper.c.test_id == test.c.id, paper.c.state == str(CertificateState.ISSUED))
    query = (
        sa.select(test.c.id, test.c.seat_record_id, test.c.day, issued)
        .where(test.c.valve_id == valve_id, test.c.seat_record_id.is_not(None), ~superseded)
        .order_by(test.c.at.desc(), test.c.id.desc())
    )
    return [Resting(row[0], row[1], row[2], bool(row[3])) for row in reader.connection.execute(query)]


def position_history(reader: Reader, position_id: UUID, *, limit: int = 200) -> PositionHistory:
    """Give a position's life.

    Parameters
    ----------
    reader : Reader
    position_id : UUID
    limit : int
        Of tests.

    Returns
    -------
    PositionHistory
    """
    return PositionHistory(
        reader.list(Installation, position_id=position_id, order=("-since", "-id")),
        past_tests(reader, position_id=position_id, limit=limit),
    )


def used_in(
    reader: Reader, serial_key: str, *, first: dt.date | None = None, last: dt.date | None = None
) -> list[UUID]:
    """Give the tests that used an instrument and that no other supersedes, by day.

    Parameters
    ----------
    reader : Reader
    serial_key : str
        The instrument's serial as searches compare it.
    first, last : date or None
        Bounds of the tests' days.

    Returns
    -------
    list of UUID
    """
    used, test = test_instrument_table, TABLES["valve_test"]
    later = test.alias("later")
    superseded = sa.exists().where(later.c.valve_id == test.c.valve_id, later.c.supersedes == test.c.id)
    query = (
        sa.select(test.c.id)
        .distinct()
        .add_columns(test.c.day)
        .select_from(used.join(test, test.c.id == used.c.test_id))
        .where(used.c.serial_key == serial_key, ~superseded)
        .order_by(test.c.day, test.c.id)
    )
    if first is not None:
        query = query.where(test.c.day >= first)
    if last is not None:
        query = query.where(test.c.day <= last)
    return [row[0] for row in reader.connection.execute(query)]
