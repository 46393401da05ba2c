"""Draw a plan: the force envelope with the rig's limit, and the decision map."""

from __future__ import annotations

from firstlift.core.plan.decide import middle_pa
from firstlift.core.plan.plan import Plan
from firstlift.core.units import from_si
from firstlift.figures.envelope_figure import EnvelopePoint, draw_envelope
from firstlift.figures.map_figure import MapRow, draw_map
from firstlift.usecases.plan import Planned
from firstlift.words.paper import ENGLISH, Speaker
from firstlift.words.planning import phrase


def _weakest(plan: Plan) -> tuple[float | None, str]:
    margins = sorted(plan.forces.margins, key=lambda margin: margin.limit_n)
    return (margins[0].limit_n, margins[0].part) if margins else (None, "")


def draw_plan_envelope(
    planned: Planned, *, force_unit: str = "", width: float = 480.0, height: float = 300.0, say: Speaker = ENGLISH
) -> str:
    """Draw the force envelope of a plan with the rig's limit.

    Parameters
    ----------
    planned : Planned
    force_unit : str
        Symbol of the unit for forces; "" by their size, N or kN.
    width, height : float
        In points; smaller, its words are larger where it is shown as wide.
    say : Speaker

    Returns
    -------
    str
        SVG.
    """
    plan, unit = planned.plan, planned.unit
    limit, part = _weakest(plan)
    force = force_unit or ("kN" if max(row.stop_n for row in plan.envelope) >= 2e4 else "N")
    points = [
        EnvelopePoint(
            from_si(row.line_pressure_pa, unit),
            *(from_si(value, force) for value in (row.low_n, row.expected_n, row.high_n, row.stop_n)),
        )
        for row in plan.envelope
    ]
    return draw_envelope(
        points,
        line=from_si(plan.line_pressure_pa, unit),
        expected=from_si(plan.forces.expected_n, force),
        rig_limit=None if limit is None else from_si(limit, force),
        rig_part=phrase("part", part, language=say.language) if part else "",
        force_unit=force,
        pressure_unit=unit,
        width=width,
        height=height,
        say=say,
    )


def draw_plan_map(
    planned: Planned,
    reading_pa: float | None = None,
    *,
    width: float = 480.0,
    height: float = 300.0,
    say: Speaker = ENGLISH,
) -> str:
    """Draw the decision map of a plan.

    Parameters
    ----------
    planned : Planned
    reading_pa : float or None, [Pa gauge]
        A reading to mark.
    width, height : float
        In points; smaller, its words are larger where it is shown as wide.
    say : Speaker

    Returns
    -------
    str
        SVG.
    """
    plan, unit = planned.plan, planned.unit

    def shown(value: float | None) -> float | None:
        return None if value is None else from_si(value, unit)

    rows = [
        MapRow(
            from_si(row.line_pressure_pa, unit),
            shown(row.within_low_pa),
            shown(row.within_high_pa),
            from_si(row.outside_low_pa, unit),
            from_si(row.outside_high_pa, unit),
        )
        for row in plan.decision_map
    ]
    return draw_map(
        rows,
        lower=from_si(plan.limits.lower_pa, unit),
        upper=from_si(plan.limits.upper_pa, unit),
        middle=from_si(middle_pa(planned.limits), unit),
        lowest_line=shown(plan.lowest_line_pa),
        line=from_si(plan.line_pressure_pa, unit),
        pressure_unit=unit,
        reading=shown(reading_pa),
        width=width,
        height=height,
        say=say,
    )
