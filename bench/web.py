"""The app in the browser: how long screens take, how quickly traces follow a zoom, how steadily a replay is drawn."""

from __future__ import annotations

import argparse

from bench.screens import screen_figures
from bench.traces import live_figures, zoom_figures


def add_options(parser: argparse.ArgumentParser) -> None:
    """Take no options of its own.

    Parameters
    ----------
    parser : argparse.ArgumentParser
    """


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
    zoom = zoom_figures(samples=1_000_000 if options.quick else 10_000_000)
    screens = screen_figures(valves=1_000 if options.quick else 100_000, quick=options.quick)
    return {**screens, **zoom, **live_figures(seconds=8.0 if options.quick else 600.0)}
