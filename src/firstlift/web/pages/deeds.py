"""What was done: sign-ins, roles, tokens, papers sent and every change of the register, as the chain has it."""

from __future__ import annotations

import csv
import datetime as dt
import io
from collections.abc import Iterator
from typing import Any
from urllib.parse import urlencode
from uuid import UUID

from fastapi import APIRouter
from fastapi.responses import RedirectResponse, Response, StreamingResponse

from firstlift.core.errors import FirstliftError, Problem
from firstlift.core.register.people import Person
from firstlift.store.open import Store
from firstlift.usecases.papers.find import name_of
from firstlift.usecases.register.doings import GROUPS, Doing, DoingsAsked, all_doings, doings
from firstlift.web.here import HereNow
from firstlift.web.lists import PAGE
from firstlift.web.page import show
from firstlift.web.roles import May

router = APIRouter()
_LONGEST_WHO = 100
_COLUMNS = ("number", "at", "who", "action", "kind", "deed", "about", "said")


@router.get("/deeds")
def deeds_page(
    here: HereNow, who: str = "", group: str = "", first: str = "", last: str = "", before: str = ""
) -> Response:
    """List what was done, the latest first."""
    here.must(May.PEOPLE)
    asked = _asked(who, group, first, last)
    with here.store.read() as reader:
        found = doings(reader, asked, before=_number(before), limit=PAGE + 1)
        people = sorted(reader.list(Person), key=name_of)
    shown, more = found[:PAGE], len(found) > PAGE
    names = {str(one.id): name_of(one) for one in people}
    query = urlencode({"who": who, "group": asked.group, "first": first, "last": last})
    proof = here.request.app.state.proofs.latest
    values = {"asked": asked, "people": people, "names": names, "name_of": name_of, "groups": GROUPS, "query": query}
    rows = [{"doing": one, "by": _by(names, one.who), "about": _about(names, one)} for one in shown]
    begin = shown[-1].number if shown and more else None
    return show(
        here, "deeds.html", rows=rows, older=begin, newer=bool(before), first=first, last=last, proof=proof, **values
    )


@router.get("/deeds.csv")
def deeds_file(here: HereNow, who: str = "", group: str = "", first: str = "", last: str = "") -> Response:
    """Give what was done as a table, all of it that was asked for."""
    here.must(May.PEOPLE)
    asked = _asked(who, group, first, last)
    headers = {"Content-Disposition": 'attachment; filename="firstlift-chain.csv"'}
    return StreamingResponse(_lines(here.store, asked), media_type="text/csv; charset=utf-8", headers=headers)


@router.post("/deeds/prove")
def prove(here: HereNow) -> Response:
    """Begin the proof of the chain; that it was made, and with what result, goes into the chain."""
    here.must(May.PEOPLE)
    here.request.app.state.proofs.begin(here.who)
    return RedirectResponse("/deeds#proof", 303)


def _lines(store: Store, asked: DoingsAsked) -> Iterator[str]:
    text = io.StringIO()
    lines = csv.writer(text)
    # so that spreadsheets know the letters
    text.write("\ufeff")
    lines.writerow(_COLUMNS)
    with store.read() as reader:
        for one in all_doings(reader, asked):
            said = "; ".join(f"{name}={value}" for name, value in one.said.items())
            row = (one.number, one.at, one.who, one.action, one.kind, one.deed, str(one.about), said)
            lines.writerow([_harmless(value) for value in row])
            if text.tell() > 65536:
                yield text.getvalue()
                text.seek(0)
                text.truncate()
    yield text.getvalue()


def _harmless(value: Any) -> Any:
    """Keep a spreadsheet from taking a text for a formula."""
    return f"'{value}" if isinstance(value, str) and value[:1] in ("=", "+", "-", "@", "\t", "\r") else value


def _asked(who: str, group: str, first: str, last: str) -> DoingsAsked:
    return DoingsAsked(
        who[:_LONGEST_WHO].replace("\0", ""), group if group in GROUPS else "", _day(first, "From"), _day(last, "Until")
    )


def _day(text: str, where: str) -> dt.date | None:
    if not text:
        return None
    try:
        return dt.date.fromisoformat(text)
    except ValueError:
        problem = Problem("WEB-009", f"'{text[:40]}' is no date", where, "a date like 2026-12-01")
        raise FirstliftError(problem) from None


def _number(text: str) -> int | None:
    return int(text) if text.isascii() and text.isdecimal() and 0 < len(text) < 16 else None


def _by(names: dict[str, str], who: str) -> str:
    return names.get(who, who.removeprefix("program:"))


def _about(names: dict[str, str], one: Doing) -> str:
    """Say whom or what it was done to: a person by name, else the beginning of its identifier."""
    about: UUID = one.about
    return names.get(str(about), str(about)[:8])
