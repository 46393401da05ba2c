"""An invented case to look at: a recording and its job sheet, made by simulation."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import numpy as np

from firstlift.core.errors import FirstliftError, Problem
from firstlift.core.valve import Medium
from firstlift.sim.model import SimulatedTest
from firstlift.sim.recipe import cook, draw_recipe
from firstlift.sim.text import jobsheet_text, recording_csv

JOBSHEET, RECORDING = "demo-jobsheet.toml", "demo-recording.csv"
NOTE = "Invented data: Marrow Bay Energy does not exist, and the recording was made by simulation."


def draw_demo_test(seed: int) -> SimulatedTest:
    """Simulate the demo's valve: steam, three pulls, nothing unusual; the seed draws all its numbers.

    Parameters
    ----------
    seed : int
        Same seed, same test.

    Returns
    -------
    SimulatedTest
    """
    rng = np.random.default_rng(seed)
    recipe = replace(draw_recipe(rng, Medium.STEAM), pulls=3)
    test = cook(recipe, rng, "2041")
    return replace(test, job=replace(test.job, recording=replace(test.job.recording, file=RECORDING)))


def make_demo_case(folder: Path, seed: int = 3) -> Path:
    """Write the demo's recording (CSV) and job sheet (TOML), both marked as invented, into a folder.

    Files of the same names there are replaced: they belong to the demo.

    Parameters
    ----------
    folder : Path
        Made if it is not there.
    seed : int
        Draws valve, errors and noise; same seed, same files.

    Returns
    -------
    Path
        The job sheet.

    Raises
    ------
    FirstliftError
        DEM-001 the folder cannot be written to.
    """
    test = draw_demo_test(seed)
    texts = {RECORDING: recording_csv(test), JOBSHEET: jobsheet_text(test, note=NOTE)}
    try:
        folder.mkdir(parents=True, exist_ok=True)
        for name, text in texts.items():
            (folder / name).write_text(text, encoding="utf-8", newline="\n")
    except OSError as error:
        reason = error.strerror or str(error)
        raise FirstliftError(
            Problem(
                "DEM-001",
                f"the demo's files cannot be written: {reason}",
                str(folder),
                "a folder that can be written to",
                "Name another folder",
            )
        ) from error
    return folder / JOBSHEET
