"""Review of one test: traces, what each channel said, the budget, the verdict on one scale, earlier tests."""

from __future__ import annotations

from functools import partial
from typing import Annotated, Any
from uuid import UUID

from fastapi import APIRouter, Form
from fastapi.responses import RedirectResponse, Response

from firstlift.core.errors import FirstliftError, Problem
from firstlift.core.register.equipment import RegisteredValve
from firstlift.core.register.places import Position
from firstlift.core.register.work import Certificate, CertificateState, HowTested, ValveTest
from firstlift.core.result import REJECTED, FindingText, Result
from firstlift.core.units import UNITS
from firstlift.figures import Reading, draw_budget, draw_limits
from firstlift.store.history import past_tests
from firstlift.store.read import Reader
from firstlift.usecases.draw import draw_analysis
from firstlift.usecases.papers.life import draft_certificate
from firstlift.usecases.papers.record import kept_test
from firstlift.usecases.register.fill import calibration_of, instrument_by_serial
from firstlift.usecases.register.overlay import comparable
from firstlift.usecases.register.seat_again import off_seat
from firstlift.web.here import HereNow
from firstlift.web.lists import identifier, names
from firstlift.web.page import show
from firstlift.web.pages.comparing import draw_past
from firstlift.web.pages.reviewing import spoken_of
from firstlift.web.roles import May
from firstlift.web.say import _, speaker, words
from firstlift.words.place import language_here

router = APIRouter()
Text = Annotated[str, Form()]
_GRAVITY = {"severe": 0, "warning": 1, "info": 2}
_OPEN = (CertificateState.DRAFT, CertificateState.REVIEWED)


@router.get("/tests/{test_id}")
def test_page(here: HereNow, test_id: str) -> Response:
    """Show a test for review."""
    with here.store.read() as reader:
        test = reader.get(ValveTest, identifier(test_id))
        valve = reader.get(RegisteredValve, test.valve_id)
        later = reader.list(ValveTest, supersedes=test.id)
        values = {
            "test": test,
            "valve": valve,
            "position": reader.get(Position, test.position_id) if test.position_id else None,
            "people": names(reader, test.people),
            "later": later[0] if later else None,
            "papers": reader.list(Certificate, test_id=test.id, order=("-number",)),
            "before": [past for past in past_tests(reader, valve_id=valve.id, limit=9) if past.id != test.id],
            "issued": _issued(reader, valve.id),
            "calibrations": _instruments(reader, test),
            "compared": comparable(reader, test, most=1),
            "past": draw_past(reader, test, here.unit or valve.set_pressure.unit),
        }
        values["off_seat"] = None if later else off_seat(reader, test)
        values["replaced"] = _replaced(reader, test, values["issued"])
    result, unit = test.result, here.unit or valve.set_pressure.unit
    figures = {"scale": "", "budget": ""}
    findings: list[FindingText] = []
    if result is not None:
        figures["scale"] = _scale(result, valve, unit)
        figures["budget"] = draw_budget(result.budget, width=370.0, say=speaker()) if result.budget else ""
        findings = sorted(result.findings, key=lambda finding: _GRAVITY[finding.severity])
    stands = here.may(May.TEST) and bool(test.sheet_sha256 and test.recording_sha256) and not values["later"]
    may_draft = stands and not any(paper.state in _OPEN for paper in values["papers"])
    values["may_compute"] = stands and values["off_seat"] is not None and values["off_seat"].in_force is not None
    values["may_review"] = stands and result is not None and bool(result.pulls)
    lifted = result is not None and any(pull.set_pressure_pa is not None for pull in result.pulls)
    values["may_adjust"] = stands and lifted and test.kind is HowTested.PULL
    values["spoken"] = spoken_of(result) if result is not None else []
    shown: dict[str, Any] = {"said": partial(_said, unit=unit)}
    shown |= {"unit": unit, "figures": figures, "findings": findings, "may_draft": may_draft, "result": result}
    return show(here, "test.html", **values, **shown)


