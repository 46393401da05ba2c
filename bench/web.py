"""The app in the browser: how long screens take, how quickly traces follow a zoom, how steadily a replay is drawn."""

from __future__ import annotations

import argparse
from collections.abc import Callable
from pathlib import Path

from bench.screens import screen_figures
from bench.traces import live_figures, zoom_figures

_PARTS = ("screens", "zoom", "replay")


def add_options(parser: argparse.ArgumentParser) -> None:
    """Take which parts to run, where a filled register is kept, and how long to play.

    Parameters
    ----------
    parser : argparse.ArgumentParser
    """
    parser.add_argument("--part", action="append", choices=_PARTS, help="only this part; may be repeated")
    parser.add_argument("--register", type=Path, help="folder of a filled register, made there if there is none")
    parser.add_argument("--valves", type=int, help="valves of the register, each with ten tests")
    parser.add_argument("--replay-minutes", type=float, help="how long a recording is played")


def run(options: argparse.Namespace) -> dict[str, float]:
    """Measure in Chromium on loopback.

    Parameters
    ----------
    options : argparse.Namespace

    Returns
    -------
    dict
        Keys as in `bench.screens` and `bench.traces`. Quick: fewer valves, a tenth of the samples, and seconds instead
        of ten minutes of replay.
    """
    quick = options.quick
    minutes = options.replay_minutes or (0.1 if quick else 10.0)
    valves = options.valves or (1_000 if quick else 100_000)
    parts: dict[str, Callable[[], dict[str, float]]] = {
        "screens": lambda: screen_figures(valves=valves, quick=quick, kept=options.register),
        "zoom": lambda: zoom_figures(samples=1_000_000 if quick else 10_000_000),
        "replay": lambda: live_figures(seconds=60.0 * minutes),
    }
    figures: dict[str, float] = {}
    for name in options.part or _PARTS:
        figures |= parts[name]()
    return figures
