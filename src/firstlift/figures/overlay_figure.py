"""Curves of several tests over each other, told apart by their dashes and a key, not by colour."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from firstlift.core.recording import Floats
from firstlift.figures.axis import Axis, comfortable, ticks
from firstlift.figures.svg import FAINT, INK, QUIET, Line, Polyline, Rect, Shape, Text, render

_DASHES = ("1.4 1.4", "5 1.6", "6 1.5 1.2 1.5", "9 3")
_LEFT, _TOP, _HIGH, _KEY = 50.0, 14.0, 210.0, 12.0


@dataclass(frozen=True, slots=True, eq=False)
class Curve:
    """One curve in display units, (n,) each, with the words of its key; ``current`` is drawn unbroken and bold."""

    label: str
    x: Floats
    y: Floats
    current: bool = False


def draw_overlay(
    curves: Sequence[Curve],
    *,
    title: str,
    x_label: str,
    y_label: str,
    lower: float | None = None,
    upper: float | None = None,
    width: float = 480.0,
) -> str:
    """Draw curves over each other.

    Parameters
    ----------
    curves : sequence of Curve
        Oldest first, the current one last; five at most can be told apart.
    title, x_label, y_label : str
    lower, upper : float or None
        Limits on the upright axis, in its unit.
    width : float
        In points.

    Returns
    -------
    str
        SVG.
    """
    right, bottom = width - 10.0, _TOP + _HIGH
    limits = [limit for limit in (lower, upper) if limit is not None]
    x = Axis(*comfortable([float(end) for curve in curves for end in (curve.x.min(), curve.x.max())]), _LEFT, right)
    ends = [float(end) for curve in curves for end in (curve.y.min(), curve.y.max())]
    y = Axis(*comfortable([*ends, *limits]), bottom, _TOP)
    shapes: list[Shape] = []
    if lower is not None and upper is not None:
        shapes.append(Rect(_LEFT, y.at(upper), right - _LEFT, y.at(lower) - y.at(upper), "#eceff1"))
        shapes += [Line(_LEFT, y.at(limit), right, y.at(limit), INK, 0.9) for limit in (lower, upper)]
    shapes += _grid(x, y, right, bottom)
    shapes.append(Text(_LEFT, _TOP - 5.0, y_label, 7.0, fill=QUIET))
    shapes.append(Text(right, bottom + 21.0, x_label, 7.0, "end", QUIET))
    for index, curve in enumerate(curves):
        points = tuple((x.at(float(a)), y.at(float(b))) for a, b in zip(curve.x, curve.y, strict=True))
        dash = "" if curve.current else _DASHES[index % len(_DASHES)]
        line = 1.3 if curve.current else 0.8
        row = bottom + 34.0 + _KEY * index
        shapes.append(Polyline(points, INK, line, dash))
        shapes.append(Line(_LEFT, row, _LEFT + 34.0, row, INK, line, dash))
        shapes.append(Text(_LEFT + 40.0, row + 2.4, curve.label, 7.5, bold=curve.current))
    shapes.append(Rect(_LEFT, _TOP, right - _LEFT, _HIGH, "none", INK, 0.7))
    return render(width, bottom + 34.0 + _KEY * len(curves), shapes, title=title)


def _grid(x: Axis, y: Axis, right: float, bottom: float) -> list[Shape]:
    shapes: list[Shape] = []
    for value, label in ticks(y.low, y.high, 6):
        shapes.append(Line(_LEFT, y.at(value), right, y.at(value), FAINT, 0.4))
        shapes.append(Text(_LEFT - 4.0, y.at(value) + 2.4, label, 7.0, "end"))
    for value, label in ticks(x.low, x.high, 6):
        shapes.append(Line(x.at(value), bottom, x.at(value), bottom + 3.0, INK, 0.6))
        shapes.append(Text(x.at(value), bottom + 11.0, label, 7.0, "middle"))
    return shapes
