"""What `firstlift label` takes."""

from __future__ import annotations

import argparse


def add(commands: argparse._SubParsersAction) -> None:
    """Add the command and its options.

    Parameters
    ----------
    commands : argparse._SubParsersAction
    """
    label = commands.add_parser(
        "label",
        help="labels with a code that opens a valve's page",
        description="Labels of 90 x 44 mm for valves, each with a QR code that carries the valve's own identifier.",
    )
    label.add_argument("tag", nargs="*", metavar="TAG", help="tags where the valves hang; none: all of --site")
    label.add_argument("--out", required=True, metavar="LABELS.pdf", help="where to write")
    label.add_argument("--site", default="", metavar="NAME", help="the site, where a tag stands at several")
    label.add_argument("--base-url", default="", metavar="URL", help="let the code open a page below this address")
    label.add_argument("--language", default="en", metavar="CODE", help="en, de, fr, es, nl, pl, el, ar or zh")
    label.add_argument("--fonts", default="", metavar="FOLDER", help="fonts with the letters of the language")
    label.add_argument("--roll", action="store_true", help="one label a page, for a printer of labels")
    label.add_argument("--store", metavar="WHERE", help="the register (default ./firstlift-register)")
    label.set_defaults(run="firstlift.cli.label")
