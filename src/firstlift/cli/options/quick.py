"""What `firstlift quick` takes."""

from __future__ import annotations

import argparse


def add(commands: argparse._SubParsersAction) -> None:
    """Add the command and its options.

    Parameters
    ----------
    commands : argparse._SubParsersAction
    """
    quick = commands.add_parser(
        "quick",
        help="the pocket calculation for a pull read off by hand",
        description="Set pressure from line pressure, pull force and seat, with uncertainty and verdict.",
    )
    quick.add_argument("--line", required=True, metavar='"8 bar"', help="line pressure at first lift, gauge")
    quick.add_argument("--pull", required=True, metavar='"141 N"', help="pull force at first lift, tare taken off")
    quick.add_argument("--seat-diameter", metavar='"30 mm"', help="mean diameter of the seat")
    quick.add_argument("--seat-area", metavar='"707 mm2"', help="or its area")
    quick.add_argument("--set", required=True, metavar='"10 bar"', help="stamped set pressure")
    quick.add_argument("--code", required=True, metavar="CODE", help="rule set, such as iso-4126-1 or asme-xiii")
    quick.add_argument("--medium", choices=("gas", "steam", "liquid"), default="gas")
    quick.add_argument("--decision", choices=("guarded", "simple"), default="guarded")
    quick.add_argument("--probability", type=_probability, default=0.95, help="of the guarded rule (default 0.95)")
    quick.add_argument("--line-uncertainty", metavar='"0.5 %"', help="standard uncertainty of the line pressure")
    quick.add_argument("--pull-uncertainty", metavar='"0.5 %"', help="standard uncertainty of the pull")
    quick.add_argument("--seat-uncertainty", metavar='"0.1 mm"', help="standard uncertainty of diameter or area")
    quick.add_argument("--json", action="store_true", help="print the result as JSON")
    quick.set_defaults(run="firstlift.cli.quick")


def _probability(text: str) -> float:
    try:
        value = float(text.replace(",", "."))
    except ValueError:
        value = 0.0
    if not 0.5 < value < 1.0:
        message = f"'{text}' is not a probability between 0.5 and 1"
        raise argparse.ArgumentTypeError(message)
    return value
