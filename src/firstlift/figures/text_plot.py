"""A small plot in characters: force and lift of one pull, for a terminal."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from firstlift.core.recording import Floats
from firstlift.core.result import Pull
from firstlift.figures.panels import window
from firstlift.figures.trace import Trace, by_panel
from firstlift.words import phrases_en
from firstlift.words.numbers import format_time

_BLOCKS = " ▁▂▃▄▅▆▇█"


def plot_pull(
    traces: Sequence[Trace], pull: Pull, *, width: int = 60, height: int = 12, ascii_only: bool = False
) -> str:
    """Plot force and lift of one pull in characters, one above the other, with a column at first lift.

    Parameters
    ----------
    traces : sequence of Trace
        The first force trace and the first lift trace are shown; sound where there is no lift.
    pull : Pull
    width, height : int
        Columns of the plot and rows of both panels together.
    ascii_only : bool
        Use plain characters for terminals without Unicode.

    Returns
    -------
    str
        Lines of at most ``width`` characters each (titles apart), joined by newlines.
    """
    if pull.start_s is None or pull.end_s is None:
        return f"pull {pull.number}: entered by hand, nothing to plot"
    start_s, end_s = pull.start_s, pull.end_s
    groups = by_panel(tuple(traces))
    chosen = [group[0] for group in groups if group[0].measures == "pull_force"][:1]
    chosen += [group[0] for group in groups if group[0].measures in ("spindle_lift", "acoustic")][:1]
    rows = max(2, height // max(1, len(chosen)) - 1)
    mark = _mark_column(pull.first_lift_s, start_s, end_s, width)
    lines = [f"pull {pull.number}, {start_s:.2f} s to {end_s:.2f} s"]
    for trace in chosen:
        lines += _panel(trace, _columns(trace, start_s, end_s, width), rows, mark, ascii_only)
    if mark is not None:
        foot = f"{'^' if ascii_only else '↑'} first lift "
        foot += format_time(pull.first_lift_s, pull.first_lift_standard_uncertainty_s)
        foot = foot.replace("±", "+-") if ascii_only else foot
        lines.append(" " * min(mark, max(0, width - len(foot))) + foot)
    else:
        lines.append("no first lift")
    return "\n".join(line.rstrip() for line in lines)


def _mark_column(first_lift_s: float | None, start_s: float, end_s: float, width: int) -> int | None:
    if first_lift_s is None or end_s <= start_s:
        return None
    return min(width - 1, max(0, int((first_lift_s - start_s) / (end_s - start_s) * width)))


def _columns(trace: Trace, start_s: float, end_s: float, width: int) -> Floats:
    seconds, values = window(trace, start_s, end_s)
    finite = np.isfinite(values)
    seconds, values = seconds[finite], values[finite]
    if not seconds.size or end_s <= start_s:
        return np.full(width, np.nan)
    highest = np.full(width, -np.inf)
    place = np.clip(((seconds - start_s) / (end_s - start_s) * width).astype(int), 0, width - 1)
    # the highest sample of each column, so that a short peak is not lost
    np.maximum.at(highest, place, values)
    highest[~np.isfinite(highest)] = np.nan
    return highest


def _panel(trace: Trace, heights: Floats, rows: int, mark: int | None, ascii_only: bool) -> list[str]:
    name = phrases_en.MEASURES.get(trace.measures, trace.measures)
    unit = trace.unit_label if ascii_only else trace.shown_unit
    if not np.isfinite(heights).any():
        return [f"{name}: no signal"]
    low, high = min(0.0, float(np.nanmin(heights))), float(np.nanmax(heights))
    span = high - low if high > low else 1.0
    eighths = np.nan_to_num((heights - low) / span * rows * 8.0, nan=0.0)
    lines = [f"{name}, {low:.4g} to {high:.4g} {unit}"]
    for row in range(rows - 1, -1, -1):
        cells = [_cell(eighth - 8.0 * row, ascii_only) for eighth in eighths]
        if mark is not None and cells[mark] in (" ", "."):
            cells[mark] = "|" if ascii_only else "│"
        lines.append("".join(cells))
    return lines


def _cell(eighths: float, ascii_only: bool) -> str:
    level = int(min(8.0, max(0.0, round(eighths))))
    if ascii_only:
        return "#" if level >= 4 else ("." if level >= 1 else " ")
    return _BLOCKS[level]
