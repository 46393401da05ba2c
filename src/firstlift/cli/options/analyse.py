"""What `firstlift analyse` takes."""

from __future__ import annotations

import argparse


def add(commands: argparse._SubParsersAction) -> None:
    """Add the command and its options.

    Parameters
    ----------
    commands : argparse._SubParsersAction
    """
    analyse = commands.add_parser(
        "analyse", help="recordings to results", description="Analyse recordings by their job sheets."
    )
    analyse.add_argument("jobsheet", nargs="+", metavar="JOBSHEET", help="job sheet (TOML) that names its recording")
    analyse.add_argument("--json", action="store_true", help="print the result as JSON, one object a line for several")
    analyse.add_argument("--certificate", metavar="OUT.pdf", help="write the certificate (one job sheet only)")
    analyse.add_argument("--plot", metavar="OUT.svg", help="draw the first pull that lifted (one job sheet only)")
    analyse.set_defaults(run="firstlift.cli.analyse")
