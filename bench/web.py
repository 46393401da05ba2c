"""The app in the browser: how quickly traces follow a zoom, and how steadily a replay is drawn."""

from __future__ import annotations

import argparse

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
        Keys as in `bench.traces`. Quick: a tenth of the samples, and seconds instead of ten minutes of replay.
    """
    zoom = zoom_figures(samples=1_000_000 if options.quick else 10_000_000)
    return {**zoom, **live_figures(seconds=8.0 if options.quick else 600.0)}
