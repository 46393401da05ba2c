"""What `firstlift signature` takes."""

from __future__ import annotations

import argparse


def add(commands: argparse._SubParsersAction) -> None:
    """Add the command and its options.

    Parameters
    ----------
    commands : argparse._SubParsersAction
    """
    signature = commands.add_parser(
        "signature",
        help="a valve's spring, friction and play over its visits",
        description="Hold the last pull test of a registered valve against its earlier ones, before it is opened.",
    )
    signature.add_argument("--valve", required=True, metavar="SERIAL", help="the valve's serial number")
    signature.add_argument("--store", metavar="WHERE", help="the register (default ./firstlift-register)")
    signature.add_argument("--json", action="store_true", help="print the answer as JSON")
    signature.set_defaults(run="firstlift.cli.signature")
