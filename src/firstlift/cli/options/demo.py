"""What `firstlift demo` takes."""

from __future__ import annotations

import argparse


def add(commands: argparse._SubParsersAction) -> None:
    """Add the command and its options.

    Parameters
    ----------
    commands : argparse._SubParsersAction
    """
    demo = commands.add_parser(
        "demo",
        help="an invented test, from recording to certificate",
        description="Make an invented recording, analyse it and write its certificate; or, with --register, an "
        "invented register of three sites with six years of visits.",
    )
    demo.add_argument("folder", nargs="?", default="firstlift-demo", help="where to write (default firstlift-demo)")
    demo.add_argument("--register", metavar="FOLDER", help="make the invented register there instead: 400 valves")
    demo.add_argument("--seed", type=_seed, default=3, help="same seed, same test (default 3)")
    demo.set_defaults(run="firstlift.cli.demo")


def _seed(text: str) -> int:
    if not (text.isdecimal() and len(text) < 10):
        message = f"'{text}' is not a whole number of 0 or more"
        raise argparse.ArgumentTypeError(message)
    return int(text)