def _said(finding: FindingText, *, unit: str) -> str:
    """Say a finding in the language of the page; as it was kept where this release does not know its code."""
    if language_here() == "en":
        return finding.message
    try:
        return words.message(finding, pressure_unit=unit)
    except FirstliftError:
        return finding.message


def _issued(reader: Reader, valve_id: UUID) -> list[Certificate]:
    """Give the certificates of a valve that stand, which a new one may take the place of."""
    found: list[Certificate] = []
    for past in past_tests(reader, valve_id=valve_id, limit=40):
        found += reader.list(Certificate, test_id=past.id, state=CertificateState.ISSUED)
    return found


def _replaced(reader: Reader, test: ValveTest, issued: list[Certificate]) -> list[Certificate]:
    """Give the certificates of this test, or of one that it corrects: a new one takes their place."""
    same = {test.id}
    while test.supersedes is not None and test.supersedes not in same:
        same.add(test.supersedes)
        test = reader.get(ValveTest, test.supersedes)
    return [paper for paper in issued if paper.test_id in same]


def _scale(result: Result, valve: RegisteredValve, unit: str) -> str:
    """Draw every pull's value against the limits on one scale."""
    verdict, factor = result.verdict, UNITS[unit].factor

    def shown(pa: float | None) -> float | None:
        return None if pa is None else pa / factor

    judged = set(verdict.judged) if verdict else set[int]()
    readings = tuple(
        Reading(
            # the sign of the certificate for what does not count
            _("pull %(number)s", number=pull.number) + (" ×" if REJECTED in pull.flags else ""),
            shown(pull.set_pressure_pa),
            shown(pull.expanded_uncertainty_pa),
            shown(pull.lower_bound_pa),
            judged=pull.number in judged,
        )
        for pull in result.pulls[:24]
    )
    if not any(one.value is not None or one.lower_bound is not None for one in readings):
        return ""
    lower, upper = (None, None) if verdict is None else (verdict.lower_pa / factor, verdict.upper_pa / factor)
    return draw_limits(
        readings,
        lower=lower,
        upper=upper,
        stamped=valve.set_pressure.si / factor,
        unit=unit,
        width=370.0,
        say=speaker(),
    )


def _instruments(reader: Reader, test: ValveTest) -> list[dict[str, object]]:
    """Say of each instrument which calibration was in force, and whether it ran on that day."""
    rows: list[dict[str, object]] = []
    for used in test.instruments:
        instrument = instrument_by_serial(reader, used.serial)
        calibration = calibration_of(reader, instrument, test.day) if instrument else None
        ran = calibration is not None and calibration.due >= test.day
        rows.append({"used": used, "instrument": instrument, "calibration": calibration, "ran": ran})
    return rows


@router.get("/tests/{test_id}/pull.svg")
def pull_picture(here: HereNow, test_id: str) -> Response:
    """Draw the first pull that lifted, with its lines before and after, from the kept recording."""
    with here.store.read() as reader:
        test = reader.get(ValveTest, identifier(test_id))
        unit = here.unit or reader.get(RegisteredValve, test.valve_id).set_pressure.unit
        _check_kept(test)
        with kept_test(reader, test) as analysed:
            svg = draw_analysis(analysed.analysis, pressure_unit=unit)
    return Response(svg, media_type="image/svg+xml")


@router.post("/tests/{test_id}/certificate")
def draft(here: HereNow, test_id: str, supersedes: Text = "", reason: Text = "") -> Response:
    """Reserve the next number and draft the certificate of a test, or one that will take the place of another."""
    here.must(May.TEST)
    with here.store.read() as reader:
        test = reader.get(ValveTest, identifier(test_id))
    _check_kept(test)
    made = draft_certificate(
        here.store, test, by=here.who, supersedes=supersedes, reason=reason.strip()[:300] if supersedes else ""
    )
    return RedirectResponse(f"/papers/{made.text}", 303)


def _check_kept(test: ValveTest) -> None:
    if not (test.sheet_sha256 and test.recording_sha256):
        raise FirstliftError(
            Problem("WEB-005", "this test keeps no recording", str(test.id), "a test made from a recording")
        )
