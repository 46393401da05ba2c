"""Pulls against line pressure with the line whose slope is the seat area, and its band."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from firstlift.figures.axis import Axis
from firstlift.figures.svg import (
    ACCENT,
    INK,
    QUIET,
    WASH,
    Circle,
    Line,
    Polygon,
    Polyline,
    Shape,
    Text,
    render,
)
from firstlift.figures.years_frame import YearsFrame, frame_shapes


@dataclass(frozen=True, slots=True)
class Dot:
    """A reading in display units, with half widths."""

    x: float
    y: float
    half_x: float = 0.0
    half_y: float = 0.0


@dataclass(frozen=True, slots=True)
class SeatLine:
    """What is drawn, in display units, with the words beside the axes.

    ``curve`` is (x, pull, half width) along the fitted line; empty where none could be fitted. ``zero`` is where the
    pull falls to nothing, named ``zero_words``; None where that is not shown.
    """

    dots: Sequence[Dot]
    curve: Sequence[tuple[float, float, float]]
    across: str
    upward: str
    title: str
    zero: float | None = None
    zero_words: str = ""


def draw_seat_line(shown: SeatLine, *, width: float = 440.0, height: float = 250.0) -> str:
    """Draw readings, line and band.

    Parameters
    ----------
    shown : SeatLine
    width, height : float
        In points.

    Returns
    -------
    str
        SVG.
    """
    left, right, top, bottom = 46.0, width - 12.0, 24.0, height - 34.0
    xs = [dot.x + side * dot.half_x for dot in shown.dots for side in (-1.0, 1.0)] + [x for x, _, _ in shown.curve]
    ys = [dot.y + side * dot.half_y for dot in shown.dots for side in (-1.0, 1.0)]
    ys += [pull + side * half for _, pull, half in shown.curve for side in (-1.0, 1.0)]
    across, upward = Axis(*_range(xs), left, right), Axis(*_range(ys), bottom, top)
    shapes = frame_shapes(YearsFrame(across, upward), across=shown.across, upward=shown.upward)
    if shown.curve:
        shapes[:0] = _band(across, upward, shown.curve)
        shapes.append(Polyline(tuple((across.at(x), upward.at(pull)) for x, pull, _ in shown.curve), ACCENT, 1.4))
    if shown.zero is not None and across.holds(shown.zero):
        # the line falls towards it from the left: its name stands above that
        x, up = across.at(shown.zero), bottom - 0.42 * (bottom - top)
        shapes.append(Line(x, bottom, x, up, ACCENT, 0.9, "3 2"))
        shapes.append(Text(x, up - 4.0, shown.zero_words, 8.0, "end", ACCENT, bold=True))
    for dot in shown.dots:
        shapes += _mark(across, upward, dot)
    return render(width, height, shapes, title=shown.title)


def _range(values: Sequence[float]) -> tuple[float, float]:
    low, high = min((0.0, *values)), max((0.0, *values))
    return low, high + 0.06 * ((high - low) or 1.0)


def _band(across: Axis, upward: Axis, curve: Sequence[tuple[float, float, float]]) -> list[Shape]:
    above = [(across.at(x), upward.at(pull + half)) for x, pull, half in curve]
    below = [(across.at(x), upward.at(pull - half)) for x, pull, half in reversed(curve)]
    edges = [Polyline(tuple(edge), QUIET, 0.5, "2 1.5") for edge in (above, below)]
    return [Polygon((*above, *below), WASH), *edges]


def _mark(across: Axis, upward: Axis, dot: Dot) -> list[Shape]:
    x, y = across.at(dot.x), upward.at(dot.y)
    shapes: list[Shape] = []
    if dot.half_x > 0.0:
        shapes.append(Line(across.at(dot.x - dot.half_x), y, across.at(dot.x + dot.half_x), y, INK, 0.9))
    if dot.half_y > 0.0:
        shapes.append(Line(x, upward.at(dot.y - dot.half_y), x, upward.at(dot.y + dot.half_y), INK, 0.9))
    return [*shapes, Circle(x, y, 2.8, "#ffffff", INK, 1.2)]
