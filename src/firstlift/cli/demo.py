"""``firstlift demo``: the app on an invented register; or one invented test from recording to certificate."""

from __future__ import annotations

import argparse
import importlib
from pathlib import Path

from firstlift.cli.show import prints_unicode, show
from firstlift.cli.summary import summary

_INVENTED = "Invented data: Marrow Bay Energy, its people, valves and tests do not exist.\n"


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
    if arguments.files:
        return _files(Path(arguments.files), arguments.seed)
    if arguments.register:
        folder = Path(arguments.register)
        _make(folder, arguments.seed)
        show(_INVENTED)
        show(f"register     {folder}")
        show(f"look at it   firstlift serve --store {folder}")
        show(f'             firstlift label --site "Gullstone terminal" --out labels.pdf --store {folder}')
        return 0
    return _app(Path(arguments.folder), arguments)


def _files(folder: Path, seed: int) -> int:
    from firstlift.demo.run import run_demo

    demo = run_demo(folder, seed=seed)
    show("Invented data: Marrow Bay Energy does not exist; the recording was made by simulation.\n")
    show(summary(demo.analysed, ascii_only=not prints_unicode()))
    show(f"\njob sheet    {demo.analysed.sheet}")
    show(f"recording    {demo.recording}")
    show(f"plot         {demo.plot}")
    show(f"certificate  {demo.certificate}")
    return 0


def _make(folder: Path, seed: int) -> None:
    from firstlift.cli.progress import Progress
    from firstlift.demo.register.build import make_demo_register
    from firstlift.usecases.register.place import now

    with Progress("visits") as progress:
        make_demo_register(folder, seed=seed, today=now().date(), progress=progress)


def _app(folder: Path, arguments: argparse.Namespace) -> int:
    from firstlift.store.open import DATABASE
    from firstlift.usecases.register.place import opened

    show(_INVENTED)
    if not (folder / DATABASE).is_file():
        show(f"Six years of visits are being made in {folder}: half a minute or so, the first time only.")
        _make(folder, arguments.seed)
    # the app is beside the command line, not under it: it is found when it runs
    web = importlib.import_module("firstlift.web.serve")
    with opened(str(folder)) as store:
        settings = web.Settings(store.folder / web.ACCOUNTS, invented=True)
        web.serve(store, settings, port=arguments.port, browser=not arguments.no_browser)
    return 0
