"""The register under load: four questions on both engines, beside the bare SQL of the same question.

Full: 100,000 valves and 1,000,000 tests. Every answer is compared with that of the bare SQL before its time counts.
"""

from __future__ import annotations

import argparse
import contextlib
import dataclasses
import datetime as dt
import random
import statistics
import sys
import tempfile
import time
import uuid
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

from bench.postgres import started
from bench.sheet_import import import_figures
from firstlift.core.job import Purpose
from firstlift.core.register.equipment import Installation, RegisteredValve
from firstlift.core.register.places import Interval, Owner, Position, Site
from firstlift.core.register.work import HowTested, ValveTest
from firstlift.core.units import Kind, parse_quantity
from firstlift.core.valve import Medium
from firstlift.store.history import past_tests
from firstlift.store.open import Store, create_store
from firstlift.store.search import Wanted, due_list, search, site_summary

_AT = dt.datetime(2026, 6, 1, 12, tzinfo=dt.UTC)
_TODAY = dt.date(2026, 6, 1)
_SITES = 50
_TESTS_EACH = 10
_VALVES_A_UNIT = 2000
_MEDIA = tuple(Medium)

SEARCH = """
SELECT s.valve_id, v.serial, v.set_pressure, o.name, p.tag, t.name, s.due, s.last_day, s.last_verdict
FROM standing s JOIN valve v ON v.id = s.valve_id JOIN owner o ON o.id = s.owner_id
LEFT JOIN position p ON p.id = s.position_id LEFT JOIN site t ON t.id = s.site_id
WHERE s.tag_key >= {0} AND s.tag_key < {0} ORDER BY s.tag_key, s.valve_id LIMIT 50
"""
DUE = """
SELECT s.valve_id, v.serial, v.set_pressure, o.name, p.tag, t.name, s.due, s.last_day, s.last_verdict
FROM standing s JOIN valve v ON v.id = s.valve_id JOIN owner o ON o.id = s.owner_id
LEFT JOIN position p ON p.id = s.position_id LEFT JOIN site t ON t.id = s.site_id
WHERE s.active = {0} AND s.due <= {0} ORDER BY s.due, s.valve_id LIMIT 100
"""
HISTORY = """
SELECT t.id, t.kind, t.purpose, t.at, t.day, t.verdict, t.set_pressure_pa, t.expanded_uncertainty_pa,
       v.serial, p.tag, l.id
FROM valve_test t JOIN valve v ON v.id = t.valve_id LEFT JOIN position p ON p.id = t.position_id
LEFT JOIN valve_test l ON l.valve_id = t.valve_id AND l.supersedes = t.id
WHERE t.valve_id = {0} ORDER BY t.at DESC, t.id DESC LIMIT 200
"""
SUMMARY = """
SELECT coalesce(last_verdict, ''), count(*), sum(CASE WHEN due < {0} THEN 1 ELSE 0 END)
FROM standing WHERE site_id = {0} AND active = {0} GROUP BY 1
"""


def add_options(parser: argparse.ArgumentParser) -> None:
    """Add what only this benchmark takes."""
    parser.add_argument("--valves", type=int, help="valves on each engine, each with ten tests")
    parser.add_argument("--no-import", action="store_true", help="leave out the import of a spreadsheet")


def run(options: argparse.Namespace) -> dict[str, Any]:
    """Fill, ask, compare on both engines; then the import."""
    valves = options.valves or (1500 if options.quick else 100_000)
    asked = 60 if options.quick else 400
    figures: dict[str, Any] = {}
    with tempfile.TemporaryDirectory() as name:
        store = create_store(Path(name) / "register", store_id=uuid.UUID(int=1), at=_AT)
        figures |= _engine_figures("sqlite", store, valves, asked, mark="?")
        store.close()
    with started() as url, tempfile.TemporaryDirectory() as name:
        store = create_store(url, store_id=uuid.UUID(int=1), at=_AT, folder=Path(name))
        figures |= _engine_figures("postgres", store, valves, asked, mark="%s")
        store.close()
    if not options.no_import:
        figures |= import_figures(2000 if options.quick else 50_000)
    return figures


