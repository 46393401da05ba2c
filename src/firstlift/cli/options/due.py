"""What `firstlift due` takes."""

from __future__ import annotations

import argparse

from firstlift.cli.options.register_entries import add_store


def add(commands: argparse._SubParsersAction) -> None:
    """Add the command and its options.

    Parameters
    ----------
    commands : argparse._SubParsersAction
    """
    due = commands.add_parser(
        "due",
        help="valves due for a test, the most urgent first",
        description="Valves in use by due date: last test plus the interval in force.",
    )
    due.add_argument("--by", dest="due_by", metavar="YYYY-MM-DD", help="due by this day (default: all)")
    due.add_argument("--overdue", action="store_true", help="only those whose day has passed")
    due.add_argument("--without-interval", action="store_true", help="those in use that no interval reaches")
    due.add_argument("--owner", metavar="NAME")
    due.add_argument("--site", metavar="NAME")
    due.add_argument("--unit", default="", metavar="NAME", help="the plant's unit")
    due.add_argument("--medium", choices=("gas", "steam", "liquid"))
    due.add_argument("--tag", default="", metavar="START", help="tags that begin like this")
    due.add_argument("--verdict", default="", choices=("within", "outside", "undecided"), help="of the last test")
    due.add_argument("--limit", type=int, default=100)
    due.add_argument("--offset", type=int, default=0)
    due.add_argument("--json", action="store_true", help="print as JSON")
    add_store(due)
    due.set_defaults(run="firstlift.cli.due")
