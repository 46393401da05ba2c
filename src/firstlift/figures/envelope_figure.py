"""The force envelope: what pull a valve needs at each line pressure, and where the rig must stop."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from firstlift.figures.plan_frame import PlanFrame, draw_axes, plan_frame
from firstlift.figures.svg import ACCENT, INK, QUIET, Circle, Line, Polygon, Polyline, Shape, Text, render
from firstlift.words.numbers import show_unit
from firstlift.words.paper import ENGLISH, Speaker
from firstlift.words.place import local

_BAND = "#dfe6ea"


@dataclass(frozen=True, slots=True)
class EnvelopePoint:
    """Pulls at one line pressure, in display units: at the limits, expected, at the stop."""

    line: float
    low: float
    expected: float
    high: float
    stop: float


def draw_envelope(
    points: Sequence[EnvelopePoint],
    *,
    line: float,
    expected: float,
    rig_limit: float | None,
    rig_part: str,
    force_unit: str,
    pressure_unit: str,
    width: float = 480.0,
    height: float = 300.0,
    say: Speaker = ENGLISH,
) -> str:
    """Draw the pull against line pressure with the rig's limit.

    Parameters
    ----------
    points : sequence of EnvelopePoint
        In rising order of line pressure, two or more.
    line, expected : float
        The planned line pressure and the pull expected there, in display units.
    rig_limit : float or None
        What the weakest part bears, in display units; None where nothing is known.
    rig_part : str
        What that part is called, in the speaker's language.
    force_unit, pressure_unit : str
        Symbols of the display units.
    width, height : float
        In points.
    say : Speaker

    Returns
    -------
    str
        SVG.
    """
    top = max(point.stop for point in points) * 1.06
    if rig_limit is not None and rig_limit < 1.4 * top:
        top = max(top, 1.12 * rig_limit)
    frame = plan_frame(top_line=points[-1].line, low=0.0, high=top, width=width, height=height)
    x_title = say("figure.plan-line", unit=show_unit(pressure_unit))
    shapes = _band(frame, points)
    shapes += draw_axes(frame, x_title=x_title, y_title=say("figure.plan-pull", unit=show_unit(force_unit)))
    shapes.append(Polyline(tuple(frame.point(p.line, p.stop) for p in points), QUIET, 1.0, "4 2"))
    shapes.append(Polyline(tuple(frame.point(p.line, p.expected) for p in points), INK, 1.4))
    shapes += _names(frame, points, say)
    shapes += _limit(frame, rig_limit, rig_part, show_unit(force_unit), say, low_left=points[0].low)
    at = frame.point(line, expected)
    shapes.append(Line(at[0], frame.y.start, at[0], frame.y.end, INK, 0.6, "1.5 1.5"))
    shapes.append(Circle(*at, 3.0, INK))
    shapes.append(Text(at[0] - 4.0, frame.y.end + 7.0, say("figure.plan-planned"), 7.5, "end", italic=True))
    return render(width, height, shapes, title=say("figure.envelope"))


def _band(frame: PlanFrame, points: Sequence[EnvelopePoint]) -> list[Shape]:
    upper = [frame.point(point.line, point.high) for point in points]
    lower = [frame.point(point.line, point.low) for point in reversed(points)]
    return [Polygon((*upper, *lower), _BAND)]


def _names(frame: PlanFrame, points: Sequence[EnvelopePoint], say: Speaker) -> list[Shape]:
    """Write what each line is where there is room: above the stop, and below the band towards the left."""
    near, further = points[max(1, len(points) // 8)], points[max(1, 5 * len(points) // 8)]
    x, stop = frame.point(near.line, near.stop)
    x_low, low = frame.point(further.line, further.low)
    return [
        Text(x + 4.0, stop - 4.0, say("figure.envelope-stop"), 7.5, "start", QUIET, italic=True),
        Text(x_low - 8.0, low + 8.0, say("figure.envelope-expected"), 7.5, "end", italic=True),
    ]


def _limit(
    frame: PlanFrame, rig_limit: float | None, rig_part: str, unit: str, say: Speaker, *, low_left: float
) -> list[Shape]:
    right = frame.x.end
    if rig_limit is None:
        return [Text(right, frame.y.end - 9.0, say("figure.envelope-unknown"), 7.5, "end", ACCENT, italic=True)]
    if not frame.y.holds(rig_limit):
        number = local(f"{rig_limit:.0f}" if rig_limit >= 1000.0 else f"{rig_limit:.4g}")
        words = say("figure.envelope-above", part=rig_part, limit=f"{number} {unit}")
        return [Text(right, frame.y.end - 9.0, words, 7.5, "end", ACCENT, italic=True)]
    y = frame.y.at(rig_limit)
    # the pulls fall to the right: a low limit has room for its name at the left, a high one at the right
    x, anchor = (frame.x.start + 6.0, "start") if rig_limit < 0.9 * low_left else (right, "end")
    return [
        Line(frame.x.start, y, right, y, ACCENT, 1.4),
        Text(x, y - 4.0, say("figure.envelope-limit", part=rig_part), 7.5, anchor, ACCENT, italic=True),
    ]