def _engine_figures(engine: str, store: Store, valves: int, asked: int, *, mark: str) -> dict[str, Any]:
    rng = random.Random(11)
    start = time.perf_counter()
    sites = _fill(store, valves, rng)
    spent = time.perf_counter() - start
    with store.read() as reader:
        counts = {kind: reader.count(kind) for kind in (RegisteredValve, ValveTest)}
    figures: dict[str, Any] = {
        f"{engine}_valve_count": counts[RegisteredValve],
        f"{engine}_test_count": counts[ValveTest],
        f"{engine}_fill_s": round(spent, 1),
    }
    with store.writer.connect() as connection:
        connection.exec_driver_sql("ANALYZE")
        connection.commit()
    for question, ours, bare in _questions(store, valves, sites, rng, mark):
        times = _measure(ours, bare, asked, question)
        own, other = (_p95(each) * 1e3 for each in times)
        figures[f"{engine}_{question}_p95_ms"] = round(own, 3)
        figures[f"{engine}_{question}_bare_p95_ms"] = round(other, 3)
        medians = [statistics.median(each) for each in times]
        figures[f"{engine}_{question}_over_bare_ratio"] = round(medians[0] / medians[1], 2)
        print(f"{engine} {question}: p95 {own:.2f} ms, bare {other:.2f} ms", file=sys.stderr, flush=True)
    return figures


def _fill(store: Store, valves: int, rng: random.Random) -> list[uuid.UUID]:
    """Fill a register through its own units of work."""
    owner = Owner(uuid.UUID(int=10), "Marrow Bay Energy")
    sites = [Site(uuid.UUID(int=100 + n), owner.id, f"site {n}", "Europe/London") for n in range(_SITES)]
    with store.work(at=_AT, who="program:bench") as work:
        work.add_all([owner, *sites])
    for first in range(0, valves, _VALVES_A_UNIT):
        with store.work(at=_AT, who="program:bench") as work:
            numbers = range(first, min(valves, first + _VALVES_A_UNIT))
            sets = [_entries_of(number, owner, sites, rng) for number in numbers]
            for kind in zip(*sets, strict=True):
                work.add_all(entry for part in kind for entry in part)
        print(f"filled {first + _VALVES_A_UNIT} valves", file=sys.stderr, flush=True)
    return [site.id for site in sites]


def _entries_of(number: int, owner: Owner, sites: list[Site], rng: random.Random) -> list[list[Any]]:
    base = 10_000_000 + number * 100
    site = sites[number % _SITES]
    position = Position(
        uuid.UUID(int=base), site.id, f"PSV-{number:06d}", _MEDIA[number % 3], f"unit {number // 50 % 20}"
    )
    bar = f"{rng.uniform(2.0, 60.0):.1f} bar"
    valve = RegisteredValve(_valve_id(number), owner.id, f"S{number:07d}", parse_quantity(bar, Kind.PRESSURE))
    hangs = Installation(uuid.UUID(int=base + 2), valve.id, position.id, dt.date(2010, 1, 1))
    interval = Interval(uuid.UUID(int=base + 3), position.id, rng.choice((12, 24, 36)), dt.date(2010, 1, 1))
    tests = []
    for turn in range(_TESTS_EACH):
        day = dt.date(2012 + turn, 1, 1) + dt.timedelta(days=rng.randrange(365))
        at = dt.datetime.combine(day, dt.time(12), dt.UTC)
        verdict = rng.choices(("within", "outside", "undecided"), (90, 7, 3))[0]
        test = ValveTest(
            uuid.UUID(int=base + 10 + turn), valve.id, HowTested.PULL, Purpose.AS_FOUND, at, site.zone, day, position.id
        )
        judged = {"verdict": verdict, "disposition": "fit", "set_pressure_pa": rng.uniform(2e5, 6e6)}
        tests.append(dataclasses.replace(test, **judged, expanded_uncertainty_pa=1e4))
    return [[position], [valve], [hangs], [interval], tests]


def _valve_id(number: int) -> uuid.UUID:
    return uuid.UUID(int=10_000_000 + number * 100 + 1)


