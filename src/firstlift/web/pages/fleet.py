"""The fleet: verdicts and due dates by site; when to test next, from the tests' own evidence."""

from __future__ import annotations

import threading
from typing import Any
from uuid import UUID

from fastapi import APIRouter
from fastapi.responses import Response

from firstlift.core.errors import FirstliftError, Problem
from firstlift.core.register.places import Site
from firstlift.core.reliability.answer import OVERHAUL, Answer
from firstlift.formats.interval_rows import read_interval_tables
from firstlift.store.open import Store
from firstlift.store.search import SiteSummary
from firstlift.store.tables import store_table
from firstlift.usecases.interval import Asked, draw_group_drift, draw_group_survival, next_dates
from firstlift.usecases.register.lives import GROUPINGS, rows_of_register
from firstlift.web.here import HereNow
from firstlift.web.lists import site_summaries, today
from firstlift.web.page import show
from firstlift.web.say import speaker

router = APIRouter()
_SHARES = {"2": 0.02, "5": 0.05, "10": 0.10}
_MOST_SHOWN = 60
_MOST_GROUPS = 8


Outcome = Answer | FirstliftError


class Answers:
    """The last answers, kept as long as the register does not change: one takes seconds, and is worked out beside."""

    def __init__(self) -> None:
        self._lock = threading.Lock()
        self._kept: dict[tuple[object, ...], Outcome | None] = {}

    def answer(self, store: Store, group: str, target: float) -> Outcome | None:
        """Give the next dates of a register; None while they are being worked out."""
        with store.read() as reader:
            head = reader.connection.execute(store_table.select()).mappings().one()["head_sha256"]
        key = (store.id, head, group, target)
        with self._lock:
            if key in self._kept:
                return self._kept[key]
            if any(outcome is None for outcome in self._kept.values()):
                return None  # one at a time
            if len(self._kept) > len(GROUPINGS):
                self._kept.clear()
            self._kept[key] = None
        threading.Thread(target=self._work, args=(key, store, group, target), daemon=True).start()
        return None

    def _work(self, key: tuple[object, ...], store: Store, group: str, target: float) -> None:
        try:
            rows = rows_of_register(store, group_by=group)
            outcome: Outcome = next_dates(rows, Asked(target=target), read_interval_tables())
        except FirstliftError as error:
            outcome = error
        except Exception as error:  # noqa: BLE001  the thread's last edge: a page must not wait for ever
            outcome = FirstliftError(Problem("USE-001", f"an error nobody foresaw: {type(error).__name__}"))
        with self._lock:
            self._kept[key] = outcome


@router.get("/fleet")
def fleet_page(here: HereNow) -> Response:
    """Show every site at a glance."""
    on = today()
    with here.store.read() as reader:
        found = site_summaries(reader, on)
        empty = SiteSummary(UUID(int=0), 0, 0, 0, 0, {})
        rows = [(site, found.get(site.id, empty)) for site in reader.list(Site, order=("name_key",))]
    return show(here, "fleet.html", rows=rows, today=on)


@router.get("/fleet/dates")
def dates_page(here: HereNow, group: str = "medium", share: str = "5", shown: str = "") -> Response:
    """Show when valves should be tested next, by group, with the reasons."""
    group = group if group in GROUPINGS else "medium"
    share = share if share in _SHARES else "5"
    answers: Answers = here.request.app.state.answers
    outcome = answers.answer(here.store, group, _SHARES[share])
    values: dict[str, Any] = {"answer": None, "problems": (), "waits": outcome is None}
    if isinstance(outcome, FirstliftError):
        values["problems"] = outcome.problems
    elif outcome is not None:
        values |= _shown(outcome, shown)
    chosen = {"group": group, "share": share, "shown": shown, "groupings": GROUPINGS, "shares": tuple(_SHARES)}
    return show(here, "dates.html", today=today(), **chosen, **values)


def _shown(answer: Answer, name: str) -> dict[str, Any]:
    groups = sorted(answer.groups, key=lambda group: -group.valves)
    one = next((group for group in groups if group.group == name), groups[0])
    valves = sorted((valve for valve in answer.valves if valve.group == one.group), key=lambda valve: valve.due)
    # years left as if nothing were hidden would be a number of nothing: the overhaul is what is due, said once
    spent = [finding for valve in valves for finding in valve.reasons if finding.code == valve.because == OVERHAUL]
    return {
        "answer": answer,
        "at_once": spent[:1],
        "overhauls": len(spent),
        "groups": groups[:_MOST_GROUPS],
        "one": one,
        "survival": draw_group_survival(answer, one, width=420.0, height=270.0, say=speaker()),
        "drift": draw_group_drift(answer, one, width=420.0, height=270.0, say=speaker()),
        "valves": valves[:_MOST_SHOWN],
        "count": len(valves),
    }
