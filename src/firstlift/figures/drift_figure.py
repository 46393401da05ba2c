"""Opening pressure over set pressure against time since setting: every valve's line, and the group's with its band."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from firstlift.core.recording import Floats
from firstlift.figures.axis import Axis, comfortable
from firstlift.figures.svg import ACCENT, INK, QUIET, Circle, Line, Polyline, Shape, Text, breadth, render, shorten
from firstlift.figures.years_frame import BAND, YearsFrame, band, frame_shapes
from firstlift.words.paper import ENGLISH, Speaker
from firstlift.words.place import local

_MOST_LINES = 200
_MOST_NAMES = 6


@dataclass(frozen=True, slots=True, eq=False)
class DriftShown:
    """What is drawn of one group: tests by stretch of a valve, and the group's line over ``years``.

    ``low`` and ``high`` hold the line, ``spread`` is the standard deviation of one opening around it; all are None
    where the tests tell no line.
    """

    group: str
    test_years: Floats
    test_ratio: Floats
    unit: NDArray[np.intp]
    valve_of_unit: tuple[str, ...]
    danger_ratio: float
    years: Floats
    line: tuple[Floats, Floats, Floats] | None
    spread: Floats | None


def draw_drift(shown: DriftShown, *, width: float = 560.0, height: float = 330.0, say: Speaker = ENGLISH) -> str:
    """Draw the drift of a group and of its valves.

    Parameters
    ----------
    shown : DriftShown
    width, height : float
        In points.
    say : Speaker

    Returns
    -------
    str
        SVG.
    """
    values = [1.0, *shown.test_ratio.tolist()]
    near = max(values) > 1.0 + 0.5 * (shown.danger_ratio - 1.0)
    if shown.line is not None and shown.spread is not None:
        values += (shown.line[0] + 2.0 * shown.spread).tolist() + (shown.line[0] - 2.0 * shown.spread).tolist()
    low, high = comfortable([*values, shown.danger_ratio] if near else values)
    frame = YearsFrame(Axis(0.0, float(shown.years[-1]), 46.0, width - 58.0), Axis(low, high, height - 58.0, 40.0))
    count = {"openings": shown.test_ratio.size, "valves": len(set(shown.valve_of_unit))}
    what = say("figure.drift", group=shown.group, **count)
    shapes: list[Shape] = [Text(46.0, 16.0, shorten(what, 90), 9.0, bold=True)]
    years = shown.years.tolist()
    if shown.line is not None and shown.spread is not None:
        middle = shown.line[0]
        around = (middle - 2.0 * shown.spread).tolist(), (middle + 2.0 * shown.spread).tolist()
        shapes.append(band(frame, years, *around))
    shapes += frame_shapes(frame, across=say("figure.drift-years"), upward=say("figure.drift-ratio"))
    y = frame.value.at(1.0)
    shapes.append(Line(frame.years.start, y, frame.years.end, y, QUIET, 0.8, "2 2"))
    shapes += _valves(frame, shown)
    if shown.line is not None:
        for curve, pen in zip(shown.line, (1.6, 0.7, 0.7), strict=True):
            points = tuple(frame.point(year, value) for year, value in zip(years, curve.tolist(), strict=True))
            shapes.append(Polyline(points, INK, pen, "" if pen > 1.0 else "3 2"))
    shapes += _danger(frame, shown.danger_ratio, say)
    shapes += _key(frame, height, say, told=shown.line is not None)
    return render(width, height, shapes, title=say("figure.drift-title", what=what))


def _valves(frame: YearsFrame, shown: DriftShown) -> list[Shape]:
    shapes: list[Shape] = []
    units = len(shown.valve_of_unit)
    # of a large fleet every n-th valve is drawn: more would be one black patch
    every = max(1, -(-units // _MOST_LINES))
    ink = 0.8 if units <= 12 else 0.35
    for unit in range(0, units, every):
        here = np.flatnonzero(shown.unit == unit)
        points = tuple(
            frame.point(year, ratio)
            for year, ratio in zip(shown.test_years[here].tolist(), shown.test_ratio[here].tolist(), strict=True)
        )
        if len(points) > 1:
            shapes.append(Polyline(points, "#53606b", 0.7, "", ink))
        shapes += [Circle(x, y, 1.6 if units <= 60 else 1.0, "#53606b", "none") for x, y in points]
        if units <= _MOST_NAMES and points:
            name = shorten(shown.valve_of_unit[unit], 12)
            shapes.append(Text(points[-1][0] + 4.0, points[-1][1] + 2.5, name, 7.0, fill=QUIET))
    return shapes


def _danger(frame: YearsFrame, ratio: float, say: Speaker) -> list[Shape]:
    words = say("figure.drift-danger", ratio=local(f"{ratio:g}"))
    if not frame.value.holds(ratio):
        words = say("figure.drift-danger-off", words=words)
        return [Text(frame.years.end, frame.value.end - 7.0, words, 7.5, "end", ACCENT, italic=True)]
    y = frame.value.at(ratio)
    return [
        Line(frame.years.start, y, frame.years.end, y, ACCENT, 1.0, "5 2"),
        Text(frame.years.start + 4.0, y - 4.0, words, 7.5, fill=ACCENT, italic=True),
    ]


def _key(frame: YearsFrame, height: float, say: Speaker, *, told: bool) -> list[Shape]:
    y, x = height - 14.0, frame.years.start
    if not told:
        return [Text(x, y, say("figure.drift-untold"), 7.5, fill=QUIET, italic=True)]
    group, spread = say("figure.drift-group"), say("figure.drift-spread")
    shapes: list[Shape] = [
        Line(x, y - 2.5, x + 16.0, y - 2.5, INK, 1.6),
        Text(x + 20.0, y, group, 7.5),
    ]
    x += max(120.0, 34.0 + breadth(group, 7.5))
    shapes += [
        Line(x, y - 2.5, x + 16.0, y - 2.5, BAND, 6.0),
        Text(x + 20.0, y, spread, 7.5),
    ]
    x += max(170.0, 34.0 + breadth(spread, 7.5))
    shapes += [Line(x, y - 2.5, x + 16.0, y - 2.5, "#53606b", 0.7), Text(x + 20.0, y, say("figure.drift-valve"), 7.5)]
    return shapes
