"""Build the invented register into a store, visit by visit, as it would have grown."""

from __future__ import annotations

import datetime as dt
import shutil
import tempfile
from collections.abc import Callable
from pathlib import Path
from typing import Any
from zoneinfo import ZoneInfo

from firstlift.core.errors import FirstliftError, Problem
from firstlift.core.job import Purpose
from firstlift.core.register.work import HowTested, ValveTest
from firstlift.demo.register.crew import RIGS, Crew, draw_crew
from firstlift.demo.register.draw import Draw, at_work
from firstlift.demo.register.plant import Plant, Truth, draw_plant
from firstlift.demo.register.visits import Campaign, plan_visit, work_through
from firstlift.store.open import Store, create_store

YEARS = 6
_RECORDED_YEARS = 2

Progress = Callable[[float, int], None]


def make_demo_register(folder: Path, *, seed: int = 3, today: dt.date, progress: Progress | None = None) -> None:
    """Make the invented register in a folder: whole, or not at all.

    Parameters
    ----------
    folder : Path
        Not there yet, or empty.
    seed : int
        Same seed and same day: the same register.
    today : date
        The register's last visits lie shortly before.
    progress : callable, optional
        Called with the share done and the visits done.

    Raises
    ------
    FirstliftError
        DEM-002 the folder holds something already; DEM-003 it cannot be made.
    """
    beside = None
    try:
        if folder.exists() and (not folder.is_dir() or any(folder.iterdir())):
            what = "there is something already where the demo's register is to go"
            raise FirstliftError(Problem("DEM-002", what, str(folder), "a folder that is new or empty"))
        folder.parent.mkdir(parents=True, exist_ok=True)
        beside = Path(tempfile.mkdtemp(prefix=f".{folder.name}.", dir=folder.parent))
        fill_demo_register(beside / "made", seed=seed, today=today, progress=progress).close()
        if folder.exists():
            folder.rmdir()
        (beside / "made").rename(folder)
    except OSError as error:
        reason = error.strerror or str(error)
        raise FirstliftError(
            Problem("DEM-003", f"the demo's register cannot be made: {reason}", str(folder), "a folder to write to")
        ) from error
    finally:
        if beside is not None:
            shutil.rmtree(beside, ignore_errors=True)


def fill_demo_register(
    folder: Path, *, seed: int = 3, today: dt.date, size: float = 1.0, progress: Progress | None = None
) -> Store:
    """Make a store and fill it with the invented register, visit by visit.

    Parameters
    ----------
    folder : Path
        Where the store goes; there must be none yet.
    seed : int
        Same seed and same day: the same register, entry by entry and hash by hash.
    today : date
    size : float
        Share of the full register, above 0 to 1.
    progress : callable, optional

    Returns
    -------
    Store
        Open; close it after use.

    Raises
    ------
    FirstliftError
        STO-003 there is a store already, STO-004 the folder cannot be made.
    """
    draw = Draw(seed)
    start = today - dt.timedelta(days=round(365.25 * YEARS) + 60)
    store = create_store(folder, store_id=draw.new_id(), at=at_work(start, "UTC"))
    try:
        plant, crew = draw_plant(draw, start, size), draw_crew(draw, start, today)
        _begin(draw, store, plant, crew, start)
        calendar = _calendar(draw, plant, today)
        for number, (day, index) in enumerate(calendar, start=1):
            _visit(draw, store, plant, crew, day, (index, number), today)
            if progress is not None:
                progress(number / len(calendar), number)
        _calibrations_until(store, crew, today)
    except BaseException:
        store.close()
        raise
    return store


def _begin(draw: Draw, store: Store, plant: Plant, crew: Crew, start: dt.date) -> None:
    """Enter what there was, with each valve's last test as the owner's list told it."""
    zones = {site.id: site.zone for site in plant.sites}
    with store.work(at=at_work(start, "UTC"), who="program:demo") as work:
        work.add_all(plant.entries)
        work.add_all(crew.entries)
        for truth in plant.truths:
            work.add(_carried_over(draw, truth, start, zones[truth.position.site_id] if truth.position else "UTC"))


def _carried_over(draw: Draw, truth: Truth, start: dt.date, zone: str) -> ValveTest:
    assert truth.position is not None
    assert truth.installation is not None
    earliest = max(truth.installation.since, start - dt.timedelta(days=30 * truth.months))
    day = earliest + dt.timedelta(days=draw.whole(0, max((start - earliest).days - 20, 0)))
    truth.last = day
    good = draw.chance(0.93)
    return ValveTest(
        draw.new_id(), truth.valve.id, HowTested.BENCH, Purpose.AS_FOUND, at_work(day, zone, 12.0), zone, day,
        truth.position.id, verdict="within" if good else "outside", disposition="fit" if good else "unfit",
        note="carried over from the owner's list: more is not known",
    )  # fmt: skip


def _calendar(draw: Draw, plant: Plant, today: dt.date) -> list[tuple[dt.date, int]]:
    """Plan two visits a year at each site, the last ones some weeks ago."""
    days: list[tuple[dt.date, int]] = []
    for index in range(len(plant.sites)):
        last = today - dt.timedelta(days=35 + 45 * index + draw.whole(0, 20))
        halves = range(2 * YEARS)
        days += [(last - dt.timedelta(days=182 * half + draw.whole(0, 12)), index) for half in halves]
    return sorted(days)


def _visit(
    draw: Draw, store: Store, plant: Plant, crew: Crew, day: dt.date, which: tuple[int, int], today: dt.date
) -> None:
    index, number = which
    site = plant.sites[index]
    _calibrations_until(store, crew, day)
    visit = plan_visit(draw, plant, crew, site, day, number)
    finish = visit.finish or day
    closed = dt.datetime.combine(finish, dt.time(19), tzinfo=ZoneInfo(site.zone))
    with store.work(at=closed, who=str(visit.people[0])) as work:
        recorded = (today - day).days < 366 * _RECORDED_YEARS
        work_through(Campaign(draw, work, plant, crew, site, visit, crew.rigs[index % RIGS], recorded))


def _calibrations_until(store: Store, crew: Crew, day: dt.date) -> None:
    """Enter the calibrations that came in by a day."""
    came: list[Any] = [one for one in crew.later if one.date <= day]
    if not came:
        return
    crew.later = crew.later[len(came) :]
    planner = crew.who("planner")[0]
    with store.work(at=at_work(day, "UTC", 6.0), who=str(planner.id)) as work:
        work.add_all(came)
