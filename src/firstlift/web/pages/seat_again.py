"""A kept test computed again with the seat record in force for its day: looked at first, then kept as a correction."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import partial
from typing import Annotated, Any

from fastapi import APIRouter, Form
from fastapi.responses import RedirectResponse, Response

from firstlift.core.errors import FirstliftError, Problem
from firstlift.core.register.equipment import RegisteredValve
from firstlift.core.register.places import Position
from firstlift.core.register.work import ValveTest
from firstlift.usecases.register.analyse import judged_value
from firstlift.usecases.register.seat_again import SeatAgain, compute_with_seat_in_force, keep_with_seat_in_force
from firstlift.web.here import HereNow
from firstlift.web.lists import identifier, names
from firstlift.web.page import show
from firstlift.web.pages.seats import show_area
from firstlift.web.roles import May
from firstlift.web.seat_words import say_reason

router = APIRouter()
Text = Annotated[str, Form()]


@dataclass(frozen=True, slots=True)
class Value:
    """A set pressure with its expanded uncertainty, or a lower bound; SI. ``pull`` 0 is the one that is judged."""

    pull: int
    set_pressure_pa: float | None
    expanded_uncertainty_pa: float | None
    lower_bound_pa: float | None


@router.get("/tests/{test_id}/seat")
def look(here: HereNow, test_id: str) -> Response:
    """Show what a test says as it stands, and what it would say with the seat record in force for its day."""
    here.must(May.TEST)
    again: SeatAgain | None = None
    problems: tuple[Problem, ...] = ()
    with here.store.read() as reader:
        test = reader.get(ValveTest, identifier(test_id))
        valve = reader.get(RegisteredValve, test.valve_id)
        position = reader.get(Position, test.position_id) if test.position_id else None
        try:
            again = compute_with_seat_in_force(reader, test.id)
        except FirstliftError as error:
            problems = error.problems
        said_by = again.wrong.person_id if again is not None and again.wrong is not None else None
        by = names(reader, [said_by])[0] if said_by is not None else ""
    shown: dict[str, Any] = {"test": test, "valve": valve, "position": position}
    shown |= {"again": again, "problems": problems, "by": by, "say_reason": say_reason, "rows": _rows(again)}
    shown["unit"] = here.unit or valve.set_pressure.unit
    area = partial(show_area, units=here.units)
    return show(here, "seat_again.html", status=422 if problems else 200, area=area, **shown)


def _rows(again: SeatAgain | None) -> Sequence[tuple[Value, Value]]:
    """Give the values to put side by side: what is judged, then each pull where there are several."""
    if again is None or again.test.result is None:
        return ()
    before, after = again.test.result, again.result
    rows = [(Value(0, *judged_value(before)), Value(0, *judged_value(after)))]
    if len(before.pulls) > 1 and len(before.pulls) == len(after.pulls):
        pairs = zip(before.pulls, after.pulls, strict=True)
        rows += [
            (
                Value(old.number, old.set_pressure_pa, old.expanded_uncertainty_pa, old.lower_bound_pa),
                Value(new.number, new.set_pressure_pa, new.expanded_uncertainty_pa, new.lower_bound_pa),
            )
            for old, new in pairs
        ]
    return rows


@router.post("/tests/{test_id}/seat")
def keep(here: HereNow, test_id: str, record: Text = "", why: Text = "", certificate: Text = "") -> Response:
    """Keep the test as it was looked at, as a correction of the earlier one, and go on to it."""
    here.must(May.TEST)
    made = keep_with_seat_in_force(
        here.store,
        identifier(test_id),
        why.strip()[:500],
        by=here.person.id,
        seen=identifier(record),
        despite_certificate=bool(certificate),
    )
    return RedirectResponse(f"/tests/{made.id}", 303)
