"""A test beside the earlier ones of its valve: set pressures over the years, and the pulls laid over each other."""

from __future__ import annotations

from fastapi import APIRouter
from fastapi.responses import Response

from firstlift.core.errors import FirstliftError, Problem
from firstlift.core.register.equipment import RegisteredValve
from firstlift.core.register.work import ValveTest
from firstlift.core.units import UNITS
from firstlift.figures import Past, draw_history
from firstlift.figures.overlay_figure import Curve, draw_overlay
from firstlift.store.read import Reader
from firstlift.usecases.papers.record import history_of
from firstlift.usecases.register.overlay import Loop, comparable, loops_of
from firstlift.web.here import HereNow
from firstlift.web.lists import identifier
from firstlift.web.say import _, speaker, words
from firstlift.words.numbers import show_unit

router = APIRouter()


def draw_past(reader: Reader, test: ValveTest, unit: str) -> str:
    """Draw a test's set pressure among the earlier ones of its valve, with their intervals and this test's limits.

    Parameters
    ----------
    reader : Reader
    test : ValveTest
    unit : str
        Of pressures.

    Returns
    -------
    str
        SVG; empty where there is none to compare with.
    """
    factor, earlier = UNITS[unit].factor, history_of(reader, test, unit)

    def shown(pa: float | None) -> float | None:
        return None if pa is None else pa / factor

    own = Past(
        test.day, *(shown(pa) for pa in (test.set_pressure_pa, test.expanded_uncertainty_pa, test.lower_bound_pa)),
        as_left=test.purpose == "as-left", current=True,
    )  # fmt: skip
    if not earlier or (own.value is None and own.lower_bound is None):
        return ""
    verdict = None if test.result is None else test.result.verdict
    lower, upper = (None, None) if verdict is None else (verdict.lower_pa / factor, verdict.upper_pa / factor)
    return draw_history((*earlier, own), lower=lower, upper=upper, unit=unit, width=360.0, say=speaker())


@router.get("/tests/{test_id}/compared.svg")
def compared_picture(here: HereNow, test_id: str) -> Response:
    """Draw the opening load against lift of this test's pull and of earlier ones."""
    with here.store.read() as reader:
        test = reader.get(ValveTest, identifier(test_id))
        unit = here.unit or reader.get(RegisteredValve, test.valve_id).set_pressure.unit
        loops = loops_of(reader, comparable(reader, test))
    if len(loops) < 2:
        raise FirstliftError(Problem("WEB-005", "no earlier pull can be laid over this one", str(test.id)))
    factor, verdict = UNITS[unit].factor, None if test.result is None else test.result.verdict
    lower, upper = (None, None) if verdict is None else (verdict.lower_pa / factor, verdict.upper_pa / factor)
    svg = draw_overlay(
        [_curve(loop, factor, current=loop.test.id == test.id) for loop in loops],
        title=_("Opening load against lift"),
        x_label=_("lift from rest, mm"),
        y_label=_("line pressure + pull ÷ seat area, %(unit)s", unit=show_unit(unit)),
        lower=lower,
        upper=upper,
        width=360.0,
    )
    return Response(svg, media_type="image/svg+xml")


def _curve(loop: Loop, factor: float, *, current: bool) -> Curve:
    purpose = words.purpose(loop.test.purpose)
    label = _("%(day)s, %(purpose)s, pull %(number)s", day=loop.day, purpose=purpose, number=loop.pull)
    return Curve(label, loop.lift_m * 1e3, loop.load_pa / factor, current)
