"""The decision map: which readings would be within, outside or undecided, against line pressure."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from firstlift.figures.plan_frame import PlanFrame, draw_axes, plan_frame
from firstlift.figures.svg import ACCENT, INK, QUIET, Circle, Line, Point, Polygon, Shape, Text, render
from firstlift.words.numbers import show_unit
from firstlift.words.paper import ENGLISH, Speaker

_WITHIN = "#cfe0d6"
_OPEN = "#f1ede4"


@dataclass(frozen=True, slots=True)
class MapRow:
    """Where the verdict changes at one line pressure, in display units; None: no reading is within."""

    line: float
    within_low: float | None
    within_high: float | None
    outside_low: float
    outside_high: float


def draw_map(
    rows: Sequence[MapRow],
    *,
    lower: float,
    upper: float,
    middle: float,
    lowest_line: float | None,
    line: float,
    pressure_unit: str,
    reading: float | None = None,
    width: float = 480.0,
    height: float = 300.0,
    say: Speaker = ENGLISH,
) -> str:
    """Draw the decision map.

    Parameters
    ----------
    rows : sequence of MapRow
        In rising order of line pressure, two or more.
    lower, upper : float
        Limits, in display units.
    middle : float
        The reading that lies best between them, in display units.
    lowest_line : float or None
        Lowest line pressure at which a reading can be within, in display units.
    line : float
        The planned line pressure, in display units.
    pressure_unit : str
        Symbol of the display unit.
    reading : float or None
        A reading to mark at the planned line.
    width, height : float
        In points.
    say : Speaker

    Returns
    -------
    str
        SVG.
    """
    low, high = _range(rows, lower, upper)
    frame = plan_frame(top_line=rows[-1].line, low=low, high=high, width=width, height=height)
    shapes: list[Shape] = [_between_outsides(frame, rows)]
    within = _within(frame, rows, middle, lowest_line)
    if within is not None:
        shapes.append(within)
    unit = show_unit(pressure_unit)
    shapes += draw_axes(frame, x_title=say("figure.plan-line", unit=unit), y_title=say("figure.map-read", unit=unit))
    for limit, name, shift in ((lower, say("figure.lower"), 9.0), (upper, say("figure.upper"), -4.0)):
        y = frame.y.at(limit)
        shapes.append(Line(frame.x.start, y, frame.x.end, y, INK, 0.9, "4 2"))
        shapes.append(Text(frame.x.start + 4.0, y + shift, name, 7.5, "start", italic=True))
    shapes += _names(frame, rows, within is not None, say)
    x = frame.x.at(line)
    shapes.append(Line(x, frame.y.start, x, frame.y.end, INK, 0.6, "1.5 1.5"))
    shapes.append(Text(x - 4.0, frame.y.end + 7.0, say("figure.plan-planned"), 7.5, "end", italic=True))
    if reading is not None:
        shapes.append(Circle(*frame.point(line, reading), 3.0, ACCENT))
    return render(width, height, shapes, title=say("figure.map", unit=unit))


def _range(rows: Sequence[MapRow], lower: float, upper: float) -> tuple[float, float]:
    """Show what stays open where the line is high, and not all of it where the line is low."""
    half = 0.5 * (upper - lower)
    middle_row = rows[len(rows) // 2]
    low = max(min(row.outside_low for row in rows), min(lower - 2.0 * half, middle_row.outside_low))
    high = min(max(row.outside_high for row in rows), max(upper + 2.0 * half, middle_row.outside_high))
    room = 0.12 * (high - low)
    return low - room, high + room


def _between_outsides(frame: PlanFrame, rows: Sequence[MapRow]) -> Polygon:
    upper = [frame.point(row.line, row.outside_high) for row in rows]
    lower = [frame.point(row.line, row.outside_low) for row in reversed(rows)]
    return Polygon((*upper, *lower), _OPEN, QUIET, 0.8)


def _within(frame: PlanFrame, rows: Sequence[MapRow], middle: float, lowest: float | None) -> Polygon | None:
    upper: list[Point] = []
    lower: list[Point] = []
    for row in rows:
        if row.within_low is not None and row.within_high is not None:
            upper.append(frame.point(row.line, row.within_high))
            lower.append(frame.point(row.line, row.within_low))
    if not upper:
        return None
    # the wedge closes where the middle of the limits just decides, between two rows
    tip = [] if lowest is None or frame.x.at(lowest) >= upper[0][0] else [frame.point(lowest, middle)]
    return Polygon((*tip, *upper, *reversed(lower)), _WITHIN, INK, 0.8)


def _names(frame: PlanFrame, rows: Sequence[MapRow], within: bool, say: Speaker) -> list[Shape]:
    last = rows[-1]
    right = frame.x.end - 6.0
    middle = 0.5 * (last.outside_low + last.outside_high)
    shapes: list[Shape] = [
        Text(right, frame.y.end + 18.0, say("figure.map-outside"), 8.0, "end", QUIET, italic=True),
        Text(right, frame.y.start - 6.0, say("figure.map-outside"), 8.0, "end", QUIET, italic=True),
        Text(frame.x.start + 30.0, frame.y.at(middle) + 2.6, say("figure.map-undecided"), 8.0, "start", italic=True),
    ]
    if within:
        shapes.append(Text(right, frame.y.at(middle) + 2.6, say("figure.map-within"), 8.0, "end", bold=True))
    return shapes
