"""Stacked panels over one time axis: what the pull figure and the test figure have in common."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

import numpy as np

from firstlift import words
from firstlift.core.job import Measures
from firstlift.core.recording import Floats
from firstlift.figures.axis import Axis, comfortable, ticks
from firstlift.figures.decimate import min_max, unbroken
from firstlift.figures.svg import FAINT, INK, QUIET, Line, Polyline, Rect, Shape, Text, shorten
from firstlift.figures.trace import Trace
from firstlift.words.paper import ENGLISH, Speaker

# several traces in one panel are told apart by their dashes and a key, not by colour
_DASHES = ("", "5 1.6", "1.4 1.4", "6 1.5 1.2 1.5")


@dataclass(frozen=True, slots=True)
class Panel:
    """One panel: its traces and its value axis (page y grows downward)."""

    traces: tuple[Trace, ...]
    axis: Axis
    top: float
    bottom: float


@dataclass(frozen=True, slots=True)
class Frame:
    """The time axis and the panels under it."""

    time: Axis
    panels: tuple[Panel, ...]

    @property
    def top(self) -> float:
        """Page y of the first panel's top."""
        return self.panels[0].top

    @property
    def bottom(self) -> float:
        """Page y of the last panel's bottom."""
        return self.panels[-1].bottom


def window(trace: Trace, low_s: float, high_s: float) -> tuple[Floats, Floats]:
    """Give the part of a trace between two instants.

    Parameters
    ----------
    trace : Trace
    low_s, high_s : float, [s]

    Returns
    -------
    time_s, values : ndarray
    """
    # times rise: the ends are looked up, so that a long recording is not gone through for each of its pulls
    first, last = np.searchsorted(trace.time_s, low_s, "left"), np.searchsorted(trace.time_s, high_s, "right")
    return trace.time_s[first:last], trace.values[first:last]


def lay_out(
    groups: Sequence[tuple[Trace, ...]],
    *,
    low_s: float,
    high_s: float,
    left: float,
    right: float,
    top: float,
    bottom: float,
) -> Frame:
    """Share the page among the panels; force and lift get more of it than the others.

    Parameters
    ----------
    groups : sequence of tuple of Trace
        One tuple a panel, one or more.
    low_s, high_s : float, [s]
        Range of the time axis.
    left, right, top, bottom : float
        Page box of all panels.

    Returns
    -------
    Frame
    """
    time = Axis(low_s, high_s, left, right)
    shares = [1.5 if group and group[0].measures in ("pull_force", "spindle_lift") else 1.0 for group in groups]
    unit = (bottom - top) / sum(shares)
    panels: list[Panel] = []
    y = top
    for group, share in zip(groups, shares, strict=True):
        end = y + share * unit
        low, high = comfortable(_extremes(group, low_s, high_s))
        panels.append(Panel(group, Axis(low, high, end, y + 13.0), y, end))
        y = end
    return Frame(time, tuple(panels))


def _extremes(group: Iterable[Trace], low_s: float, high_s: float) -> list[float]:
    found: list[float] = []
    for trace in group:
        values = window(trace, low_s, high_s)[1]
        values = values[np.isfinite(values)]
        if values.size:
            found += [float(values.min()), float(values.max())]
    return found


def frame_shapes(frame: Frame, *, size: float = 7.0, say: Speaker = ENGLISH) -> list[Shape]:
    """Give grid, ticks, labels and titles of all panels.

    Parameters
    ----------
    frame : Frame
    size : float
        Size of the labels.
    say : Speaker

    Returns
    -------
    list of Shape
    """
    left, right = frame.time.start, frame.time.end
    shapes: list[Shape] = []
    for value, label in ticks(frame.time.low, frame.time.high, max(3, int((right - left) / 55))):
        x = frame.time.at(value)
        shapes.append(Line(x, frame.top, x, frame.bottom, FAINT, 0.4))
        shapes.append(Line(x, frame.bottom, x, frame.bottom + 3, INK, 0.6))
        shapes.append(Text(x, frame.bottom + 10.5, label, size, "middle"))
    shapes.append(Text(right, frame.bottom + 19.5, say("figure.time"), size, "end", QUIET))
    for panel in frame.panels:
        shapes += _panel_shapes(panel, left, right, size)
    shapes.append(Rect(left, frame.top, right - left, frame.bottom - frame.top, "none", INK, 0.7))
    return shapes


