"""Bring in recordings: job sheets with their files in one go, or one recording whose columns are named here."""

from __future__ import annotations

import shutil
import tempfile
from pathlib import Path, PurePosixPath
from typing import Annotated, Any
from urllib.parse import urlencode
from uuid import UUID

from fastapi import APIRouter, File, Form, Request, UploadFile
from fastapi.concurrency import run_in_threadpool
from fastapi.responses import RedirectResponse, Response

from firstlift.core.errors import FirstliftError, Problem
from firstlift.core.job import Measures
from firstlift.core.register.equipment import Installation, Instrument
from firstlift.core.register.places import Position, Site
from firstlift.core.register.work import SiteVisit
from firstlift.store.files import keep_file
from firstlift.store.read import Reader
from firstlift.usecases.register.analyse import analyse_in_register, keep_test
from firstlift.web.bringing import Bringing, Brought, Imports, J, new_folder
from firstlift.web.columns import Asked, columns_of, sheet_from
from firstlift.web.here import Here, HereNow
from firstlift.web.lists import identifier, today
from firstlift.web.page import show
from firstlift.web.roles import May

router = APIRouter()
Text = Annotated[str, Form()]
Files = Annotated[list[UploadFile], File()]
_MOST_FILES = 1000
_DEEPEST = 6
_STRETCH = 1_000_000
# what is over soon is shown as done at once, instead of as begun
AT_ONCE_S = 1.5
_imports: Imports[Bringing] = Imports()


@router.get("/import")
def import_page(here: HereNow, visit: str = "", valve: str = "", purpose: str = "as-found") -> Response:
    """Offer both ways."""
    here.must(May.TEST)
    chosen: dict[str, Any] = {"tag": "", "site": "", "purpose": purpose}
    with here.store.read() as reader:
        plan = reader.get(SiteVisit, identifier(visit)) if visit else None
        hung = reader.list(Installation, valve_id=identifier(valve), until=None) if valve else []
        if hung:
            position = reader.get(Position, hung[0].position_id)
            chosen |= {"tag": position.tag, "site": reader.get(Site, position.site_id).name}
        offered = _offered(reader)
    running = _imports.running(here.person.id)
    return show(here, "import.html", visit=plan, today=today(), running=running, **chosen, **offered)


def _offered(reader: Reader) -> dict[str, Any]:
    visits = reader.list(SiteVisit, order=("-start", "-id"), limit=20)
    return {"visits": visits, "sites": [site.name for site in reader.list(Site, order=("name_key",))]}


@router.post("/import/sheets")
def bring_sheets(here: HereNow, files: Files, visit: Text = "") -> Response:
    """Begin to analyse every job sheet among the files against the register and to keep the tests."""
    here.must(May.TEST)
    visit_id = _visit(here, visit)
    folder = new_folder()
    try:
        sheets = [path for path in put_files(files, folder) if path.suffix.lower() == ".toml"]
        if not sheets:
            raise FirstliftError(
                Problem(
                    "WEB-009",
                    "there is no job sheet among the files",
                    "Files",
                    "one .toml or more, with the recordings they name",
                    "Or bring in one recording and name its columns here",
                )
            )
    except BaseException:
        shutil.rmtree(folder, ignore_errors=True)
        raise
    store, who, people = here.store, here.who, (here.person.id,)

    def bring(sheet: Path) -> Brought:
        with tempfile.TemporaryDirectory(prefix="firstlift-filled-") as name:
            filled = analyse_in_register(store, sheet, Path(name))
            test = keep_test(store, filled, who=who, visit_id=visit_id, people=people)
        return Brought(str(sheet.relative_to(folder)), test, filled.found.position.tag)

    bringing = Bringing(folder, sorted(sheets), bring, person_id=here.person.id, visit_id=visit_id)
    _imports.begin(bringing)
    bringing.wait(AT_ONCE_S)
    return RedirectResponse(f"/import/running/{bringing.id}", 303)


@router.get("/import/running/{bringing_id}")
def running_page(here: HereNow, bringing_id: str, seen: str = "") -> Response:
    """Show how far an import is, and in the end what came in; where nothing is new, a page that asks again stays."""
    here.must(May.TEST)
    bringing = _bringing(here, bringing_id)
    stands = f"{len(bringing.brought)}{'s' if bringing.stopping else ''}"
    if here.request.headers.get("hx-request") and seen == stands and not bringing.over:
        return Response(status_code=204)
    with here.store.read() as reader:
        plan = reader.find(SiteVisit, bringing.visit_id) if bringing.visit_id else None
    return show(here, "running.html", running=bringing, brought=tuple(bringing.brought), visit=plan)


@router.post("/import/running/{bringing_id}/stop")
def stop_import(here: HereNow, bringing_id: str) -> Response:
    """Stop an import after the sheet that is being analysed."""
    here.must(May.TEST)
    bringing = _bringing(here, bringing_id)
    bringing.stop()
    bringing.wait(AT_ONCE_S)
    return RedirectResponse(f"/import/running/{bringing.id}", 303)


def _bringing(here: Here, text: str) -> Bringing:
    return known(_imports.find(identifier(text), here.person.id), text)