def _questions(
    store: Store, valves: int, sites: list[uuid.UUID], rng: random.Random, mark: str
) -> Iterator[tuple[str, Callable[[], tuple[list[str], float]], Callable[[], tuple[list[str], float]]]]:
    """Give each question twice: by the register, and as bare SQL on the driver itself, with one argument a turn."""
    ident = str if mark == "%s" else lambda value: value.hex

    def pair(ours: Callable[[Any], list[str]], sql: str, values: Callable[[Any], tuple[Any, ...]], draw: Any) -> Any:
        turn: dict[str, Any] = {}

        def by_register() -> tuple[list[str], float]:
            turn["asked"] = draw()
            start = time.perf_counter()
            rows = ours(turn["asked"])
            return rows, time.perf_counter() - start

        def by_hand() -> tuple[list[str], float]:
            return _bare(store, sql.format(mark), values(turn["asked"]))

        return by_register, by_hand

    def prefix() -> str:
        """Give the beginning that a hundred tags share."""
        return f"psv-{rng.randrange(valves):06d}"[:-2]

    date = str if mark == "?" else lambda day: day
    yes = 1 if mark == "?" else True
    yield (
        "search",
        *pair(
            lambda tag: _ids(store, search, Wanted(tag=tag), 50), SEARCH, lambda tag: (tag, tag + "\U0010ffff"), prefix
        ),
    )
    yield (
        "due",
        *pair(
            lambda day: _ids(store, due_list, Wanted(due_by=day), 100),
            DUE,
            lambda day: (yes, date(day)),
            lambda: _TODAY + dt.timedelta(days=rng.randrange(-400, 400)),
        ),
    )
    yield (
        "history",
        *pair(
            lambda valve: _history(store, valve),
            HISTORY,
            lambda valve: (ident(valve),),
            lambda: _valve_id(rng.randrange(valves)),
        ),
    )
    yield (
        "summary",
        *pair(
            lambda site: _summary(store, site),
            SUMMARY,
            lambda site: (date(_TODAY), ident(site), yes),
            lambda: rng.choice(sites),
        ),
    )


def _ids(store: Store, ask: Any, wanted: Wanted, limit: int) -> list[str]:
    with store.read() as reader:
        return [line.valve_id.hex for line in ask(reader, wanted, limit=limit)]


def _history(store: Store, valve: uuid.UUID) -> list[str]:
    with store.read() as reader:
        return [test.id.hex for test in past_tests(reader, valve_id=valve)]


def _summary(store: Store, site: uuid.UUID) -> list[str]:
    with store.read() as reader:
        return sorted(site_summary(reader, site, on=_TODAY).verdicts)


def _bare(store: Store, sql: str, values: tuple[Any, ...]) -> tuple[list[str], float]:
    """Ask the driver itself, on a connection that is open already."""
    with contextlib.closing(store.reader.raw_connection()) as connection:
        cursor = connection.cursor()
        start = time.perf_counter()
        cursor.execute(sql, values)
        rows = cursor.fetchall()
        spent = time.perf_counter() - start
        cursor.close()
        connection.rollback()
    firsts = [row[0].hex if isinstance(row[0], uuid.UUID) else str(row[0]) for row in rows]
    return (sorted(firsts) if "GROUP BY" in sql else firsts), spent


def _measure(ours: Any, bare: Any, asked: int, question: str) -> tuple[list[float], list[float]]:
    own: list[float] = []
    other: list[float] = []
    rows = 0
    for turn in range(asked + 10):
        answer, spent = ours()
        expected, bare_spent = bare()
        if answer != expected:
            sys.exit(f"{question}: the register's answer is not that of the bare SQL")
        rows += len(answer)
        if turn >= 10:  # the first few warm the engine's and the drivers' memories
            own.append(spent)
            other.append(bare_spent)
    if not rows:
        sys.exit(f"{question}: nothing was found: its time says nothing")
    return own, other


def _p95(times: list[float]) -> float:
    return sorted(times)[max(0, round(0.95 * len(times)) - 1)]
