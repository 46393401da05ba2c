"""The set pressure of one valve over the years, small."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from dataclasses import dataclass

from firstlift.figures.axis import Axis, comfortable, ticks
from firstlift.figures.svg import FAINT, INK, QUIET, Circle, Line, Polygon, Polyline, Rect, Shape, Text, render
from firstlift.words.numbers import show_unit
from firstlift.words.paper import ENGLISH, Speaker

_MOST_POINTS = 60


@dataclass(frozen=True, slots=True)
class Past:
    """One test of a valve, in the unit it is shown in: a value with its half width U, or a lower bound.

    ``as_left`` tells an opening after adjustment; ``current`` the test that the paper is about.
    """

    on: dt.date
    value: float | None
    half_width: float | None = None
    lower_bound: float | None = None
    as_left: bool = False
    current: bool = False


def draw_history(
    tests: Sequence[Past],
    *,
    lower: float | None,
    upper: float | None,
    unit: str,
    width: float = 480.0,
    say: Speaker = ENGLISH,
) -> str:
    """Draw the tests of one valve over the years against the limits.

    As found is a filled dot, as left a ring, a valve that did not lift an arrow upward from the bound; the test that
    the paper is about stands in a square.

    Parameters
    ----------
    tests : sequence of Past
        In any order; beyond sixty the newest are drawn.
    lower, upper : float or None
        Limits, in display units.
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
    shown = sorted(tests, key=lambda test: (test.on, test.as_left))[-_MOST_POINTS:]
    left, right, top, bottom = 46.0, width - 10.0, 16.0, 92.0
    title = say("figure.history", unit=show_unit(unit))
    if not shown:
        return render(width, bottom + 20.0, (Text(left, 40.0, "–", 8.0, fill=QUIET),), title=title)
    days = Axis(*_days(shown), left, right)
    values = Axis(*comfortable(_values(shown, (lower, upper))), bottom, top)
    shapes: list[Shape] = []
    if lower is not None and upper is not None:
        high, low = values.at(upper), values.at(lower)
        shapes.append(Rect(left, high, right - left, low - high, "#eceff1"))
        shapes += [Line(left, y, right, y, INK, 0.9) for y in (high, low)]
    for value, label in ticks(values.low, values.high, 6):
        shapes.append(Line(left, values.at(value), right, values.at(value), FAINT, 0.4))
        shapes.append(Text(left - 4.0, values.at(value) + 2.4, label, 7.0, "end"))
    shapes += _years(days, bottom)
    # above its axis: below it, the first year may stand
    shapes.append(Text(left - 4.0, top - 7.0, show_unit(unit), 7.0, "end", QUIET))
    founds = tuple(
        (days.at(t.on.toordinal()), values.at(t.value)) for t in shown if t.value is not None and not t.as_left
    )
    if len(founds) > 1:
        shapes.append(Polyline(founds, QUIET, 0.5, "1.5 1.5"))
    for test in shown:
        shapes += _mark(days.at(test.on.toordinal()), values, test)
    shapes.append(Rect(left, top, right - left, bottom - top, "none", INK, 0.7))
    return render(width, bottom + 16.0, shapes, title=title)


def _days(tests: Sequence[Past]) -> tuple[float, float]:
    low, high = tests[0].on.toordinal(), tests[-1].on.toordinal()
    air = max(120.0, 0.05 * (high - low))
    return low - air, high + air


def _values(tests: Sequence[Past], limits: tuple[float | None, ...]) -> list[float]:
    known = [limit for limit in limits if limit is not None]
    for test in tests:
        if test.value is not None:
            known += [test.value - (test.half_width or 0.0), test.value + (test.half_width or 0.0)]
        elif test.lower_bound is not None:
            known.append(test.lower_bound)
    return known


def _years(days: Axis, bottom: float) -> list[Shape]:
    first, last = dt.date.fromordinal(int(days.low)).year, dt.date.fromordinal(int(days.high)).year
    step = max(1, (last - first) // 8 + 1)
    shapes: list[Shape] = []
    for year in range(first, last + 2, step):
        day = dt.date(year, 1, 1).toordinal()
        if days.low <= day <= days.high:
            x = days.at(day)
            shapes.append(Line(x, bottom, x, bottom + 3.0, INK, 0.6))
            shapes.append(Text(x, bottom + 11.0, str(year), 7.0, "middle"))
    return shapes


def _mark(x: float, values: Axis, test: Past) -> list[Shape]:
    shapes: list[Shape] = []
    if test.value is not None:
        y, half = values.at(test.value), test.half_width or 0.0
        low, high = values.at(test.value - half), values.at(test.value + half)
        shapes.append(Line(x, low, x, high, INK, 1.0))
        shapes += [Line(x - 2.4, end, x + 2.4, end, INK, 1.0) for end in (low, high)]
        shapes.append(Circle(x, y, 2.5, "#ffffff" if test.as_left else INK))
        if test.current:
            shapes.append(Rect(x - 5.0, y - 5.0, 10.0, 10.0, "none", INK, 0.8))
    elif test.lower_bound is not None:
        y = values.at(test.lower_bound)
        shapes.append(Line(x, y, x, y - 10.0, INK, 1.0))
        shapes.append(Line(x - 3.0, y, x + 3.0, y, INK, 1.4))
        shapes.append(Polygon(((x - 2.6, y - 9.0), (x + 2.6, y - 9.0), (x, y - 14.0)), INK))
    return shapes
