"""How long the server takes for each screen of a large register, and how heavy the first page is."""

from __future__ import annotations

import contextlib
import itertools
import random
import re
import sys
import tempfile
import threading
import time
import uuid
from collections.abc import Callable, Iterator
from pathlib import Path

import httpx
import uvicorn

from bench.busy import CELL, PAPER, PLANNER, VISIT, add_busy_years
from bench.register import _AT, _fill, _valve_id
from firstlift.core.register.equipment import RegisteredValve
from firstlift.core.register.places import Site
from firstlift.core.register.work import ValveTest
from firstlift.store.open import DATABASE, Store, create_store, open_store
from firstlift.web.app import create_app
from firstlift.web.settings import Settings

_ASKED, _ASKED_QUICK = 40, 12


def screen_figures(*, valves: int, quick: bool, kept: Path | None = None) -> dict[str, float]:
    """Fill a register, serve it on loopback and ask for every screen.

    Parameters
    ----------
    valves : int
        Each with ten tests.
    quick : bool
    kept : Path or None
        Where a register of that size is kept for the next run; made there the first time.

    Returns
    -------
    dict
        ``screen_p95_ms``: 95th percentile, screen by screen, of the slowest screen; ``screen_NAME_p95_ms`` each;
        ``screen_processor_p95_ms`` and ``screen_NAME_processor_p95_ms``: what both ends worked meanwhile, which is
        what a machine with nothing else to do takes;
        ``first_page_kb``: page, style and picture of the first visit; ``screen_valve_count``, ``screen_test_count``.
    """
    with tempfile.TemporaryDirectory() as name, _filled(kept or Path(name) / "register", valves) as store:
        with store.read() as reader:
            assert reader.count(RegisteredValve) == valves
            sites = [site.id for site in reader.list(Site)]
            tests = reader.count(ValveTest)
        figures = _asked(store, Path(name), valves, sites, _ASKED_QUICK if quick else _ASKED)
    return figures | {"screen_test_count": float(tests)}


@contextlib.contextmanager
def _filled(folder: Path, valves: int) -> Iterator[Store]:
    """Open the register that is there, else make it."""
    if (folder / DATABASE).exists():
        store = open_store(folder)
    else:
        store = create_store(folder, store_id=uuid.UUID(int=1), at=_AT)
        sites = _fill(store, valves, random.Random(11))
        add_busy_years(store, [_valve_id(number) for number in range(valves)], sites, at=_AT)
        with store.writer.connect() as connection:
            connection.exec_driver_sql("ANALYZE")
            connection.commit()
    try:
        yield store
    finally:
        store.close()


def _asked(store: Store, folder: Path, valves: int, sites: list[uuid.UUID], times: int) -> dict[str, float]:
    app = create_app(store, Settings(folder / "accounts.sqlite"))
    server = uvicorn.Server(uvicorn.Config(app, port=0, log_level="error", lifespan="off"))
    thread = threading.Thread(target=server.run, daemon=True)
    thread.start()
    while not server.started:
        time.sleep(0.01)
    address = f"http://127.0.0.1:{server.servers[0].sockets[0].getsockname()[1]}"
    try:
        with httpx.Client(base_url=address, follow_redirects=True, timeout=60) as client:
            page = client.get("/who")
            token = re.search(r'name="csrf" value="([^"]+)"', page.text)
            assert token
            first = client.post("/who", data={"csrf": token.group(1), "person": str(PLANNER)})
            assert "overdue" in first.text
            figures = _times(client, valves, sites, times)
            figures["first_page_kb"] = round(_weight(client, first.text) / 1e3, 1)
    finally:
        server.should_exit = True
        thread.join(10)
    return figures | {"screen_valve_count": float(valves)}


def _times(client: httpx.Client, valves: int, sites: list[uuid.UUID], times: int) -> dict[str, float]:
    rng = random.Random(7)
    screens = _screens(valves, sites, rng)
    figures: dict[str, float] = {}
    for name, address in screens.items():
        spent: list[float] = []
        worked: list[float] = []
        for _ in range(times):
            asked, start, began = address(), time.perf_counter(), time.process_time()
            answer = client.get(asked)
            spent.append(time.perf_counter() - start)
            worked.append(time.process_time() - began)
            assert answer.status_code == 200, asked
            assert "<h1" in answer.text or name == "search"
        figures[f"screen_{name}_processor_p95_ms"] = _p95_ms(worked)
        figures[f"screen_{name}_p95_ms"] = _p95_ms(spent)
        told = (
            f"{figures[f'screen_{name}_p95_ms']} ms, of the processor {figures[f'screen_{name}_processor_p95_ms']} ms"
        )
        print(f"{name}: p95 {told}", file=sys.stderr, flush=True)
    of_processor = {key for key in figures if key.endswith("_processor_p95_ms")}
    return figures | {
        "screen_p95_ms": max(figures[key] for key in figures.keys() - of_processor),
        "screen_processor_p95_ms": max(figures[key] for key in of_processor),
    }


def _p95_ms(seconds: list[float]) -> float:
    return round(sorted(seconds)[int(0.95 * (len(seconds) - 1))] * 1e3, 1)


def _screens(valves: int, sites: list[uuid.UUID], rng: random.Random) -> dict[str, Callable[[], str]]:
    """Give an address of each screen, another one each time where there are many."""

    def valve() -> uuid.UUID:
        return _valve_id(rng.randrange(1, valves))

    turn = itertools.count()
    papers = max(20, valves // 5)
    return {
        "today": lambda: "/",
        "register": lambda: f"/register?page={rng.randrange(1, max(2, valves // 50))}",
        "search": lambda: f"/register?q=PSV-{rng.randrange(valves):06d}"[:-2],
        "verdict": lambda: f"/register?verdict=undecided&page={1 + next(turn) % max(1, valves // 2000)}",
        "site": lambda: f"/register?site={rng.choice(sites)}&due=90",
        "valve": lambda: f"/valves/{valve()}",
        "long_life": lambda: f"/valves/{_valve_id(0)}",
        "plan": lambda: f"/valves/{_valve_id(0)}/plan?line=20+bar",
        "hazard": lambda: f"/valves/{_valve_id(0)}/hazard?bore=28+mm&fluid=Nitrogen&temperature=20+degC",
        "test": lambda: f"/tests/{uuid.UUID(int=valve().int + 9 + rng.randrange(10))}",
        "fleet": lambda: "/fleet",
        "visits": lambda: "/visits",
        "visit": lambda: f"/visits/{uuid.UUID(int=VISIT.int + rng.randrange(10))}",
        "visit_new": lambda: f"/visits/new?site={rng.choice(sites)}",
        "papers": lambda: f"/papers?page={rng.randrange(1, max(2, papers // 50))}",
        "paper": lambda: f"/papers/{PAPER}",
        "instruments": lambda: "/instruments",
        "instrument": lambda: f"/instruments/{CELL}",
        "import": lambda: f"/import?visit={VISIT}",
        "pocket": lambda: "/pocket?line=8+bar&pull=141+N&seat=30+mm&set=10+bar",
        "people": lambda: "/people",
        "settings": lambda: "/settings",
    }


def _weight(client: httpx.Client, page: str) -> int:
    """Weigh a page with everything it brings from this server."""
    brought = set(re.findall(r'(?:src|href)="(/static/[^"]+)"', page))
    return len(page.encode()) + sum(len(client.get(path).content) for path in brought)
