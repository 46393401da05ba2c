"""How many valves fall due, week by week, as a small picture with its numbers."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence

from firstlift.figures.svg import INK, QUIET, Line, Rect, Shape, Text, render
from firstlift.web.say import _, comma

_STEP, _HIGH, _BASE = 27.0, 54.0, 70.0


def draw_weeks(counts: Sequence[int], first: dt.date) -> str:
    """Draw the weeks to come; the months stand under the line.

    Parameters
    ----------
    counts : sequence of int
        Valves due in each week.
    first : date
        First day of the first week.

    Returns
    -------
    str
        SVG.
    """
    most = max((*counts, 1))
    width = _STEP * len(counts) + 2.0
    shapes: list[Shape] = [Line(0.0, _BASE, width, _BASE, INK, 1.2)]
    month = 0
    for index, number in enumerate(counts):
        x, day = _STEP * index + 1.0, first + dt.timedelta(days=7 * index)
        tall = _HIGH * number / most
        if number:
            shapes.append(Rect(x + 4.0, _BASE - tall, _STEP - 8.0, tall, INK if index < 4 else "#8b979f"))
            shapes.append(Text(x + _STEP / 2.0, _BASE - tall - 4.0, str(number), 10.5, "middle"))
        if day.month != month:
            # a month of which only days are left has no room for its name
            month = day.month
            if not index and day.day > 21:
                continue
            shapes.append(Line(x, _BASE, x, _BASE + 6.0, INK, 1.0))
            shapes.append(Text(x + 3.0, _BASE + 15.0, f"{day.year}-{month:02d}", 10.5, fill=QUIET))
    said = _("Valves due in the next %(weeks)s weeks:", weeks=len(counts))
    return render(width, _BASE + 20.0, shapes, title=f"{said} {comma().join(map(str, counts))}")
