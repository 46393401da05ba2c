"""Enter a seat record: measured, the maker's, or found from pulls; looked at before it is kept."""

from __future__ import annotations

import datetime as dt
from typing import Annotated, Any
from uuid import UUID

from fastapi import APIRouter, Form, Query
from fastapi.responses import RedirectResponse, Response

from firstlift.core.errors import FirstliftError, Problem
from firstlift.core.job import Measures
from firstlift.core.register.equipment import Instrument, RegisteredValve
from firstlift.core.register.work import HowTested, ValveTest
from firstlift.core.result import Pull, PullOutcome
from firstlift.core.seat.record import SeatRecord, Source, seat_of
from firstlift.core.seat.word import WORKED_ON
from firstlift.core.units import Kind
from firstlift.store.read import Reader
from firstlift.usecases.register.paired import nearest_pairs
from firstlift.usecases.register.seat_again import all_off_seat
from firstlift.usecases.register.seat_draft import Drafted
from firstlift.usecases.register.seat_entry import Consequence, keep_record, preview_record
from firstlift.usecases.seat_rows import read_rows
from firstlift.web.here import Here, HereNow
from firstlift.web.lists import identifier, today
from firstlift.web.page import show
from firstlift.web.pages.seats import READS, rig_offered, show_area, usual_rig, valve_and_position
from firstlift.web.roles import May
from firstlift.web.seat_forms import AREAS, FORCES, LENGTHS, PRESSURES, WAYS, SeatForm, entry_of
from firstlift.web.seat_picture import draw_fit, draw_readings
from firstlift.web.seat_words import say_reason
from firstlift.words.numbers import format_exact, show_unit

router = APIRouter()
_MOST_TESTS = 40
_WAY_OF = {Source.MEASURED: "measured", Source.MAKER: "maker", Source.TWO_PRESSURES: "pulls", Source.BENCH: "pairs"}


@router.get("/valves/{valve_id}/seats/new")
def new_page(here: HereNow, valve_id: str, form: Annotated[SeatForm, Query()]) -> Response:
    """Show the form, and where it was filled what it comes to and what it would do."""
    here.must(May.TEST)
    on = today()
    problems: tuple[Problem, ...] = ()
    drafted: Drafted | None = None
    would: Consequence | None = None
    with here.store.read() as reader:
        valve, position = valve_and_position(reader, valve_id)
        wrong = reader.get(SeatRecord, identifier(form.corrects)) if form.corrects.strip() else None
        form = _begun(here, valve, wrong, form)
        rig = usual_rig(reader, valve.id, on)
        form = form if form.look else form.model_copy(update=_rig_begun(reader, rig, form))
        try:
            if form.look:
                drafted, would = preview_record(reader, valve.id, entry_of(form, on), rig)
        except FirstliftError as error:
            problems = error.problems
        choices = _choices(reader, valve, form, on)
    unit = here.unit or valve.set_pressure.unit
    shown: dict[str, Any] = {"valve": valve, "position": position, "form": form, "unit": unit, "today": on}
    shown |= {"problems": problems, "drafted": drafted, "would": would, "wrong": wrong, **choices}
    shown |= {"ways": WAYS, "lengths": LENGTHS, "areas": AREAS, "pressures": PRESSURES, "forces": FORCES}
    shown |= {"works": WORKED_ON, "say_reason": say_reason, "show_unit": show_unit, "figure": ""}
    force = here.units.chosen(Kind.FORCE) or "N"
    if drafted is not None:
        shown |= {"figure": draw_fit(drafted.answer, unit, force)} | _told(here, drafted, would)
    elif problems:
        shown["figure"] = _undecided(form, unit, force)
    return show(here, "seat_new.html", status=422 if problems else 200, **shown)


def _begun(here: Here, valve: RegisteredValve, wrong: SeatRecord | None, form: SeatForm) -> SeatForm:
    """Fill a form that was not sent yet: units as the person likes them, a record to correct as it stands."""
    if form.look:
        return form
    liked = {
        "pressure": (here.unit or valve.set_pressure.unit, PRESSURES),
        "force": (here.units.force, FORCES),
        "length": (here.units.length, LENGTHS),
    }
    begun: dict[str, Any] = {name: unit for name, (unit, offered) in liked.items() if unit in offered}
    if wrong is not None and "way" not in form.model_fields_set:
        begun |= {"way": _WAY_OF[wrong.source], "date": wrong.date.isoformat(), "reference": wrong.reference}
        begun |= {"note": wrong.note, "tool": ", ".join(wrong.measured_with)}
        if wrong.inner_diameter_m is not None and wrong.outer_diameter_m is not None:
            begun |= {"inner": format_exact(wrong.inner_diameter_m, "mm")}
            begun |= {"outer": format_exact(wrong.outer_diameter_m, "mm")}
            begun |= {"known": format_exact(wrong.u_outer_m or 0.0, "mm")}
    return form.model_copy(update=begun)


