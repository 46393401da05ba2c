"""``firstlift register seat``: seat records of a valve, and the one in force."""

from __future__ import annotations

import argparse
import datetime as dt
import json
from typing import Any
from uuid import UUID

from firstlift.cli.seat import asked_of
from firstlift.cli.show import prints_unicode, show
from firstlift.core.errors import Problem, UsageError
from firstlift.core.seat.reason import Reason
from firstlift.core.seat.record import SeatRecord, seat_of
from firstlift.store.open import Store
from firstlift.usecases.register.entries import find_entry
from firstlift.usecases.register.place import now, opened
from firstlift.usecases.register.seat_draft import SeatStatement
from firstlift.usecases.register.seat_entry import SeatEntry, keep_record
from firstlift.usecases.register.seats import SeatsOfValve, add_seat, find_valve, list_seats
from firstlift.usecases.register.who import who_of
from firstlift.words.numbers import format_share, format_short
from firstlift.words.seat import SOURCES, say_choice, say_reason


def run(arguments: argparse.Namespace) -> int:
    """Run the command.

    Parameters
    ----------
    arguments : argparse.Namespace

    Returns
    -------
    int
        0; when listing, 1 where no record is in force.
    """
    if arguments.act == "add":
        return _add(arguments)
    return _list(arguments)


def _add(arguments: argparse.Namespace) -> int:
    with opened(arguments.store) as store:
        who = who_of(store, arguments.by)
        statement = SeatStatement(
            asked_of(arguments),
            _day(arguments.date),
            tuple(arguments.measured_with),
            None if who.startswith("program:") else UUID(who),
            arguments.note,
            arguments.overhauled,
        )
        if arguments.corrects or arguments.why:
            record = _correct(store, arguments, statement)
        else:
            record = add_seat(store, arguments.valve, statement, at=now(), who=who)
    show(f"added {record.id}")
    show(_line(record))
    return 0


def _correct(store: Store, arguments: argparse.Namespace, statement: SeatStatement) -> SeatRecord:
    if not arguments.corrects:
        raise UsageError(Problem("SEA-021", "--why goes with --corrects", needed="the record that was wrong"))
    if statement.person_id is None:
        raise UsageError(Problem("SEA-021", "a seat record is corrected by nobody", "--by", "a person of the register"))
    if statement.overhauled:
        raise UsageError(
            Problem("SEA-021", "a new seat corrects no record", "--overhauled", "one of --overhauled and --corrects")
        )
    with store.read() as reader:
        valve = find_valve(reader, arguments.valve)
        wrong = find_entry(reader, "seat_record", arguments.corrects)
    # on the command line readings are typed as those of one fit
    entry = SeatEntry(statement, wrong.id, why=arguments.why, same_conditions=True)
    return keep_record(store, valve.id, entry, by=statement.person_id)


def _list(arguments: argparse.Namespace) -> int:
    with opened(arguments.store) as store:
        seats = list_seats(store, arguments.valve, _day(arguments.date), arguments.serials)
    if arguments.json:
        show(json.dumps(_plain(seats), ensure_ascii=not prints_unicode(), allow_nan=False))
    else:
        _tell(seats)
    return 0 if seats.choice.record is not None else 1


def _tell(seats: SeatsOfValve) -> None:
    choice = seats.choice
    why = {left.record_id: left.reason for left in choice.left_out}
    show(f"valve {seats.valve.serial}: {len(seats.records)} seat records")
    for record in seats.records:
        mark = "in force" if record == choice.record else "        "
        show(f"{mark}  {_line(record)}")
        if record.id in why:
            show(f"          {say_reason(why[record.id])}")
    for line in say_choice(choice):
        show(line)


def _line(record: SeatRecord) -> str:
    seat = seat_of(record)
    relative = format_share(seat.standard_uncertainty_m2 / seat.area_m2)
    area = format_short(seat.area_m2, "mm2", digits=5)
    paper = f", {record.reference}" if record.reference else ""
    return f"{record.date.isoformat()}  {area}, known to {relative}: {SOURCES[str(record.source)]}{paper}"


def _plain(seats: SeatsOfValve) -> dict[str, Any]:
    choice = seats.choice
    why = {left.record_id: left.reason for left in choice.left_out}
    rows = [(record, seat_of(record)) for record in seats.records]
    return {
        "format": "firstlift-seats-1",
        "valve": seats.valve.serial,
        "in_force": None if choice.record is None else str(choice.record.id),
        "reason": _reason(choice.reason),
        "doubts": [_reason(doubt) for doubt in choice.doubts],
        "records": [
            {
                "id": str(record.id),
                "date": record.date.isoformat(),
                "source": str(record.source),
                "area_m2": seat.area_m2,
                "standard_uncertainty_m2": seat.standard_uncertainty_m2,
                "serials": list(record.serials or record.measured_with),
                "left_out": _reason(why[record.id]) if record.id in why else None,
            }
            for record, seat in rows
        ],
    }


def _reason(reason: Reason) -> dict[str, Any]:
    return {"code": reason.code, "parameters": dict(reason.parameters)}


def _day(text: str | None) -> dt.date:
    if text is None:
        return now().date()
    try:
        return dt.date.fromisoformat(text)
    except ValueError:
        raise UsageError(Problem("SEA-015", f"'{text}' is not a date", "--date", "YYYY-MM-DD")) from None
