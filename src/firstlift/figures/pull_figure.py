"""The figure of one pull and the figure of the whole test."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from firstlift.core.result import Pull
from firstlift.figures.axis import Axis
from firstlift.figures.panels import Frame, Panel, curve_shapes, frame_shapes, lay_out, title_shapes
from firstlift.figures.svg import ACCENT, INK, QUIET, WASH, Circle, Line, Polygon, Polyline, Rect, Shape, Text, render
from firstlift.figures.trace import Trace, by_panel
from firstlift.words.numbers import format_time
from firstlift.words.paper import ENGLISH, Speaker
from firstlift.words.place import local

_LEFT, _RIGHT, _TOP, _BOTTOM = 46.0, 8.0, 26.0, 24.0


def draw_pull(
    traces: Sequence[Trace], pull: Pull, *, width: float = 480.0, height: float = 400.0, say: Speaker = ENGLISH
) -> str:
    """Draw one pull: force, lift, sound and line pressure over one time axis, with first lift and closure marked.

    First lift is an unbroken line with a wash of two standard uncertainties to each side, the fitted lines
    are long dashes before and dots after it, closure is a dotted line with a ring: all can be told apart
    without colour.

    Parameters
    ----------
    traces : sequence of Trace
        Whole or cut; only the pull's own stretch is drawn.
    pull : Pull
    width, height : float
        In points.
    say : Speaker

    Returns
    -------
    str
        SVG.
    """
    span = _span(pull)
    groups = by_panel(tuple(traces))
    title = say("figure.pull", number=pull.number)
    if not groups or span is None:
        return _nothing(width, height, title, say)
    low, high = span
    frame = lay_out(groups, low_s=low, high_s=high, left=_LEFT, right=width - _RIGHT, top=_TOP, bottom=height - _BOTTOM)
    shapes: list[Shape] = [*_band(frame, pull), *frame_shapes(frame, say=say), *curve_shapes(frame)]
    shapes += _fits(frame, pull)
    shapes += _marks(frame, pull, say)
    shapes += title_shapes(frame, say=say)
    shapes.append(Text(0.0, 12.0, title, 11.0, bold=True))
    return render(width, height, shapes, title=f"{title}: {_described(pull, say)}")


def draw_test(
    traces: Sequence[Trace],
    pulls: Sequence[Pull],
    *,
    width: float = 480.0,
    height: float = 300.0,
    say: Speaker = ENGLISH,
) -> str:
    """Draw the whole test: all channels over time, each pull as a numbered strip, first lifts as ticks.

    Parameters
    ----------
    traces : sequence of Trace
    pulls : sequence of Pull
    width, height : float
        In points.
    say : Speaker

    Returns
    -------
    str
        SVG.
    """
    groups = by_panel(tuple(traces))
    ends = [(float(t.time_s[0]), float(t.time_s[-1])) for t in traces if t.time_s.size]
    ends += [(low, high) for low, high in map(_times, pulls) if low is not None and high is not None]
    if not groups or not ends:
        return _nothing(width, height, say("figure.test"), say)
    low, high = min(e[0] for e in ends), max(e[1] for e in ends)
    high = high if high > low else low + 1.0
    frame = lay_out(groups, low_s=low, high_s=high, left=_LEFT, right=width - _RIGHT, top=_TOP, bottom=height - _BOTTOM)
    shapes: list[Shape] = [*_strips(frame, pulls), *frame_shapes(frame, say=say), *curve_shapes(frame)]
    for pull in pulls:
        if pull.first_lift_s is not None:
            x = frame.time.at(pull.first_lift_s)
            shapes.append(Line(x, frame.top, x, frame.bottom, ACCENT, 0.8))
    shapes += title_shapes(frame, say=say)
    shapes.append(Text(0.0, 12.0, say("figure.test"), 11.0, bold=True))
    return render(
        width, height, shapes, title=say("figure.test-title", pulls=len(pulls), duration=local(f"{high - low:.1f}"))
    )


def _times(pull: Pull) -> tuple[float | None, float | None]:
    return pull.start_s, pull.end_s


def _span(pull: Pull) -> tuple[float, float] | None:
    """Give the stretch to draw; None for a pull entered by hand, which has no times."""
    if pull.start_s is None or pull.end_s is None:
        return None
    end = max(pull.end_s, pull.end_s if pull.closure_s is None else pull.closure_s)
    air = 0.06 * max(end - pull.start_s, 1e-3)
    return pull.start_s - air, end + air


def _described(pull: Pull, say: Speaker) -> str:
    if pull.first_lift_s is None:
        return say("figure.no-lift")
    return say("figure.lift", time=format_time(pull.first_lift_s, pull.first_lift_standard_uncertainty_s))


def _nothing(width: float, height: float, title: str, say: Speaker) -> str:
    words = say("figure.no-signal", title=title)
    shapes: tuple[Shape, ...] = (
        Rect(0.5, 0.5, width - 1, height - 1, "none", QUIET, 0.6),
        Text(width / 2, height / 2, words, 9.0, "middle", QUIET, italic=True),
    )
    return render(width, height, shapes, title=words)


def _band(frame: Frame, pull: Pull) -> list[Shape]:
    if pull.first_lift_s is None or not pull.first_lift_standard_uncertainty_s:
        return []
    half = 2.0 * pull.first_lift_standard_uncertainty_s
    left, right = frame.time.at(pull.first_lift_s - half), frame.time.at(pull.first_lift_s + half)
    return [Rect(left, frame.top, right - left, frame.bottom - frame.top, "#f3d9c9")]


def _marks(frame: Frame, pull: Pull, say: Speaker) -> list[Shape]:
    shapes: list[Shape] = []
    if pull.closure_s is not None:
        x = frame.time.at(pull.closure_s)
        shapes.append(Line(x, frame.top, x, frame.bottom, INK, 0.9, "0.9 2.6"))
        shapes.append(Circle(x, frame.top, 2.4))
        shapes.append(
            _flag(frame.time, x, frame.top - 5.0, say("figure.closure", time=format_time(pull.closure_s)), "end")
        )
    if pull.first_lift_s is not None:
        x = frame.time.at(pull.first_lift_s)
        shapes.append(Line(x, frame.top, x, frame.bottom, ACCENT, 1.1))
        shapes.append(Polygon(((x - 3.2, frame.top - 5), (x + 3.2, frame.top - 5), (x, frame.top)), ACCENT))
        words = say("figure.lift", time=format_time(pull.first_lift_s, pull.first_lift_standard_uncertainty_s))
        shapes.append(_flag(frame.time, x, frame.top - 14.0, words, "middle"))
    return shapes


def _flag(time: Axis, x: float, y: float, words: str, anchor: str) -> Shape:
    half = 1.9 * len(words)
    if anchor == "middle":
        x = min(max(x, time.start + half + 40), time.end - half)
    return Text(x - 4 if anchor == "end" else x, y, words, 8.0, anchor, INK, italic=True)


def _fits(frame: Frame, pull: Pull) -> list[Shape]:
    shapes: list[Shape] = []
    for line in pull.fit:
        panel = _panel_of(frame, line.channel)
        if panel is None or not line.time_s:
            continue
        trace, axis = panel
        values = trace.from_si(np.asarray(line.value_si, dtype=np.float64))
        if values is None:
            continue
        points = tuple(
            (frame.time.at(s), axis.axis.at(float(v)))
            for s, v in zip(line.time_s, values, strict=True)
            if frame.time.holds(s) and axis.axis.holds(float(v))
        )
        if len(points) > 1:
            dash = "7 2.5" if line.side == "before" else "2 2"
            # the curve is paled under the dashes, not hidden: dashes on a black curve could not be seen
            shapes.append(Polyline(points, "#ffffff", 2.6, opacity=0.65))
            shapes.append(Polyline(points, ACCENT, 1.3, dash))
    return shapes


def _panel_of(frame: Frame, channel: str) -> tuple[Trace, Panel] | None:
    for panel in frame.panels:
        for trace in panel.traces:
            if trace.answers_to(channel):
                return trace, panel
    return None


def _strips(frame: Frame, pulls: Sequence[Pull]) -> list[Shape]:
    shapes: list[Shape] = []
    last = -1e9
    for pull in pulls:
        if pull.start_s is None or pull.end_s is None:
            continue
        left, right = frame.time.at(pull.start_s), frame.time.at(pull.end_s)
        shapes.append(Rect(left, frame.top, max(right - left, 0.5), frame.bottom - frame.top, WASH))
        middle = (left + right) / 2
        if middle - last > 9.0:
            shapes.append(Text(middle, frame.top - 4.0, str(pull.number), 8.0, "middle", bold=True))
            last = middle
    return shapes
