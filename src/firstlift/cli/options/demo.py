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
        help="the app in the browser with an invented register",
        description="Open the app on an invented register of three sites with six years of visits; it is made at the "
        "first start, which takes a while, and kept. Or, with --files, make one invented recording, analyse it and "
        "write its certificate.",
    )
    demo.add_argument(
        "folder", nargs="?", default="firstlift-demo", help="where the register is kept (default firstlift-demo)"
    )
    other = demo.add_mutually_exclusive_group()
    other.add_argument("--files", metavar="FOLDER", help="one test from recording to certificate, into a folder")
    other.add_argument("--register", metavar="FOLDER", help="make the invented register there, and no more: 400 valves")
    demo.add_argument("--seed", type=_seed, default=3, help="same seed, same test (default 3)")
    demo.add_argument("--port", type=int, help="port (default 8620, or the next that is free)")
    demo.add_argument("--no-browser", action="store_true", help="do not open the browser")
    demo.set_defaults(run="firstlift.cli.demo")


def _seed(text: str) -> int:
    if not (text.isdecimal() and len(text) < 10):
        message = f"'{text}' is not a whole number of 0 or more"
        raise argparse.ArgumentTypeError(message)
    return int(text)
