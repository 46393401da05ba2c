"""Which seat record is in force at a date, and why.

The rule, in this order:

1. A record counts from its date on, unless it was said to be wrong, and only until the seat is re-lapped or
   re-machined: then every older one describes a seat that is no more. A record of that very day is taken to be of
   the new seat, unless it is itself marked as superseded by the overhaul.
2. A fitted area counts only with all the instruments that found it: it holds their errors.
3. Of each source the latest record counts; on one day the one with the smaller uncertainty.
4. What was found on this valve goes before a maker's figure, which is of all valves of a kind.
5. Of those left, the one with the smallest relative standard uncertainty is in force; then the latest.

Common practice, no source; the owner may state another.
"""

from __future__ import annotations

import datetime as dt
import math
from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass, field
from uuid import UUID

from firstlift.core.seat.reason import Reason
from firstlift.core.seat.record import FITTED, SeatRecord, Source, name_calibrations, seat_of

# two records farther apart than this many times the uncertainty of their difference contradict each other (95 %)
_APART = 2.0


@dataclass(frozen=True, slots=True)
class Held:
    """An instrument of the test at hand: its budget tag, its serial, what names its calibration in force."""

    tag: str
    serial: str
    calibration: str = ""


@dataclass(frozen=True, slots=True)
class LeftOut:
    """A record that is not in force, and why."""

    record_id: UUID
    reason: Reason


@dataclass(frozen=True, slots=True)
class Choice:
    """The record in force (None: there is none), why, what was left out and why, and what is doubtful."""

    record: SeatRecord | None
    reason: Reason
    left_out: tuple[LeftOut, ...] = ()
    doubts: tuple[Reason, ...] = ()
    shared: Mapping[str, str] = field(default_factory=dict[str, str])


def choose_record(
    records: Sequence[SeatRecord],
    date: dt.date,
    instruments: Sequence[Held] | None = None,
    overhauls: Collection[dt.date] = (),
    wrong: Collection[UUID] = (),
) -> Choice:
    """Choose the seat record in force.

    Parameters
    ----------
    records : sequence of SeatRecord
        Of one valve, in any order.
    date : date
        Of the test.
    instruments : sequence of Held or None
        The cells and the gauge of the test; None where they are not known yet: then no fitted area serves.
    overhauls : collection of date
        When the seat was re-lapped or re-machined.
    wrong : collection of UUID
        Records that somebody said were wrong (`firstlift.core.seat.word.wrong_of`).

    Returns
    -------
    Choice
        Feed ``record`` and ``shared`` to `firstlift.core.seat.record.seat_of`.
    """
    left: list[LeftOut] = []
    usable: list[SeatRecord] = []
    for record in records:
        said_wrong = Reason("said-wrong") if record.id in wrong else None
        reason = said_wrong or _unusable(record, date, instruments, overhauls)
        if reason is None:
            usable.append(record)
        else:
            left.append(LeftOut(record.id, reason))
    latest = _latest_of_each_source(usable, left)
    if not latest:
        return Choice(None, Reason("no-record-in-force", {"records": len(records)}), tuple(left))
    own = [record for record in latest if record.source is not Source.MAKER]
    if own:
        reason = Reason("makers-figure-after-own", {"own_records": len(own)})
        left.extend(LeftOut(record.id, reason) for record in latest if record not in own)
    best, *others = sorted(own or latest, key=_order)
    left.extend(LeftOut(record.id, Reason("less-certain", {"relative_u": _relative_u(record)})) for record in others)
    return Choice(best, _why(best, own), tuple(left), _doubts(best, latest, date), shared_tags(best, instruments or ()))


def shared_tags(record: SeatRecord, instruments: Sequence[Held]) -> Mapping[str, str]:
    """Say which instruments of a test bring the very errors that are in a fitted area.

    Parameters
    ----------
    record : SeatRecord
    instruments : sequence of Held

    Returns
    -------
    mapping of the tie's tag to the test's tag
        Where every serial of a tie is used again, under one tag and under the calibration noted at the fit. A
        calibration that nobody noted, then as now, is taken to be the same.
    """
    found: dict[str, str] = {}
    for tie in record.tied_to:
        used = [held for held in instruments if held.serial in tie.serials]
        whole = {held.serial for held in used} == set(tie.serials)
        tags = {held.tag for held in used}
        if whole and len(tags) == 1 and name_calibrations(held.calibration for held in used) == tie.calibration:
            found[tie.instrument] = tags.pop()
    return found


def _unusable(
    record: SeatRecord, date: dt.date, instruments: Sequence[Held] | None, overhauls: Collection[dt.date]
) -> Reason | None:
    if record.date > date:
        return Reason("not-yet", {"from_date": record.date.isoformat()})
    marked = record.superseded_by_overhaul
    done = [day for day in overhauls if record.date < day <= date]
    if marked is not None and marked <= date:
        done.append(marked)
    if done:
        return Reason("seat-overhauled-since", {"overhaul_date": min(done).isoformat()})
    if not record.tied_to:
        return None
    if instruments is None:
        return Reason("instruments-not-known", {"needed": ", ".join(record.serials)})
    missing = set(record.serials) - {held.serial for held in instruments}
    foreign = {held.serial for held in instruments} - set(record.serials)
    if missing or foreign:
        return Reason(
            "other-instruments",
            {"needed": ", ".join(record.serials), "used": ", ".join(held.serial for held in instruments)},
        )
    return None


def _latest_of_each_source(usable: Sequence[SeatRecord], left: list[LeftOut]) -> list[SeatRecord]:
    latest: list[SeatRecord] = []
    for source in Source:
        of_source = [record for record in usable if record.source is source]
        if not of_source:
            continue
        best = min(of_source, key=lambda record: (-record.date.toordinal(), _relative_u(record), record.id))
        latest.append(best)
        reason = Reason("later-of-same-source", {"later_date": best.date.isoformat()})
        left.extend(LeftOut(record.id, reason) for record in of_source if record is not best)
    return latest


def _relative_u(record: SeatRecord) -> float:
    seat = seat_of(record)
    return seat.standard_uncertainty_m2 / seat.area_m2


def _order(record: SeatRecord) -> tuple[float, int, UUID]:
    return _relative_u(record), -record.date.toordinal(), record.id


def _why(best: SeatRecord, own: Sequence[SeatRecord]) -> Reason:
    said = {"source": str(best.source), "date": best.date.isoformat(), "relative_u": _relative_u(best)}
    if not own:
        return Reason("makers-figure-only", said)
    return Reason("only-record" if len(own) == 1 else "smallest-uncertainty", said)


def _doubts(best: SeatRecord, latest: Sequence[SeatRecord], date: dt.date) -> tuple[Reason, ...]:
    """Name the records that the best one contradicts, and say where it may judge the very pulls it came from."""
    mine = seat_of(best)
    doubts: list[Reason] = []
    if best.source in FITTED and best.date == date:
        # a pull that went into the area shares its scatter with it: as independent lines the two are too narrow
        doubts.append(Reason("found-from-pulls-of-that-day", {"source": str(best.source)}))
    for record in latest:
        other = seat_of(record)
        apart = other.area_m2 - mine.area_m2
        u = math.hypot(mine.standard_uncertainty_m2, other.standard_uncertainty_m2)
        if record is not best and abs(apart) > _APART * u:
            doubts.append(
                Reason(
                    "records-disagree",
                    {
                        "other": str(record.id),
                        "source": str(record.source),
                        "relative_difference": apart / mine.area_m2,
                    },
                )
            )
    return tuple(doubts)