def _rig_begun(reader: Reader, rig: list[str], form: SeatForm) -> dict[str, str]:
    """Name the instruments that a test of the valve would use, where none was typed."""
    reads = {one.serial: one.measures for one in reader.list(Instrument, serial=frozenset(rig))}
    named = {
        "cell": ", ".join(serial for serial in rig if reads.get(serial) is Measures.PULL_FORCE),
        "gauge": next((serial for serial in rig if reads.get(serial) is Measures.LINE_PRESSURE), ""),
    }
    return {name: text for name, text in named.items() if not getattr(form, name)}


def _choices(reader: Reader, valve: RegisteredValve, form: SeatForm, on: dt.date) -> dict[str, Any]:
    """Give what may be chosen: instruments, and of this valve its tests or its pairs."""
    found: dict[str, Any] = {"serials": [], "tests": [], "pairs": []}
    if form.way not in ("pulls", "pairs"):
        return found
    found["serials"] = rig_offered(reader, on)
    if form.way == "pairs":
        found["pairs"] = _pairs(reader, valve)
    else:
        found["tests"] = _tests(reader, valve)
    return found


def _tests(reader: Reader, valve: RegisteredValve) -> list[dict[str, Any]]:
    """Give the valve's tests from recordings with the pulls that lifted it, the latest first."""
    every = reader.list(ValveTest, valve_id=valve.id, order=("-at", "-id"), limit=_MOST_TESTS)
    corrected = {test.supersedes for test in every}
    rows: list[dict[str, Any]] = []
    for test in every:
        pulls = _lifted(test)
        if test.id not in corrected and test.sheet_sha256 and pulls:
            reads = {used.serial for used in test.instruments if used.measures in READS}
            line = sorted(pull.line_pressure_pa for pull in pulls if pull.line_pressure_pa is not None)
            rows.append({"test": test, "pulls": len(pulls), "low": line[0], "high": line[-1], "serials": sorted(reads)})
    return rows


def _lifted(test: ValveTest) -> list[Pull]:
    if test.result is None or test.kind is not HowTested.PULL:
        return []
    return [
        pull
        for pull in test.result.pulls
        if pull.outcome is PullOutcome.MEASURED
        and pull.accepted
        and pull.line_pressure_pa is not None
        and pull.pull_force_n is not None
    ]


def _pairs(reader: Reader, valve: RegisteredValve) -> list[dict[str, Any]]:
    """Give the valve's bench tests with the pull test nearest to each, ready to be put into the form."""
    rows: list[dict[str, Any]] = []
    for pull_test, bench_test in nearest_pairs(reader, valve.id):
        pulls, bench = _lifted(pull_test), bench_test.bench
        if pulls and bench is not None and bench.pop_pa is not None:
            rows.append({"pull": pulls[0], "on_line": pull_test, "on_bench": bench_test, "bench": bench})
    return rows


def _told(here: Here, drafted: Drafted, would: Consequence | None) -> dict[str, Any]:
    """Give the numbers of a preview: the area with its interval, and how far it lies from the one in force."""
    record = drafted.record
    seat = seat_of(record)
    told: dict[str, Any] = {
        "area": show_area(record, here.units),
        "relative": seat.standard_uncertainty_m2 / seat.area_m2,
    }
    told |= {"larger": None, "in_force": would is not None and would.after.record == record}
    if would is not None:
        left = {one.record_id: one.reason for one in would.after.left_out}
        told["why_not"] = say_reason(left[record.id]) if record.id in left else ""
        if would.before.record is not None:
            told["larger"] = seat.area_m2 / seat_of(would.before.record).area_m2 - 1.0
    return told


def _undecided(form: SeatForm, pressure: str, force: str) -> str:
    """Draw what was typed where no line could be fitted, as far as it can be read."""
    if form.way not in ("pulls", "pairs"):
        return ""
    try:
        rows = read_rows(form.rows, "row")
    except FirstliftError:
        return ""
    pairs = form.way == "pairs"
    readings = [
        (row["bench_pressure"].si - row["line_pressure"].si if pairs else row["line_pressure"].si, row["pull"].si)
        for row in rows
    ]
    return draw_readings(readings, pressure, force, pairs=pairs) if readings else ""


@router.post("/valves/{valve_id}/seats/new")
def keep_new(here: HereNow, valve_id: str, form: Annotated[SeatForm, Form()]) -> Response:
    """Keep a seat record as it was looked at."""
    here.must(May.TEST)
    chosen: UUID = identifier(valve_id)
    record = keep_record(here.store, chosen, entry_of(form, today()), by=here.person.id)
    with here.store.read() as reader:
        # whoever corrected a record comes to the tests that rest on the wrong one
        again = bool(form.corrects.strip()) and bool(all_off_seat(reader, chosen))
    return RedirectResponse(f"/valves/{chosen}/seats#{'again' if again else f'record-{record.id}'}", 303)
