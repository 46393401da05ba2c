"""``firstlift demo``: an invented test from recording to certificate, or an invented register."""

from __future__ import annotations

import argparse
from pathlib import Path

from firstlift.cli.show import prints_unicode, show
from firstlift.cli.summary import summary


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
    if arguments.register:
        return _register(Path(arguments.register), arguments.seed)
    from firstlift.demo.run import run_demo

    demo = run_demo(Path(arguments.folder), seed=arguments.seed)
    show("Invented data: Marrow Bay Energy does not exist; the recording was made by simulation.\n")
    show(summary(demo.analysed, ascii_only=not prints_unicode()))
    show(f"\njob sheet    {demo.analysed.sheet}")
    show(f"recording    {demo.recording}")
    show(f"plot         {demo.plot}")
    show(f"certificate  {demo.certificate}")
    return 0


def _register(folder: Path, seed: int) -> int:
    from firstlift.cli.progress import Progress
    from firstlift.demo.register.build import make_demo_register
    from firstlift.usecases.register.place import now

    with Progress("visits") as progress:
        make_demo_register(folder, seed=seed, today=now().date(), progress=progress)
    show("Invented data: Marrow Bay Energy, its people, valves and tests do not exist.\n")
    show(f"register     {folder}")
    show(f'look at it   firstlift label --site "Gullstone terminal" --out labels.pdf --store {folder}')
    return 0
