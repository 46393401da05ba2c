"""A valve's pulls of several tests laid over each other: opening load against lift, out of the kept recordings."""

from __future__ import annotations

import datetime as dt
import tempfile
from dataclasses import dataclass, replace
from pathlib import Path
from uuid import UUID

import numpy as np
import sqlalchemy as sa

from firstlift.core.job import Job
from firstlift.core.line import line_pressure
from firstlift.core.recording import Floats
from firstlift.core.register.work import ValveTest
from firstlift.core.result import Pull
from firstlift.core.signal.condition import Signal, Signals, condition
from firstlift.formats.jobsheet import parse_jobsheet
from firstlift.formats.load import read_recording
from firstlift.formats.sheet_write import write_sheet
from firstlift.store.files import write_kept
from firstlift.store.read import Reader
from firstlift.store.tables import TABLES
from firstlift.usecases.register.analyse import kept_document, seat_of_test

# means over stretches: enough to see the bend, few enough to send
_POINTS = 240
_SLACK_S = 0.3


@dataclass(frozen=True, slots=True, eq=False)
class Loop:
    """One pull of one test on its way up: lift from rest, [m], and line pressure plus pull over area, [Pa gauge]."""

    test: ValveTest
    pull: int
    lift_m: Floats
    load_pa: Floats

    @property
    def day(self) -> dt.date:
        """Of the test."""
        return self.test.day


def comparable(reader: Reader, test: ValveTest, *, most: int = 4) -> list[ValveTest]:
    """Give the tests whose pulls can be laid over those of a test: with a recording and a pull that lifted.

    Parameters
    ----------
    reader : Reader
    test : ValveTest
    most : int
        Of the others, the nearest before it.

    Returns
    -------
    list of ValveTest
        Oldest first, the test itself last; empty where it has no such pull itself, or where it stands alone.
    """
    if not _lifted(test):
        return []
    before: list[ValveTest] = []
    for row in _recorded(reader, test):
        each = reader.get(ValveTest, row)
        if each.at <= test.at and _lifted(each):
            before.insert(0, each)
        if len(before) == most:
            break
    return [*before, test] if before else []


def _recorded(reader: Reader, test: ValveTest) -> list[UUID]:
    """Give the valve's other tests that keep a recording and stand, the latest first; no result is read for it."""
    table = TABLES["valve_test"]
    columns = (table.c.id, table.c.supersedes, table.c.recording_sha256)
    query = sa.select(*columns).where(table.c.valve_id == test.valve_id).order_by(table.c.at.desc(), table.c.id.desc())
    rows = reader.connection.execute(query).all()
    away = {row.supersedes for row in rows} | {test.id, test.supersedes}
    return [row.id for row in rows if row.recording_sha256 and row.id not in away]


def _lifted(test: ValveTest) -> Pull | None:
    """Give the pull that stands for a test: the first that counts as found, the last as left."""
    if test.result is None or not test.recording_sha256 or not test.sheet_sha256:
        return None
    pulls = [pull for pull in test.result.pulls if pull.accepted and pull.first_lift_s is not None]
    return (pulls[0] if test.result.as_left is None else pulls[-1]) if pulls else None


def loops_of(reader: Reader, tests: list[ValveTest]) -> list[Loop]:
    """Read the pulls to lay over each other.

    Parameters
    ----------
    reader : Reader
    tests : list of ValveTest
        As `comparable` gives them.

    Returns
    -------
    list of Loop
        Without tests whose recording holds no lift.

    Raises
    ------
    FirstliftError
        STO-010, STO-011 a kept file is missing or damaged.
    """
    found: list[Loop] = []
    for test in tests:
        pull = _lifted(test)
        loop = None if pull is None else _loop(reader, test, pull)
        if loop is not None:
            found.append(loop)
    return found


def _loop(reader: Reader, test: ValveTest, pull: Pull) -> Loop | None:
    job = parse_jobsheet(write_sheet(kept_document(reader, test)).encode(), where=f"job sheet of test {test.id}")
    job = replace(job, seat=seat_of_test(reader, test, job))
    with tempfile.TemporaryDirectory(prefix="firstlift-") as name:
        file = Path(name) / Path(job.recording.file).name
        write_kept(reader.folder, test.recording_sha256, file)
        signals = condition(read_recording(file, job), job)
    curve = rise_of(signals, job, pull)
    return None if curve is None else Loop(test, pull.number, *curve)


def rise_of(signals: Signals, job: Job, pull: Pull) -> tuple[Floats, Floats] | None:
    """Give a pull's way up, from slack to the largest force: lift from rest, and the opening load.

    Parameters
    ----------
    signals : Signals
    job : Job
    pull : Pull

    Returns
    -------
    lift_m, load_pa : ndarray (n,), [m], [Pa gauge]
        Means over stretches of the pull; None where force, lift or line pressure are missing.
    """
    force, lift, start, end = signals.force, signals.lift, pull.start_s, pull.end_s
    if force is None or lift is None or start is None or end is None:
        return None
    pulled = force.part(start, end)
    if pulled.value.size < 2:
        return None
    top = float(pulled.time_s[int(np.argmax(pulled.value))])
    edges = np.linspace(start, top, _POINTS + 1)
    middle = 0.5 * (edges[:-1] + edges[1:])
    ways = [_means(signal.part(start - _SLACK_S, top), edges, start) for signal in (force, lift)]
    line, _ = line_pressure(signals, job, middle)
    load = line + (ways[0] - job.weight_on_spindle_n) / job.seat.area_m2
    known = np.isfinite(load) & np.isfinite(ways[1])
    return (ways[1][known], load[known]) if int(known.sum()) > 2 else None


def _means(part: Signal, edges: Floats, start_s: float) -> Floats:
    """Average a channel over stretches, from its own slack; NaN where a stretch holds no sample."""
    slack = part.value[part.time_s < start_s]
    ground = float(np.median(slack)) if slack.size else 0.0
    index = np.searchsorted(part.time_s, edges)
    size = np.diff(index)
    with np.errstate(invalid="ignore"):
        return np.where(size > 0, part.means(index, np.maximum(size, 1)) - ground, np.nan)
