"""What `firstlift backup`, `firstlift restore` and `firstlift export` take."""

from __future__ import annotations

import argparse

from firstlift.cli.options.register_entries import add_store


def add(commands: argparse._SubParsersAction) -> None:
    """Add the commands and their options.

    Parameters
    ----------
    commands : argparse._SubParsersAction
    """
    backup = commands.add_parser(
        "backup",
        help="copy the register while it is in use, and prove the copy",
        description="Copy the register with its recordings into a new folder, open the copy and audit it.",
    )
    backup.add_argument("target", metavar="FOLDER", help="where to; must not be there yet")
    restore = commands.add_parser(
        "restore",
        help="bring a register back from a backup or an export",
        description="Bring a register back from a backup or an export into an empty place, and audit it.",
    )
    restore.add_argument("source", metavar="FOLDER", help="a backup, or an export")
    export = commands.add_parser(
        "export",
        help="write the register in open formats",
        description="Write every table as CSV and Parquet, and the recordings as they were, into a new folder.",
    )
    export.add_argument("target", metavar="FOLDER", help="where to; must not be there yet")
    for parser in (backup, restore, export):
        add_store(parser)
        parser.set_defaults(run="firstlift.cli.copies")
