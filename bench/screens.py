"""How long the server takes for each screen of a large register, and how heavy the first page is."""

from __future__ import annotations

import random
import re
import sys
import tempfile
import threading
import time
import uuid
from pathlib import Path

import httpx
import uvicorn

from bench.register import _AT, _fill, _valve_id
from firstlift.core.register.codec import new_person
from firstlift.core.register.people import Person, PersonalDetails
from firstlift.store.open import Store, create_store
from firstlift.web.app import create_app
from firstlift.web.settings import Settings

_ASKED, _ASKED_QUICK = 40, 12


def screen_figures(*, valves: int, quick: bool) -> dict[str, float]:
    """Fill a register, serve it on loopback and ask for every screen.

    Parameters
    ----------
    valves : int
        Each with ten tests.
    quick : bool

    Returns
    -------
    dict
        ``screen_p95_ms``: 95th percentile, screen by screen, of the slowest screen; ``screen_NAME_p95_ms`` each;
        ``first_page_kb``: page, style and picture of the first visit; ``screen_valve_count``.
    """
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        store = create_store(folder / "register", store_id=uuid.UUID(int=1), at=_AT)
        person = new_person(Person(uuid.UUID(int=5), "planner"), PersonalDetails("salt", "Hob Driftwood (invented)"))
        sites = _fill(store, valves, random.Random(11))
        with store.work(at=_AT, who="program:bench") as work:
            work.add(person)
        with store.writer.connect() as connection:
            connection.exec_driver_sql("ANALYZE")
            connection.commit()
        try:
            return _asked(store, folder, valves, sites, _ASKED_QUICK if quick else _ASKED)
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
            first = client.post("/who", data={"csrf": token.group(1), "person": str(uuid.UUID(int=5))})
            assert "overdue" in first.text
            figures = _times(client, valves, sites, times)
            figures["first_page_kb"] = round(_weight(client, first.text) / 1e3, 1)
    finally:
        server.should_exit = True
        thread.join(10)
    return figures | {"screen_valve_count": float(valves)}


def _times(client: httpx.Client, valves: int, sites: list[uuid.UUID], times: int) -> dict[str, float]:
    rng = random.Random(7)
    screens = {
        "today": lambda: "/",
        "register": lambda: f"/register?page={rng.randrange(1, max(2, valves // 50))}",
        "search": lambda: f"/register?q=PSV-{rng.randrange(valves):06d}"[:-2],
        "site": lambda: f"/register?site={rng.choice(sites)}&due=90",
        "valve": lambda: f"/valves/{_valve_id(rng.randrange(valves))}",
        "fleet": lambda: "/fleet",
        "visit": lambda: f"/visits/new?site={rng.choice(sites)}",
    }
    figures: dict[str, float] = {}
    for name, address in screens.items():
        spent: list[float] = []
        for _ in range(times):
            asked, start = address(), time.perf_counter()
            answer = client.get(asked)
            spent.append(time.perf_counter() - start)
            assert answer.status_code == 200, asked
            assert "<h1" in answer.text
        figures[f"screen_{name}_p95_ms"] = round(sorted(spent)[int(0.95 * (times - 1))] * 1e3, 1)
        print(f"{name}: p95 {figures[f'screen_{name}_p95_ms']} ms", file=sys.stderr, flush=True)
    return figures | {"screen_p95_ms": max(figures.values())}


def _weight(client: httpx.Client, page: str) -> int:
    """Weigh a page with everything it brings from this server."""
    brought = set(re.findall(r'(?:src|href)="(/static/[^"]+)"', page))
    return len(page.encode()) + sum(len(client.get(path).content) for path in brought)
