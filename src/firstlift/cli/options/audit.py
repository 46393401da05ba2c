"""What `firstlift audit` takes."""

from __future__ import annotations

import argparse

from firstlift.cli.options.register_entries import add_store


def add(commands: argparse._SubParsersAction) -> None:
    """Add the command and its options.

    Parameters
    ----------
    commands : argparse._SubParsersAction
    """
    audit = commands.add_parser(
        "audit",
        help="prove that nothing in the register was changed behind its back",
        description="Check the chain, every row against it, and every kept file; name what does not hold.",
        epilog="Note the last line elsewhere: with --expect it proves later that no entry was cut off.",
    )
    audit.add_argument("--expect", metavar="NUMBER:SHA256", help="an entry that was noted before")
    audit.add_argument("--json", action="store_true", help="print as JSON")
    add_store(audit)
    audit.set_defaults(run="firstlift.cli.audit")
