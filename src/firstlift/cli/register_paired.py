"""``firstlift register paired``: the file that validates the method."""

from __future__ import annotations

import argparse
import json
from typing import Any

from firstlift.cli.show import prints_unicode, show
from firstlift.core.seat.paired import Agreement
from firstlift.usecases.register.paired import paired_results
from firstlift.usecases.register.place import opened
from firstlift.words.numbers import format_short

_SIGNALS = {
    "outside": "outside the limits",
    "range": "too far from the one before",
    "run": "eight or more in a row on one side",
}


def run(arguments: argparse.Namespace) -> int:
    """Run the command.

    Parameters
    ----------
    arguments : argparse.Namespace

    Returns
    -------
    int
        0 all agree and in control, 1 some do not, or there is no pair.
    """
    with opened(arguments.store) as store:
        found = paired_results(store, arguments.within_days)
    if arguments.json:
        data = {"format": "firstlift-paired-1", "groups": [_plain(each) for each in found]}
        show(json.dumps(data, ensure_ascii=not prints_unicode(), allow_nan=False))
    else:
        for each in found:
            _tell(each)
        if not found:
            show("no valve was tested on line and on the bench without an adjustment between the two")
    good = all(
        each.agreeing == len(each.normalised_errors) and (each.chart is None or each.chart.in_control) for each in found
    )
    return 0 if found and good else 1


def _tell(found: Agreement) -> None:
    show(f"rig {found.rig or '?'}, {found.valve_type}, team {found.team or '?'}: {len(found.normalised_errors)} pairs")
    worst = max(found.normalised_errors, key=abs)
    show(f"  {found.agreeing} agree within their uncertainties; largest normalised error {worst:+.2f}")
    spread = "" if found.expanded_bias is None else f" ± {format_short(found.expanded_bias, '%')} (95 %)"
    show(f"  on line less bench: {format_short(found.bias, '%')}{spread}")
    if found.left_out:
        show(f"  {found.left_out} left out: their bench result had gone into the seat area")
    chart = found.chart
    if chart is None:
        return
    provisional = ", provisional: fewer than 20 pairs" if chart.provisional else ""
    limits = f"{format_short(chart.lower, '%')} to {format_short(chart.upper, '%')}"
    show(f"  control chart {limits}: {'in control' if chart.in_control else 'NOT in control'}{provisional}")
    for number, point in enumerate(chart.points, 1):
        if point.signals:
            said = ", ".join(_SIGNALS[signal] for signal in point.signals)
            show(f"    pair {number}, {format_short(point.value, '%')}: {said}")


def _plain(found: Agreement) -> dict[str, Any]:
    chart = found.chart
    return {
        "rig": found.rig,
        "valve_type": found.valve_type,
        "team": found.team,
        "normalised_errors": list(found.normalised_errors),
        "agreeing_count": found.agreeing,
        "bias_ratio": found.bias,
        "expanded_bias_ratio": found.expanded_bias,
        "left_out_count": found.left_out,
        "chart": None
        if chart is None
        else {
            "middle_ratio": chart.middle,
            "lower_ratio": chart.lower,
            "upper_ratio": chart.upper,
            "range_upper_ratio": chart.range_upper,
            "provisional": chart.provisional,
            "points": [
                {"value_ratio": point.value, "moving_range_ratio": point.moving_range, "signals": list(point.signals)}
                for point in chart.points
            ],
        },
    }
