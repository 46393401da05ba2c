"""Visits: the valves in walking order, whether everything is ready, what was confirmed."""

from __future__ import annotations

import datetime as dt
from typing import Annotated, Any
from uuid import UUID, uuid4
from zoneinfo import ZoneInfo

from fastapi import APIRouter, Form
from fastapi.responses import RedirectResponse, Response

from firstlift.core.errors import FirstliftError, Problem
from firstlift.core.register.equipment import Installation, RegisteredValve
from firstlift.core.register.places import Position, Site
from firstlift.core.register.work import HoldPoint, IdentityCheck, SiteVisit
from firstlift.core.seat.choose import choose_record
from firstlift.core.seat.record import SeatRecord
from firstlift.core.seat.word import SeatWord, overhauls_of, wrong_of
from firstlift.store.history import past_tests
from firstlift.store.read import Reader
from firstlift.store.search import Listed, Wanted, due_list
from firstlift.usecases.register.place import now
from firstlift.usecases.register.visits import VisitAsked, plan_visit
from firstlift.web.here import Here, HereNow
from firstlift.web.lists import MOST_OF_A_VISIT, PAGE, PageNumber, identifier, instrument_states, names, teller, today
from firstlift.web.page import show
from firstlift.web.roles import May
from firstlift.web.say import phrase
from firstlift.words.planning_en import HOLD

router = APIRouter()
Text = Annotated[str, Form()]
# what holds for the whole visit, before any gear goes on a valve; the rest stands on each valve's pull plan
_FOR_THE_VISIT = ("hold-permit", "hold-cells-checked", "hold-sensors-checked", "hold-other-relief", "hold-people-clear")
_MOST_OFFERED = 120


