"""``firstlift demo``: an invented test from recording to certificate."""

from __future__ import annotations

import argparse
from pathlib import Path

from firstlift.cli.show import prints_unicode, show
from firstlift.cli.summary import summary
from firstlift.demo.run import run_demo


def run(arguments: argparse.Namespace) -> int:
    """Run the command.

    Parameters
    ----------
    arguments : argparse.Namespace

    Returns
    -------
    int
        0.
    """
    demo = run_demo(Path(arguments.folder), seed=arguments.seed)
    show("Invented data: Marrow Bay Energy does not exist; the recording was made by simulation.\n")
    show(summary(demo.analysed, ascii_only=not prints_unicode()))
    show(f"\njob sheet    {demo.analysed.sheet}")
    show(f"recording    {demo.recording}")
    show(f"plot         {demo.plot}")
    show(f"certificate  {demo.certificate}")
    return 0
