"""What `firstlift register paired` takes."""

from __future__ import annotations

import argparse


def add(parts: argparse._SubParsersAction) -> None:
    """Add the command and its options.

    Parameters
    ----------
    parts : argparse._SubParsersAction
        The subcommands of `firstlift register`.
    """
    paired = parts.add_parser(
        "paired",
        help="how on-line and bench results of the same valves agree",
        description="Normalised errors, bias and control chart of paired results, by rig, type of valve and team.",
    )
    paired.add_argument(
        "--within-days", type=_days, default=60, metavar="DAYS", help="most between the two (default 60)"
    )
    paired.add_argument("--json", action="store_true", help="print as JSON")
    paired.add_argument("--store", metavar="WHERE", help="the register (default ./firstlift-register)")
    paired.set_defaults(run="firstlift.cli.register_paired")


def _days(text: str) -> int:
    if not (text.isdecimal() and 0 < int(text) < 10_000):
        message = f"'{text}' is not a number of days"
        raise argparse.ArgumentTypeError(message)
    return int(text)
