"""The value with its interval against the limits, on one scale."""

from __future__ import annotations

from dataclasses import dataclass

from firstlift.figures.axis import Axis, ticks
from firstlift.figures.svg import INK, QUIET, Circle, Line, Polygon, Rect, Shape, Text, render
from firstlift.words.numbers import show_unit
from firstlift.words.paper import ENGLISH, Speaker


@dataclass(frozen=True, slots=True)
class Reading:
    """One row of the figure, in display units: a value with the half width U of its interval, or a lower bound."""

    label: str
    value: float | None
    half_width: float | None = None
    lower_bound: float | None = None
    judged: bool = False


def draw_limits(
    readings: tuple[Reading, ...],
    *,
    lower: float | None,
    upper: float | None,
    stamped: float | None,
    unit: str,
    width: float = 480.0,
    say: Speaker = ENGLISH,
) -> str:
    """Draw readings against their limits.

    A judged reading is a filled dot, another a ring; a lower bound is a bar with an arrow to the right.

    Parameters
    ----------
    readings : tuple of Reading
        One a row, in display units.
    lower, upper, stamped : float or None
        Limits and stamped set pressure, in display units.
    unit : str
        Unit's symbol.
    width : float
        In points.
    say : Speaker

    Returns
    -------
    str
        SVG.
    """
    row = 15.0 if len(readings) <= 12 else 11.0
    top, left, right = 20.0, 78.0, width - 12.0
    bottom = top + row * max(1, len(readings)) + 8.0
    axis = Axis(*_range(readings, (lower, upper, stamped)), left, right)
    shapes: list[Shape] = []
    if lower is not None and upper is not None:
        shapes += _limit_band(axis, lower, upper, top, bottom, say)
    if stamped is not None:
        x = axis.at(stamped)
        shapes.append(Line(x, top, x, bottom, INK, 0.7, "2 2"))
        # the dashed line says it by itself where the three words would run into each other
        if all(limit is None or abs(axis.at(limit) - x) > 20.0 for limit in (lower, upper)):
            shapes.append(Text(x, top - 5.0, say("figure.stamped"), 7.5, "middle", italic=True))
    for value, label in ticks(axis.low, axis.high, 7):
        shapes.append(Line(axis.at(value), bottom, axis.at(value), bottom + 3.0, INK, 0.6))
        shapes.append(Text(axis.at(value), bottom + 11.0, label, 7.5, "middle"))
    shapes.append(Line(left, bottom, right, bottom, INK, 0.8))
    shapes.append(Text(left - 6.0, bottom + 11.0, show_unit(unit), 7.5, "end", QUIET))
    for index, reading in enumerate(readings):
        shapes += _reading(axis, reading, top + 4.0 + row * (index + 0.5), say)
    return render(width, bottom + 15.0, shapes, title=say("figure.limits", unit=show_unit(unit)))


def _range(readings: tuple[Reading, ...], marks: tuple[float | None, ...]) -> tuple[float, float]:
    known = [mark for mark in marks if mark is not None]
    for reading in readings:
        if reading.value is not None:
            half = reading.half_width or 0.0
            known += [reading.value - half, reading.value + half]
        if reading.lower_bound is not None:
            known.append(reading.lower_bound)
    if not known:
        return 0.0, 1.0
    low, high = min(known), max(known)
    span = high - low if high > low else max(0.02 * abs(high), 1e-6)
    return low - 0.12 * span, high + 0.15 * span


def _limit_band(axis: Axis, lower: float, upper: float, top: float, bottom: float, say: Speaker) -> list[Shape]:
    left, right = axis.at(lower), axis.at(upper)
    shapes: list[Shape] = [Rect(left, top, right - left, bottom - top, "#eceff1")]
    for x, way in ((left, 1.0), (right, -1.0)):
        shapes.append(Line(x, top, x, bottom, INK, 1.4))
        shapes.append(Line(x, top, x + 4.0 * way, top, INK, 1.4))
        shapes.append(Line(x, bottom, x + 4.0 * way, bottom, INK, 1.4))
    shapes.append(Text(left + 4.0, top - 5.0, say("figure.lower"), 7.5, "end", italic=True))
    shapes.append(Text(right - 4.0, top - 5.0, say("figure.upper"), 7.5, "start", italic=True))
    return shapes


def _reading(axis: Axis, reading: Reading, y: float, say: Speaker) -> list[Shape]:
    shapes: list[Shape] = [Text(axis.start - 6.0, y + 2.6, reading.label, 8.0, "end", bold=reading.judged)]
    if reading.value is not None:
        half = reading.half_width or 0.0
        left, right = axis.at(reading.value - half), axis.at(reading.value + half)
        shapes.append(Line(left, y, right, y, INK, 1.2))
        shapes += [Line(x, y - 3.0, x, y + 3.0, INK, 1.2) for x in (left, right)]
        shapes.append(Circle(axis.at(reading.value), y, 2.7, INK if reading.judged else "#ffffff"))
    elif reading.lower_bound is not None:
        x = axis.at(reading.lower_bound)
        shapes.append(Line(x, y - 4.0, x, y + 4.0, INK, 1.6))
        shapes.append(Line(x, y, axis.end - 4.0, y, INK, 1.2, "4 2"))
        shapes.append(Polygon(((axis.end - 5.0, y - 3.0), (axis.end, y), (axis.end - 5.0, y + 3.0)), INK))
    else:
        shapes.append(Text(axis.start + 4.0, y + 2.6, say("figure.no-value"), 7.5, "start", QUIET, italic=True))
    return shapes
