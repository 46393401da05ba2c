"""Today: what is due, unfinished, waiting for somebody."""

from __future__ import annotations

import datetime as dt

from fastapi import APIRouter
from fastapi.responses import Response

from firstlift.core.register.work import Certificate, CertificateState, SiteVisit
from firstlift.store.history import past_tests
from firstlift.store.read import Reader
from firstlift.store.search import Wanted, due_list
from firstlift.web.here import HereNow
from firstlift.web.lists import MOST_OF_A_VISIT, count_day, due_by_week, instrument_states, names, today
from firstlift.web.page import show
from firstlift.web.week_figure import draw_weeks

router = APIRouter()
_WEEKS = 26
_SHOWN = 12


@router.get("/")
def today_page(here: HereNow) -> Response:
    """Show the day."""
    on = today()
    with here.store.read() as reader:
        day = count_day(reader, on)
        weeks = due_by_week(reader, on, _WEEKS)
        values = {
            "today": on,
            "total": day.valves,
            "late": day.late,
            "soon": day.soon,
            "inoperable": day.inoperable,
            "unfit": day.unfit,
            "weeks": draw_weeks(weeks, on),
            "due": due_list(reader, Wanted(), limit=_SHOWN),
            "visits": _visits(reader, on),
            "papers": _papers(reader),
            "instruments": [one for one in instrument_states(reader, on) if one.days is None or one.days < 30],
        }
    return show(here, "today.html", **values)


def _visits(reader: Reader, on: dt.date) -> list[dict[str, object]]:
    """Give the visits that run or are to come, else the last one."""
    latest = reader.list(SiteVisit, order=("-start", "-id"), limit=20)
    running = [visit for visit in latest if (visit.finish or visit.start + dt.timedelta(days=30)) >= on]
    rows: list[dict[str, object]] = []
    for visit in running or latest[:1]:
        done = {test.valve_id for test in past_tests(reader, visit_id=visit.id, limit=MOST_OF_A_VISIT)}
        left = [valve for valve in visit.planned if valve not in done]
        rows.append({"visit": visit, "left": len(left), "people": names(reader, visit.people)})
    return rows


def _papers(reader: Reader) -> list[tuple[Certificate, str]]:
    waiting = [
        (paper, step)
        for state, step in ((CertificateState.DRAFT, "review"), (CertificateState.REVIEWED, "issue"))
        for paper in reader.list(Certificate, state=state, order=("-reserved_at",), limit=20)
    ]
    return waiting
