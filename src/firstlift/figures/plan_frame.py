"""The frame that the figures of a plan share: line pressure to the right, something upward, ticks and titles."""

from __future__ import annotations

from dataclasses import dataclass

from firstlift.figures.axis import Axis, ticks
from firstlift.figures.svg import FAINT, INK, Line, Shape, Text


@dataclass(frozen=True, slots=True)
class PlanFrame:
    """Line pressure on ``x``, the figure's own quantity on ``y`` (page y grows downward)."""

    x: Axis
    y: Axis

    def point(self, line: float, value: float) -> tuple[float, float]:
        """Give the place of a value at a line pressure."""
        return self.x.at(line), self.y.at(value)


def plan_frame(
    *, top_line: float, low: float, high: float, width: float, height: float, below: float = 34.0
) -> PlanFrame:
    """Lay the two axes on the page.

    Parameters
    ----------
    top_line : float
        Highest line pressure, in display units.
    low, high : float
        Range upward, in display units.
    width, height : float
        Page, in points.
    below : float
        Room under the axis for its labels and a key, in points.

    Returns
    -------
    PlanFrame
    """
    return PlanFrame(Axis(0.0, top_line, 54.0, width - 14.0), Axis(low, high, height - below, 22.0))


def draw_axes(frame: PlanFrame, *, x_title: str, y_title: str) -> list[Shape]:
    """Draw both axes with ticks, faint lines across, and titles.

    Parameters
    ----------
    frame : PlanFrame
    x_title, y_title : str

    Returns
    -------
    list of Shape
    """
    x, y = frame.x, frame.y
    shapes: list[Shape] = []
    for value, label in ticks(y.low, y.high, 6):
        at = y.at(value)
        shapes.append(Line(x.start, at, x.end, at, FAINT, 0.5))
        shapes.append(Text(x.start - 5.0, at + 2.6, label, 7.5, "end"))
    for value, label in ticks(x.low, x.high, 8):
        at = x.at(value)
        shapes.append(Line(at, y.start, at, y.start + 3.0, INK, 0.6))
        shapes.append(Text(at, y.start + 11.0, label, 7.5, "middle"))
    shapes.append(Line(x.start, y.start, x.end, y.start, INK, 0.8))
    shapes.append(Line(x.start, y.start, x.start, y.end, INK, 0.8))
    shapes.append(Text(x.end, y.start + 22.0, x_title, 8.0, "end"))
    shapes.append(Text(x.start - 40.0, y.end - 9.0, y_title, 8.0, "start"))
    return shapes