def _panel_shapes(panel: Panel, left: float, right: float, size: float) -> list[Shape]:
    shapes: list[Shape] = [Line(left, panel.top, right, panel.top, INK, 0.5)]
    count = max(2, int((panel.bottom - panel.top - 13.0) / 17.0))
    for value, label in ticks(panel.axis.low, panel.axis.high, count):
        y = panel.axis.at(value)
        dash = "" if value == 0.0 else "1 2"
        shapes.append(Line(left, y, right, y, QUIET if value == 0.0 else FAINT, 0.4, dash))
        shapes.append(Text(left - 4, y + 0.33 * size, label, size, "end"))
    return shapes


def title_shapes(frame: Frame, *, size: float = 7.0, say: Speaker = ENGLISH) -> list[Shape]:
    """Give each panel's name and unit, and its key where it holds several traces; drawn over the curves.

    Parameters
    ----------
    frame : Frame
    size : float
        Size of the labels.
    say : Speaker

    Returns
    -------
    list of Shape
    """
    shapes: list[Shape] = []
    for panel in frame.panels:
        first = panel.traces[0]
        name = _name(first, say)
        title = f"{name}, {first.shown_unit}" if first.shown_unit else name
        left = frame.time.start
        shapes.append(Rect(left + 1.5, panel.top + 1.0, 0.55 * (size + 1) * len(title) + 4.0, size + 3.5, "#ffffff"))
        shapes.append(Text(left + 4, panel.top + 9, title, size + 1, bold=True))
        if len(panel.traces) > 1:
            shapes += _key(panel, frame.time.end, size)
    return shapes


def _name(trace: Trace, say: Speaker) -> str:
    known = trace.measures in tuple(Measures)
    return words.measures(trace.measures, language=say.language) if known else trace.measures


def _key(panel: Panel, right: float, size: float) -> list[Shape]:
    shapes: list[Shape] = []
    x = right - 4.0
    for index, trace in reversed(list(enumerate(panel.traces[: len(_DASHES)]))):
        label = shorten(trace.label, 14)
        shapes.append(Text(x, panel.top + 9, label, size, "end"))
        x -= 0.5 * size * len(label) + 4
        shapes.append(Line(x - 14, panel.top + 6.5, x, panel.top + 6.5, INK, 0.9, _DASHES[index]))
        x -= 22
    return shapes


def curve_shapes(frame: Frame) -> list[Shape]:
    """Give the curves of all panels, thinned to the page with every peak kept and gaps left open.

    Parameters
    ----------
    frame : Frame

    Returns
    -------
    list of Shape
    """
    shapes: list[Shape] = []
    wide = abs(frame.time.end - frame.time.start)
    for panel in frame.panels:
        for index, trace in enumerate(panel.traces):
            part = window(trace, frame.time.low, frame.time.high)
            runs = unbroken(*part)
            total = sum(seconds.size for seconds, _ in runs)
            for seconds, values in runs:
                buckets = max(2, int(1.2 * wide * seconds.size / max(1, total)))
                dash = _DASHES[index % len(_DASHES)]
                shapes.append(_curve(frame.time, panel.axis, *min_max(seconds, values, buckets), dash=dash))
    return shapes


def _curve(time: Axis, axis: Axis, seconds: Floats, values: Floats, *, dash: str) -> Shape:
    points = tuple((time.at(float(s)), axis.at(float(v))) for s, v in zip(seconds, values, strict=True))
    return Polyline(points, INK, 0.8, dash)
