"""The share of valves still good against age: what the tests tell, with its band, the target and the interval."""

from __future__ import annotations

import math
from dataclasses import dataclass

from firstlift.core.recording import Floats
from firstlift.figures.axis import Axis
from firstlift.figures.svg import ACCENT, INK, Line, Polyline, Rect, Shape, Text, breadth, render, shorten
from firstlift.figures.years_frame import YearsFrame, band, frame_shapes
from firstlift.words.paper import ENGLISH, Speaker
from firstlift.words.place import local

_STEP = "#53606b"


@dataclass(frozen=True, slots=True, eq=False)
class Survival:
    """What is drawn of one group.

    Curves over ``years``; ``stretches`` (left, right, mass) of the estimate without a distribution; the share that
    must last, and the recommended interval with its evidence (low, estimate, high).
    """

    group: str
    lives: int
    failed: int
    years: Floats
    middle: Floats
    low: Floats
    high: Floats
    stretches: tuple[tuple[float, float, float], ...]
    must_last: float
    recommended_yr: float
    evidence_yr: tuple[float, float, float]


def draw_survival(shown: Survival, *, width: float = 560.0, height: float = 330.0, say: Speaker = ENGLISH) -> str:
    """Draw the share still good against age.

    Parameters
    ----------
    shown : Survival
    width, height : float
        In points.
    say : Speaker

    Returns
    -------
    str
        SVG.
    """
    lowest = min(float(shown.low.min()), shown.must_last, _last_share(shown))
    floor = max(0.0, math.floor((lowest - 0.03) * 10.0) / 10.0)
    frame = YearsFrame(Axis(0.0, float(shown.years[-1]), 46.0, width - 14.0), Axis(floor, 1.0, height - 58.0, 40.0))
    what = say("figure.survival", group=shown.group, lives=shown.lives, failed=shown.failed)
    shapes: list[Shape] = [Text(46.0, 16.0, shorten(what, 90), 9.0, bold=True)]
    shapes.append(band(frame, shown.years.tolist(), shown.low.tolist(), shown.high.tolist()))
    shapes += frame_shapes(
        frame, across=say("figure.survival-years"), upward=say("figure.survival-share"), per_cent=True
    )
    shapes += _steps(frame, shown)
    curve = zip(shown.years.tolist(), shown.middle.tolist(), strict=True)
    shapes.append(Polyline(tuple(frame.point(year, share) for year, share in curve), INK, 1.4))
    shapes += _target(frame, shown, say)
    shapes += _key(frame, height, say)
    return render(width, height, shapes, title=say("figure.survival-title", what=what))


def _last_share(shown: Survival) -> float:
    return 1.0 - sum(mass for _, right, mass in shown.stretches if right <= float(shown.years[-1]))


def _steps(frame: YearsFrame, shown: Survival) -> list[Shape]:
    """Draw the estimate without a distribution: level where it is told, a dotted fall inside a stretch."""
    shapes: list[Shape] = []
    share, at = 1.0, 0.0
    end = frame.years.high
    for left, right, mass in shown.stretches:
        until = min(left, end)
        shapes.append(Line(*frame.point(at, share), *frame.point(until, share), _STEP, 1.1))
        if not math.isfinite(right) or left >= end:
            return shapes
        below = share - mass
        shapes.append(Line(*frame.point(left, share), *frame.point(min(right, end), below), _STEP, 0.9, "1.2 2"))
        share, at = below, right
    if at < end:
        shapes.append(Line(*frame.point(at, share), *frame.point(end, share), _STEP, 1.1))
    return shapes


def _target(frame: YearsFrame, shown: Survival, say: Speaker) -> list[Shape]:
    left, right = frame.years.start, frame.years.end
    bottom, top = frame.value.start, frame.value.end
    y = frame.value.at(shown.must_last)
    shapes: list[Shape] = [Line(left, y, right, y, ACCENT, 0.9, "5 2")]
    words = say("figure.survival-must", share=local(f"{100.0 * shown.must_last:.1f}"))
    shapes.append(Text(right - 2.0, y + 9.0, words, 7.5, "end", ACCENT, italic=True))
    low, estimate, high = shown.evidence_yr
    rail = bottom - 7.0
    start, stop = frame.years.at(low), frame.years.at(min(high, frame.years.high))
    shapes.append(Line(start, rail, stop, rail, ACCENT, 1.1))
    shapes.append(Line(start, rail - 3.0, start, rail + 3.0, ACCENT, 1.1))
    if high <= frame.years.high:
        shapes.append(Line(stop, rail - 3.0, stop, rail + 3.0, ACCENT, 1.1))
    if estimate <= frame.years.high:
        x = frame.years.at(estimate)
        shapes.append(Rect(x - 1.8, rail - 1.8, 3.6, 3.6, ACCENT, ACCENT))
    if shown.recommended_yr <= frame.years.high:
        x = frame.years.at(shown.recommended_yr)
        shapes.append(Line(x, bottom, x, top, ACCENT, 1.3))
        near_right = x > right - 110.0
        anchor, shift = ("end", -4.0) if near_right else ("start", 4.0)
        words = say("figure.survival-recommended", years=say.counted("years", f"{shown.recommended_yr:.1f}"))
        shapes.append(Text(x + shift, bottom - 14.0, words, 8.0, anchor, ACCENT, bold=True))
    return shapes


def _key(frame: YearsFrame, height: float, say: Speaker) -> list[Shape]:
    y, x = height - 14.0, frame.years.start
    band_words, tests = say("figure.survival-band"), say("figure.survival-tests")
    interval = say("figure.survival-interval")
    shapes: list[Shape] = [Line(x, y - 2.5, x + 16.0, y - 2.5, INK, 1.4), Text(x + 20.0, y, band_words, 7.5)]
    x += max(96.0, 34.0 + breadth(band_words, 7.5))
    shapes += [Line(x, y - 2.5, x + 16.0, y - 2.5, _STEP, 1.1), Text(x + 20.0, y, tests, 7.5)]
    x += max(150.0, 34.0 + breadth(tests, 7.5))
    shapes += [
        Line(x, y - 2.5, x + 16.0, y - 2.5, ACCENT, 1.1),
        Rect(x + 6.2, y - 4.3, 3.6, 3.6, ACCENT, ACCENT),
        Text(x + 20.0, y, interval, 7.5),
    ]
    return shapes
