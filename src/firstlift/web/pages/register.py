"""The register: every valve, found by tag or serial, by site, verdict, medium or due date."""

from __future__ import annotations

import datetime as dt
from dataclasses import replace
from urllib.parse import urlencode

from fastapi import APIRouter
from fastapi.responses import Response

from firstlift.core.register.places import Site
from firstlift.core.valve import Medium
from firstlift.store.read import Reader
from firstlift.store.search import Listed, Wanted, count, due_list, search
from firstlift.web.here import HereNow
from firstlift.web.lists import PAGE, PageNumber, identifier, today
from firstlift.web.page import show

router = APIRouter()
_VERDICTS = ("within", "undecided", "outside")
_DUE = {"late": -1, "30": 30, "90": 90}


@router.get("/register")
def register_page(
    here: HereNow,
    q: str = "",
    site: str = "",
    verdict: str = "",
    medium: str = "",
    due: str = "",
    out: str = "",
    page: PageNumber = 1,
) -> Response:
    """List the valves that fit, fifty a page; for a search as one types, the list alone."""
    on, page = today(), max(page, 1)
    wanted = Wanted(
        site_id=identifier(site) if site else None,
        medium=Medium(medium) if medium in tuple(Medium) else None,
        last_verdict=verdict if verdict in _VERDICTS else "",
        due_by=on + dt.timedelta(days=_DUE[due]) if due in _DUE else None,
        active=not out,
    )
    with here.store.read() as reader:
        wanted, total = _by_tag_or_serial(reader, wanted, q.strip()[:100])
        order = due_list if due in _DUE else search
        valves: list[Listed] = order(reader, wanted, limit=PAGE, offset=(page - 1) * PAGE)
        sites = reader.list(Site, order=("name_key",), limit=500)
    asked = {"q": q, "site": site, "verdict": verdict, "medium": medium, "due": due, "out": out}
    values = {
        "today": on,
        "valves": valves,
        "total": total,
        "page": page,
        "pages": max(1, -(-total // PAGE)),
        "query": urlencode({key: text for key, text in asked.items() if text}),
    }
    if here.request.headers.get("hx-request"):
        return show(here, "_valves.html", **values)
    choices = {"sites": sites, "media": tuple(Medium), "verdicts": _VERDICTS, "asked": asked}
    return show(here, "register.html", **values, **choices)


def _by_tag_or_serial(reader: Reader, wanted: Wanted, text: str) -> tuple[Wanted, int]:
    """Take what was typed for the beginning of a tag, else of a serial."""
    by_tag = replace(wanted, tag=text)
    found = count(reader, by_tag)
    if found or not text:
        return by_tag, found
    by_serial = replace(wanted, serial=text)
    return by_serial, count(reader, by_serial)
