"""The frame of figures over years: axes, grid, labels, and steps and bands laid in it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from firstlift.figures.axis import Axis, ticks
from firstlift.figures.svg import FAINT, INK, QUIET, Line, Point, Polygon, Shape, Text

BAND = "#dfe5ea"


@dataclass(frozen=True, slots=True)
class YearsFrame:
    """Years across, a value upward (page y grows downward)."""

    years: Axis
    value: Axis

    def point(self, year: float, value: float) -> Point:
        """Give the place of a year and a value on the page."""
        return self.years.at(year), self.value.at(value)


def frame_shapes(frame: YearsFrame, *, across: str, upward: str, per_cent: bool = False) -> list[Shape]:
    """Draw axes with ticks, a faint grid and the two labels.

    Parameters
    ----------
    frame : YearsFrame
    across, upward : str
        What the axes show.
    per_cent : bool
        Label a share in per cent.

    Returns
    -------
    list of Shape
    """
    left, right, bottom, top = frame.years.start, frame.years.end, frame.value.start, frame.value.end
    shapes: list[Shape] = []
    factor = 100.0 if per_cent else 1.0
    for value, label in ticks(frame.value.low * factor, frame.value.high * factor, 7):
        y = frame.value.at(value / factor)
        shapes.append(Line(left, y, right, y, FAINT, 0.5))
        shapes.append(Text(left - 5.0, y + 2.7, label + (" %" if per_cent else ""), 7.5, "end"))
    for value, label in ticks(frame.years.low, frame.years.high, 8):
        x = frame.years.at(value)
        shapes.append(Line(x, bottom, x, bottom + 3.0, INK, 0.6))
        shapes.append(Text(x, bottom + 11.5, label, 7.5, "middle"))
    shapes.append(Line(left, bottom, right, bottom, INK, 0.8))
    shapes.append(Line(left, bottom, left, top, INK, 0.8))
    shapes.append(Text(right, bottom + 23.0, across, 8.0, "end", QUIET, italic=True))
    shapes.append(Text(left, top - 7.0, upward, 8.0, "start", QUIET, italic=True))
    return shapes


def band(frame: YearsFrame, years: Sequence[float], low: Sequence[float], high: Sequence[float]) -> Polygon:
    """Draw the area between two curves.

    Parameters
    ----------
    frame : YearsFrame
    years, low, high : sequence of float

    Returns
    -------
    Polygon
    """
    upper = [frame.point(year, value) for year, value in zip(years, high, strict=True)]
    lower = [frame.point(year, value) for year, value in zip(years, low, strict=True)]
    return Polygon((*upper, *reversed(lower)), BAND)
