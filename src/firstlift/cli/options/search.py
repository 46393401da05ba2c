"""What `firstlift search` takes."""

from __future__ import annotations

import argparse


def add(commands: argparse._SubParsersAction) -> None:
    """Add the command and its options.

    Parameters
    ----------
    commands : argparse._SubParsersAction
    """
    search = commands.add_parser(
        "search",
        help="find valves of the register",
        description="Valves by how their tag or serial begins, by owner, site, unit, medium, last verdict, or overdue.",
    )
    search.add_argument("text", nargs="?", default="", metavar="TEXT", help="how the tag, or the serial, begins")
    search.add_argument("--serial", default="", metavar="START", help="how the serial begins, and not the tag")
    search.add_argument("--owner", default="", metavar="NAME")
    search.add_argument("--site", default="", metavar="NAME")
    search.add_argument("--unit", default="", metavar="NAME", help="the plant's unit")
    search.add_argument("--medium", choices=("gas", "steam", "liquid"))
    search.add_argument("--verdict", default="", choices=("within", "outside", "undecided"), help="of the last test")
    search.add_argument("--overdue", action="store_true", help="only those whose due date has passed")
    search.add_argument("--all", action="store_true", help="also those that hang nowhere or are not in use")
    search.add_argument("--summary", action="store_true", help="a site at a glance instead: valves, overdue, verdicts")
    search.add_argument("--limit", type=_count, default=50, metavar="N", help="at most so many (default 50)")
    search.add_argument("--offset", type=_count, default=0, metavar="N", help="leave out the first N")
    search.add_argument("--json", action="store_true", help="print as JSON")
    search.add_argument("--store", metavar="WHERE", help="the register (default ./firstlift-register)")
    search.set_defaults(run="firstlift.cli.search")


def _count(text: str) -> int:
    if not (text.isdecimal() and len(text) < 8):
        message = f"'{text}' is not a whole number of 0 or more"
        raise argparse.ArgumentTypeError(message)
    return int(text)
