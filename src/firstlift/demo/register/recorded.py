"""Tests by simulation: a whole recording and its job sheet, kept in the store, analysed as a user's own would be."""

from __future__ import annotations

import datetime as dt
import tempfile
from collections.abc import Sequence
from dataclasses import dataclass, replace
from pathlib import Path

from firstlift.core.result import Result
from firstlift.demo.case import NOTE
from firstlift.demo.register.crew import Tool
from firstlift.demo.register.draw import Draw
from firstlift.demo.register.plant import Truth
from firstlift.sim.model import SimulatedTest
from firstlift.sim.recipe import cook
from firstlift.sim.text import jobsheet_text, recording_csv
from firstlift.store.files import keep_bytes
from firstlift.usecases.analyse import analyse_jobsheet


@dataclass(frozen=True, slots=True)
class Recorded:
    """A test from a recording: its result, its two files by their hash, and the tools that its job sheet names."""

    result: Result
    sheet_sha256: str
    recording_sha256: str
    tools: tuple[Tool, ...]


def record_test(draw: Draw, truth: Truth, site: str, day: dt.date, rig: Sequence[Tool], kept_in: Path) -> Recorded:
    """Simulate a test of a valve, keep its recording and job sheet, and analyse them.

    Parameters
    ----------
    draw : Draw
    truth : Truth
        With a recipe.
    site : str
    day : date
    rig : sequence of Tool
    kept_in : Path
        The store's folder.

    Returns
    -------
    Recorded
    """
    recipe, position = truth.recipe, truth.position
    assert recipe is not None
    assert position is not None
    test = cook(replace(recipe, pulls=2, lead_s=2.5, rest_s=2.5), draw.rng, position.tag)
    truth.shift = recipe.valve.set_pressure_pa / truth.valve.set_pressure.si - 1.0
    sheet, recording, tools = _texts(test, truth, site, day, rig)
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "jobsheet.toml"
        path.write_text(sheet, encoding="utf-8", newline="\n")
        (Path(folder) / test.job.recording.file).write_text(recording, encoding="utf-8", newline="\n")
        result = analyse_jobsheet(path).analysis.result
    return Recorded(result, keep_bytes(kept_in, sheet.encode()), keep_bytes(kept_in, recording.encode()), tools)


def _texts(
    test: SimulatedTest, truth: Truth, site: str, day: dt.date, rig: Sequence[Tool]
) -> tuple[str, str, tuple[Tool, ...]]:
    """Write job sheet and recording under the valve's own names; each channel names its instrument."""
    assert truth.position is not None
    job = replace(
        test.job,
        visit=replace(test.job.visit, date=day, site=site),
        valve=replace(
            test.job.valve, tag=truth.position.tag, serial=truth.valve.serial, set_pressure=truth.valve.set_pressure
        ),
    )
    sheet = jobsheet_text(replace(test, job=job), note=NOTE)
    tools: dict[str, Tool] = {}
    for channel in job.channels:
        same = [tool for tool in rig if tool.instrument.measures is channel.measures]
        taken = [tool for tool in same if tool not in tools.values()]
        tools[channel.column] = (taken or same)[0]
    for column, tool in tools.items():
        head = f'column = "{column}"\n'
        sheet = sheet.replace(head, f'{head}serial = "{tool.instrument.serial}"\n', 1)
    # in the rig's order, each once, however many channels one has
    return sheet, recording_csv(test), tuple(tool for tool in rig if tool in tools.values())
