"""Take valves in from a spreadsheet: what would go where, what stands in the way, and then all of it or nothing."""

from __future__ import annotations

import tempfile
from pathlib import Path
from typing import Annotated
from urllib.parse import urlencode

from fastapi import APIRouter, File, Form, Query, UploadFile
from fastapi.responses import RedirectResponse, Response

from firstlift.core.errors import FirstliftError, Problem
from firstlift.formats.sheets.seam import column_name
from firstlift.store.files import keep_file
from firstlift.usecases.import_sheet import Progress, import_sheet, preview_sheet
from firstlift.usecases.import_taker import ImportReport
from firstlift.usecases.register.place import now
from firstlift.web.bringing import Imports, Looking, TakingSheet
from firstlift.web.columns import put_down
from firstlift.web.here import Here, HereNow
from firstlift.web.lists import identifier
from firstlift.web.page import show
from firstlift.web.pages.importing import AT_ONCE_S, known, put_files
from firstlift.web.roles import May
from firstlift.web.sheet_said import SheetSaid

router = APIRouter()
Files = Annotated[list[UploadFile], File()]
_SHOWN = 60
_NO_FILE = ("WEB-009", "STO-010")
_takings: Imports[TakingSheet] = Imports()
_lookings: Imports[Looking] = Imports()


@router.get("/spreadsheet")
def spreadsheet_page(here: HereNow, stopped: str = "") -> Response:
    """Ask for the file."""
    here.must(May.PLAN)
    return show(here, "spreadsheet.html", stopped=bool(stopped))


@router.post("/spreadsheet")
def bring_spreadsheet(here: HereNow, files: Files) -> Response:
    """Keep the file, and go on to look at it."""
    here.must(May.PLAN)
    with tempfile.TemporaryDirectory(prefix="firstlift-import-") as name:
        placed = put_files(files, Path(name))
        if len(placed) != 1:
            raise FirstliftError(Problem("WEB-009", f"{len(placed)} files were given", "Spreadsheet", "one file"))
        asked = {"file": keep_file(here.store.folder, placed[0]), "name": placed[0].name}
    return RedirectResponse(f"/spreadsheet/look?{urlencode(asked)}", 303)


@router.get("/spreadsheet/look")
def look_page(here: HereNow, said: Annotated[SheetSaid, Query()]) -> Response:
    """Show what would go where, and what stands in the way; of a long list first how far it is. Nothing is written."""
    here.must(May.PLAN)
    looking = _looking(here, said)
    if looking.over and here.request.headers.get("hx-request"):
        return Response(status_code=204, headers={"HX-Refresh": "true"})
    if not looking.over or looking.stopped:
        stop = f"/spreadsheet/look/{looking.id}/stop"
        return show(here, "taking.html", taking=looking, where=said.address, stop=stop)
    if looking.problems:
        _lookings.forget(looking.id)  # asked again, it is looked at again
        if looking.problems[0].code in _NO_FILE:
            raise FirstliftError(looking.problems)
    return show(
        here,
        "spreadsheet_look.html",
        status=422 if looking.problems else 200,
        said=said,
        asked_words=said.asked_of(looking.report),
        report=looking.report,
        problems=looking.problems,
        shown=_SHOWN,
        column_name=column_name,
    )


def _looking(here: Here, said: SheetSaid) -> Looking:
    """Find the look that was asked for, or begin it; one that was stopped begins anew."""
    kept_in = here.store.folder

    def look(progress: Progress) -> ImportReport:
        with tempfile.TemporaryDirectory(prefix="firstlift-import-") as folder:
            return preview_sheet(put_down(kept_in, said.file, said.name, Path(folder)), said.mapping, progress)

    fresh = Looking(look, person_id=here.person.id, asked=[text for pair in said.pairs for text in pair])
    found = _lookings.find(fresh.id, here.person.id)
    if found is not None and not found.stopping:
        return found
    _lookings.begin(fresh)
    fresh.wait(AT_ONCE_S)
    return fresh


@router.post("/spreadsheet/look/{looking_id}/stop")
def stop_looking(here: HereNow, looking_id: str) -> Response:
    """Stop looking at a spreadsheet; ask for another."""
    here.must(May.PLAN)
    known(_lookings.find(identifier(looking_id), here.person.id), looking_id).stop()
    return RedirectResponse("/spreadsheet?stopped=yes", 303)


class Take(SheetSaid):
    """The same, and whether the rows that cannot be taken are left out."""

    good_rows: str = ""


@router.post("/spreadsheet/take")
def take(here: HereNow, said: Annotated[Take, Form()]) -> Response:
    """Begin to take the rows in: all of them, or where that is ticked those that can be taken."""
    here.must(May.PLAN)
    store, who = here.store, here.who

    def take_in(progress: Progress) -> ImportReport:
        good_rows = bool(said.good_rows)
        with tempfile.TemporaryDirectory(prefix="firstlift-import-") as folder:
            path = put_down(store.folder, said.file, said.name, Path(folder))
            return import_sheet(
                store, path, said.mapping, at=now(), who=who, take_good_rows=good_rows, progress=progress
            )

    taking = TakingSheet(take_in, said, person_id=here.person.id)
    _takings.begin(taking)
    taking.wait(AT_ONCE_S)
    return RedirectResponse(f"/spreadsheet/taking/{taking.id}", 303)


@router.get("/spreadsheet/taking/{taking_id}")
def taking_page(here: HereNow, taking_id: str) -> Response:
    """Show how far the rows are, and in the end what was taken in, or why nothing was."""
    here.must(May.PLAN)
    taking = known(_takings.find(identifier(taking_id), here.person.id), taking_id)
    if taking.over and here.request.headers.get("hx-request"):
        return Response(status_code=204, headers={"HX-Refresh": "true"})
    if taking.problems:
        raise FirstliftError(taking.problems)
    if taking.report is not None:
        nothing = not taking.report.kept and taking.report.rows_refused > 0
        shown = {"report": taking.report, "said": taking.said, "nothing": nothing, "shown": _SHOWN}
        return show(here, "spreadsheet_done.html", status=422 if nothing else 200, **shown)
    where = f"/spreadsheet/taking/{taking.id}"
    return show(here, "taking.html", taking=taking, where=where, stop=f"{where}/stop")


@router.post("/spreadsheet/taking/{taking_id}/stop")
def stop_taking(here: HereNow, taking_id: str) -> Response:
    """Stop taking rows in: nothing of them is kept."""
    here.must(May.PLAN)
    taking = known(_takings.find(identifier(taking_id), here.person.id), taking_id)
    taking.stop()
    taking.wait(AT_ONCE_S)
    return RedirectResponse(f"/spreadsheet/taking/{taking.id}", 303)
