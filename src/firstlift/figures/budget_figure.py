"""Bars of what each input adds to the uncertainty."""

from __future__ import annotations

from collections.abc import Sequence

from firstlift import words
from firstlift.core.result import BudgetLine
from firstlift.figures.svg import INK, QUIET, Line, Rect, Shape, Text, render, shorten
from firstlift.words.numbers import format_share
from firstlift.words.paper import ENGLISH, Speaker

_MOST = 10


def draw_budget(lines: Sequence[BudgetLine], *, width: float = 480.0, say: Speaker = ENGLISH) -> str:
    """Draw the shares of a budget as bars, largest first; beyond ten, the small ones together.

    Parameters
    ----------
    lines : sequence of BudgetLine
    width : float
        In points.
    say : Speaker

    Returns
    -------
    str
        SVG. A share may be negative where inputs are correlated: its bar is open and goes left.
    """
    ordered = sorted(lines, key=lambda line: -abs(line.share))
    rows = [(words.budget_words(line.quantity, language=say.language), line.share) for line in ordered[:_MOST]]
    if len(ordered) > _MOST:
        rest = ordered[_MOST:]
        rows.append((say("figure.smaller", count=len(rest)), sum(line.share for line in rest)))
    row, left, right = 13.0, 170.0, width - 46.0
    least = min(0.0, *(share for _, share in rows)) if rows else 0.0
    most = max((share for _, share in rows), default=0.0) or 1.0
    scale = (right - left) / (most - least)
    zero = left - least * scale
    shapes: list[Shape] = []
    for index, (name, share) in enumerate(rows):
        y = row * index + 3.0
        reach = share * scale
        fill = INK if index == 0 else "#8b979f"
        shapes.append(Text(left - 6.0, y + 7.5, shorten(name, 38), 8.0, "end"))
        if share >= 0.0:
            shapes.append(Rect(zero, y + 1.0, max(reach, 0.4), row - 5.0, fill))
        else:
            shapes.append(Rect(zero + reach, y + 1.0, -reach, row - 5.0, "#ffffff", INK, 0.7))
        shapes.append(Text(max(zero, zero + reach) + 4.0, y + 7.5, format_share(share), 8.0))
    height = row * max(1, len(rows)) + 4.0
    if not rows:
        shapes.append(Text(0.0, 10.0, say("figure.no-budget"), 8.0, fill=QUIET, italic=True))
    shapes.append(Line(zero, 1.0, zero, height - 1.0, INK, 0.8))
    return render(width, height, shapes, title=say("budget.figure"))