def known(found: J | None, text: str) -> J:
    """Give an import that is known.

    Parameters
    ----------
    found : Beside or None
    text : str
        Its identifier in the address.

    Returns
    -------
    Beside

    Raises
    ------
    FirstliftError
        WEB-005.
    """
    if found is None:
        raise FirstliftError(
            Problem(
                "WEB-005",
                "this import is not known any more: the app was started again since, or somebody else began it",
                text[:80],
                "an import of your own that still runs",
                "What came in before stands in the register; bring the rest in again",
            )
        )
    return found


@router.post("/import/recording")
def bring_recording(
    here: HereNow,
    files: Files,
    tag: Text = "",
    purpose: Text = "as-found",
    date: Text = "",
    visit: Text = "",
    site: Text = "",
) -> Response:
    """Keep one recording, and go on to name its columns."""
    here.must(May.TEST)
    with tempfile.TemporaryDirectory(prefix="firstlift-import-") as name:
        placed = put_files(files, Path(name))
        if len(placed) != 1:
            raise FirstliftError(Problem("WEB-009", f"{len(placed)} files were given", "Recording", "one recording"))
        columns_of(placed[0])
        kept = keep_file(here.store.folder, placed[0])
        asked = {"recording": kept, "name": placed[0].name, "tag": tag, "purpose": purpose, "date": date}
        asked["site"] = _site(here, visit, site)
    return RedirectResponse(f"/import/columns?{urlencode({**asked, 'visit': visit})}", 303)


@router.get("/import/columns")
def columns_page(
    here: HereNow,
    recording: str,
    name: str,
    tag: str = "",
    purpose: str = "as-found",
    date: str = "",
    visit: str = "",
    site: str = "",
) -> Response:
    """Ask what each column measures, with a guess where its name or unit says so."""
    here.must(May.TEST)
    asked = Asked(recording, name, tag, purpose, date, site)
    with tempfile.TemporaryDirectory(prefix="firstlift-import-") as folder:
        columns = columns_of(asked.put_down(here.store.folder, Path(folder)))
    with here.store.read() as reader:
        instruments = reader.list(Instrument, order=("serial_key",), active=True)
    values = {"columns": columns, "instruments": instruments, "measures": tuple(Measures), "visit": visit}
    return show(here, "columns.html", asked=asked, **values)


@router.post("/import/columns")
async def bring_columns(here: HereNow, request: Request) -> Response:
    """Analyse the recording by the columns that were named, and keep the test."""
    form = {key: str(value) for key, value in (await request.form()).items()}
    return await run_in_threadpool(_bring_columns, here, form)


def _bring_columns(here: Here, form: dict[str, str]) -> Response:
    here.must(May.TEST)
    asked = Asked(*(form.get(key, "") for key in ("recording", "name", "tag", "purpose", "date", "site")))
    visit_id = _visit(here, form.get("visit", ""))
    with tempfile.TemporaryDirectory(prefix="firstlift-import-") as name:
        folder = Path(name)
        asked.put_down(here.store.folder, folder)
        (folder / "filled").mkdir()
        sheet = folder / "jobsheet.toml"
        sheet.write_text(sheet_from(asked, form), encoding="utf-8")
        filled = analyse_in_register(here.store, sheet, folder / "filled")
        test = keep_test(here.store, filled, who=here.who, visit_id=visit_id, people=(here.person.id,))
    return RedirectResponse(f"/tests/{test.id}", 303)


def _visit(here: Here, text: str) -> UUID | None:
    if not text:
        return None
    with here.store.read() as reader:
        return reader.get(SiteVisit, identifier(text)).id


def _site(here: Here, visit: str, name: str) -> str:
    """Give the name of the site where the tag is meant: of the visit, else as chosen, else none."""
    visit_id = _visit(here, visit)
    if visit_id is None:
        return name.strip()[:200]
    with here.store.read() as reader:
        return reader.get(Site, reader.get(SiteVisit, visit_id).site_id).name


def put_files(files: list[UploadFile], folder: Path) -> list[Path]:
    """Write uploaded files into a folder, each in the part of it that its own folder was called.

    Parameters
    ----------
    files : list of UploadFile
    folder : Path

    Returns
    -------
    list of Path

    Raises
    ------
    FirstliftError
        WEB-009 none was chosen, too many were, or two share a name.
    """
    placed: list[Path] = []
    if len(files) > _MOST_FILES:
        raise FirstliftError(
            Problem("WEB-009", f"{len(files)} files were given", "Files", f"at most {_MOST_FILES} in one go")
        )
    for file in files:
        parts = PurePosixPath((file.filename or "").replace("\\", "/")).parts[-_DEEPEST:]
        if not parts or not all(part.isprintable() and part not in ("/", ".", "..") for part in parts):
            continue
        # a colon would name another drive on some systems
        target = folder.joinpath(*(part[-120:].replace(":", "_") for part in parts))
        try:
            target.parent.mkdir(parents=True, exist_ok=True)
            written = target.open("xb")
        except (FileExistsError, NotADirectoryError):
            raise FirstliftError(
                Problem("WEB-009", f"two files are called '{parts[-1]}'", "Files", "names that differ")
            ) from None
        with written:
            while stretch := file.file.read(_STRETCH):
                written.write(stretch)
        placed.append(target)
    if not placed:
        raise FirstliftError(
            Problem("WEB-009", "no file was chosen", "Files", "a file", "Choose one, or drop it there")
        )
    return placed