@router.get("/visits")
def visits_page(here: HereNow, page: PageNumber = 1) -> Response:
    """List visits, the latest first."""
    page = max(page, 1)
    with here.store.read() as reader:
        total = reader.count(SiteVisit)
        visits = reader.list(SiteVisit, order=("-start", "-id"), limit=PAGE, offset=(page - 1) * PAGE)
        sites = {site.id: site for site in reader.list(Site, order=("name_key",))}
    pages = max(1, -(-total // PAGE))
    return show(
        here, "visits.html", visits=visits, sites=sites, total=total, page=page, pages=pages, query="", today=today()
    )


@router.get("/visits/new")
def new_visit_page(here: HereNow, site: str = "") -> Response:
    """Offer a site's most urgent valves for a visit."""
    here.must(May.PLAN)
    with here.store.read() as reader:
        sites = reader.list(Site, order=("name_key",))
        chosen = reader.get(Site, identifier(site)) if site else None
        offered: list[Listed] = []
        if chosen:
            offered = due_list(reader, Wanted(site_id=chosen.id), limit=_MOST_OFFERED)
    soon = today() + dt.timedelta(days=90)
    return show(here, "visit_new.html", sites=sites, site=chosen, offered=offered, today=today(), soon=soon)


@router.post("/visits/new")
def new_visit(
    here: HereNow,
    site: Text,
    start: Text = "",
    name: Text = "",
    permit: Text = "",
    valve: Annotated[list[str] | None, Form()] = None,
) -> Response:
    """Plan a visit."""
    here.must(May.PLAN)
    try:
        day = dt.date.fromisoformat(start)
    except ValueError:
        raise FirstliftError(
            Problem("WEB-009", f"'{start[:40]}' is no date", "First day", "a date like 2026-12-01")
        ) from None
    if not valve:
        raise FirstliftError(Problem("WEB-009", "no valve is chosen", "Plan a visit", "one valve or more"))
    asked = VisitAsked(
        identifier(site), day, tuple(identifier(one) for one in valve), name, (permit,), people=(here.person.id,)
    )
    visit = plan_visit(here.store, asked, who=here.who, visit_id=uuid4())
    return RedirectResponse(f"/visits/{visit.id}", 303)


@router.get("/visits/{visit_id}")
def visit_page(here: HereNow, visit_id: str) -> Response:
    """Show a visit: what is left, what is ready, what was confirmed."""
    with here.store.read() as reader:
        visit = reader.get(SiteVisit, identifier(visit_id))
        site = reader.get(Site, visit.site_id)
        day = min(max(today(), visit.start), visit.finish or max(today(), visit.start))
        points = reader.list(HoldPoint, visit_id=visit.id, order=("at", "id"))
        values = {
            "visit": visit,
            "site": site,
            "people": names(reader, visit.people),
            "rows": _rows(reader, visit),
            "instruments": instrument_states(reader, day),
            "points": [
                {"point": p, "by": teller(reader, str(p.person_id or "")), "said": _said(p.code)} for p in points
            ],
        }
    # of each point of the visit its last word counts: what was confirmed may have been taken back
    last = {point.code: point for point in points if point.valve_id is None}
    confirmed = {code for code, point in last.items() if point.released}
    for each in values["points"]:
        each["stands"] = each["point"].released and last.get(each["point"].code) is each["point"]
    to_confirm = [(code, _said(code)) for code in _FOR_THE_VISIT if code not in confirmed]
    left = sum(1 for row in values["rows"] if row["test"] is None)
    return show(
        here, "visit.html", ours=_FOR_THE_VISIT, to_confirm=to_confirm, left=left, day=day, today=today(), **values
    )


def _said(code: str) -> str:
    return phrase("hold", code) if code in HOLD else code.replace("-", " ")


def _rows(reader: Reader, visit: SiteVisit) -> list[dict[str, Any]]:
    """Give the planned valves in walking order: by plant unit, then tag."""
    # one question a kind for the whole visit; the latest test comes first, and of each valve the latest counts
    made = reversed(past_tests(reader, visit_id=visit.id, limit=MOST_OF_A_VISIT))
    tests = {test.valve_id: test for test in made if test.superseded_by is None}
    looked = {check.valve_id: check for check in reader.list(IdentityCheck, visit_id=visit.id)}
    planned = frozenset(visit.planned)
    valves = {valve.id: valve for valve in reader.list(RegisteredValve, id=planned)}
    hung = {one.valve_id: one.position_id for one in reader.list(Installation, valve_id=planned, until=None)}
    positions = {place.id: place for place in reader.list(Position, id=frozenset(hung.values()))}
    seats = _seats_known(reader, planned)
    rows: list[dict[str, Any]] = []
    for valve_id in visit.planned:
        valve, position = valves[valve_id], positions.get(hung[valve_id]) if valve_id in hung else None
        runs = (
            position.operating_pressure.si / valve.set_pressure.si if position and position.operating_pressure else None
        )
        rows.append(
            {
                "valve": valve,
                "position": position,
                "seat": valve_id in seats,
                "runs": runs,
                "looked": looked.get(valve_id),
                "test": tests.get(valve_id),
            }
        )
    return sorted(rows, key=lambda row: (row["position"].unit, row["position"].tag) if row["position"] else ("~", ""))


def _seats_known(reader: Reader, planned: frozenset[UUID]) -> set[UUID]:
    """Give the valves with a seat record that serves today, with some instruments at least."""
    said: dict[UUID, list[SeatWord]] = {}
    for word in reader.list(SeatWord, valve_id=planned):
        said.setdefault(word.valve_id, []).append(word)
    found: set[UUID] = set()
    for seat in reader.list(SeatRecord, valve_id=planned):
        words = said.get(seat.valve_id, [])
        choice = choose_record([seat], today(), None, overhauls_of(words), wrong_of(words))
        # one that was found from pulls serves once its instruments are at hand
        if choice.record is not None or choice.left_out[0].reason.code == "instruments-not-known":
            found.add(seat.valve_id)
    return found


@router.post("/visits/{visit_id}/confirm")
def confirm(here: HereNow, visit_id: str, code: Text = "", note: Text = "") -> Response:
    """Keep that somebody confirmed a hold point of the visit."""
    point = _keep_word(here, visit_id, code, note, released=True)
    return RedirectResponse(f"/visits/{visit_id}#point-{point.id}", 303)


@router.post("/visits/{visit_id}/take-back")
def take_back(here: HereNow, visit_id: str, code: Text = "", note: Text = "") -> Response:
    """Keep that a hold point stands open again, and why; that it was confirmed before stays on record."""
    if not note.strip():
        raise FirstliftError(
            Problem("WEB-009", "no reason is given", "Take back", "a reason", "Say why the point stands open again")
        )
    point = _keep_word(here, visit_id, code, note, released=False)
    return RedirectResponse(f"/visits/{visit_id}#point-{point.id}", 303)


def _keep_word(here: Here, visit_id: str, code: str, note: str, *, released: bool) -> HoldPoint:
    here.must(May.TEST)
    if code not in _FOR_THE_VISIT:
        raise FirstliftError(
            Problem("WEB-009", f"'{code[:60]}' is no hold point of a visit", needed="one that is listed")
        )
    at = now()
    with here.store.work(at=at, who=here.who) as work:
        visit = work.get(SiteVisit, identifier(visit_id))
        zone = work.get(Site, visit.site_id).zone
        local, said = at.astimezone(ZoneInfo(zone)), note.strip()[:300]
        point = HoldPoint(uuid4(), visit.id, code, local, zone, released=released, person_id=here.person.id, note=said)
        work.add(point)
    return point
