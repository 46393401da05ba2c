"""One valve: what it is, where it stands, and its life on one line of time."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass, field
from typing import Any
from zoneinfo import ZoneInfo

from fastapi import APIRouter
from fastapi.responses import Response

from firstlift.core.register.choose import interval_in_force
from firstlift.core.register.equipment import RegisteredValve
from firstlift.core.register.places import Interval, Owner, Position, Site
from firstlift.core.register.work import Certificate
from firstlift.core.seat.record import SeatRecord, seat_of
from firstlift.core.seat.word import standing
from firstlift.core.units import UNITS
from firstlift.figures import Past, draw_history
from firstlift.store.history import PastTest, ValveHistory, valve_history
from firstlift.store.read import Reader
from firstlift.store.search import Wanted, search
from firstlift.usecases.register.seats import held_by_serial, seats_on
from firstlift.usecases.register.told import tell
from firstlift.web.here import Here, HereNow
from firstlift.web.lists import identifier, teller, today
from firstlift.web.page import show
from firstlift.web.pages.seats import show_area, usual_rig
from firstlift.web.say import _, lower_first, semicolon, speaker, whole, words
from firstlift.web.seat_words import say_reason
from firstlift.web.terms import term
from firstlift.words.numbers import format_value
from firstlift.words.place import local

router = APIRouter()


@dataclass(frozen=True, slots=True)
class Event:
    """Something in a valve's life; ``kind`` chooses its sign."""

    day: dt.date
    kind: str
    title: str
    said: str = ""
    verdict: str | None = None
    href: str = ""
    test: PastTest | None = field(default=None)


@router.get("/valves/{valve_id}")
def valve_page(here: HereNow, valve_id: str) -> Response:
    """Show a valve with its life."""
    on = today()
    with here.store.read() as reader:
        valve = reader.get(RegisteredValve, identifier(valve_id))
        history = valve_history(reader, valve.id)
        hung = next((one for one in history.installations if one.until is None), None)
        position = reader.get(Position, hung.position_id) if hung else None
        site = reader.get(Site, position.site_id) if position else None
        intervals = reader.list(Interval, position_id=position.id) if position else []
        standing = next(
            (one for one in search(reader, Wanted(serial=valve.serial), limit=50) if one.valve_id == valve.id), None
        )
        values: dict[str, Any] = {
            "valve": valve,
            "owner": reader.get(Owner, valve.owner_id),
            "position": position,
            "site": site,
            "since": hung.since if hung else None,
            "interval": interval_in_force(intervals, on),
            "standing": standing,
            "events": _events(reader, history),
            "changes": [
                {**change, "who": teller(reader, str(change["who"]))} for change in tell(reader, valve).changes[-8:]
            ],
            "papers": _papers(reader, history),
        }
        held = [held_by_serial(reader, serial, on) for serial in usual_rig(reader, valve.id, on)] or None
        records, choice = seats_on(reader, valve.id, on, held)
    values |= {"seats": len(records), "choice": choice, "seat_reason": say_reason(choice.reason)}
    values["area"] = show_area(choice.record, here.units) if choice.record else ""
    figure = _drift(here, valve, history)
    return show(here, "valve.html", today=on, figure=figure, **values)


def _drift(here: Here, valve: RegisteredValve, history: ValveHistory) -> str:
    """Draw the tests that gave a number, in the unit the person looks at."""
    unit = here.unit or valve.set_pressure.unit
    factor = UNITS[unit].factor

    def shown(pa: float | None) -> float | None:
        return None if pa is None else pa / factor

    past = [
        Past(
            test.day,
            shown(test.set_pressure_pa),
            shown(test.expanded_uncertainty_pa),
            shown(test.lower_bound_pa),
            as_left=test.purpose == "as-left",
        )
        for test in history.tests
        if test.superseded_by is None and (test.set_pressure_pa is not None or test.lower_bound_pa is not None)
    ]
    if not past:
        return ""
    stamped = valve.set_pressure.si / factor
    return draw_history(past, lower=stamped * 0.97, upper=stamped * 1.03, unit=unit, width=440.0, say=speaker())


def _events(reader: Reader, history: ValveHistory) -> list[Event]:
    events = [_test_event(test) for test in history.tests]
    for hung in history.installations:
        position = reader.get(Position, hung.position_id)
        events.append(Event(hung.since, "place", _("hung at %(tag)s", tag=whole(position.tag))))
        if hung.until is not None:
            events.append(Event(hung.until, "place", _("taken from %(tag)s", tag=whole(position.tag))))
    events += [_seat_event(seat) for seat in history.seats]
    for word in standing(history.words):
        if word.date is not None:
            events.append(Event(word.date, "seat", term(word.said), word.note))
    for made in history.adjustments:
        day = made.at.astimezone(ZoneInfo(made.zone)).date()
        said = semicolon().join(part for part in (_turned(made.turns), made.note) if part)
        events.append(Event(day, "turn", _("adjusted"), said))
    # the latest first; on one day in the order of work: what hangs is tested, then turned, then tested again
    return sorted(events, key=lambda event: (event.day, event.test.at if event.test else ""), reverse=True)


def _turned(turns: float | None) -> str:
    if turns is None:
        return ""
    far = whole(local(f"{abs(turns):.2f}"))
    return _("screw %(turns)s turns in", turns=far) if turns > 0 else _("screw %(turns)s turns out", turns=far)


def _test_event(test: PastTest) -> Event:
    if test.kind == "not-tested":
        return Event(test.day, "missed", _("not tested: %(why)s", why=term(test.not_tested or "")), test=test)
    name = _("bench test") if test.kind == "bench" else _("pull test")
    said = "" if not test.disposition else lower_first(words.disposition(test.disposition))
    title = speaker().listed(name, lower_first(words.purpose(test.purpose)))
    if test.superseded_by:
        return Event(
            test.day, "missed", _("%(test)s, corrected later", test=title), said, None, f"/tests/{test.id}", test
        )
    return Event(test.day, "test", title, said, test.verdict, f"/tests/{test.id}", test)


def _seat_event(seat: SeatRecord) -> Event:
    area = whole(format_value(seat_of(seat).area_m2, "mm2"))
    return Event(seat.date, "seat", _("seat area"), speaker().listed(area, term(seat.source)))


def _papers(reader: Reader, history: ValveHistory) -> list[Certificate]:
    found: list[Certificate] = []
    for test in history.tests[:40]:
        found += reader.list(Certificate, test_id=test.id)
    return found
