"""Take the pictures of the app's screens in docs/screens, on the invented register.

Run as ``python tools/screens.py``; needs Debian's chromium and the `dev` extra.
"""

from __future__ import annotations

import datetime as dt
import shutil
import sys
import tempfile
import threading
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import uvicorn
from playwright.sync_api import Browser, sync_playwright

from firstlift.core.register.work import HowTested, SiteVisit, ValveTest
from firstlift.demo.register.build import fill_demo_register
from firstlift.store.open import Store, open_store
from firstlift.web.app import create_app
from firstlift.web.settings import Settings

TODAY = dt.date(2026, 11, 25)
LAPTOP, TABLET, LARGE = (1280, 800), (820, 1180), (1920, 1080)
OUT = Path(__file__).parents[1] / "docs" / "screens"

# what is typed in the forms of seat records
_MEASURED = "way=measured&look=1&inner=21,9+mm&outer=22.9&known=0.05&length=mm&tool=CAL-3"
_PULLS = "way=pulls&look=1&same=1&pressure=bar&force=N&cell=LC-11&gauge=PG-11&" + "&".join(
    f"line={line}&u_line=0.2+%25&pull={pull}&u_pull=2" for line, pull in ((6, 244), (8, 166), (10, 86))
)


def screens(store: Store) -> dict[str, str]:
    """Name the address of each screen, with one example of each kind."""
    with store.read() as reader:
        tests = reader.list(ValveTest, order=("-at",))
        test = next(t for t in tests if t.recording_sha256 and t.kind is not HowTested.BENCH)
        visit = reader.list(SiteVisit, order=("-start",))[0]
    valve = f"/valves/{test.valve_id}"
    return {
        "today": "/", "visits": "/visits", "visit": f"/visits/{visit.id}", "register": "/register?q=10",
        "valve": valve, "seats": f"{valve}/seats", "seat-measured": f"{valve}/seats/new?{_MEASURED}",
        "seat-pulls": f"{valve}/seats/new?{_PULLS}", "seat-work": f"{valve}/seats/work?look=1&why=leaked",
        "plan": f"{valve}/plan", "hazard": f"{valve}/hazard", "review": f"/tests/{test.id}",
        "adjust": f"/tests/{test.id}/adjust", "papers": "/papers", "verify": "/verify", "import": "/import",
        "spreadsheet": "/spreadsheet", "instruments": "/instruments", "fleet": "/fleet", "dates": "/fleet/dates",
        "pocket": "/pocket?line=8+bar&pull=141&seat=30,0+mm&set=145+psi", "settings": "/settings", "people": "/people",
        "help": "/help", "deeds": "/deeds", "contacts": "/contacts", "visit-send": f"/visits/{visit.id}/send",
    }  # fmt: skip


@contextmanager
def served(store: Store, accounts: Path) -> Iterator[str]:
    """Run the app on a free port of this machine."""
    app = create_app(store, Settings(accounts, invented=True))
    server = uvicorn.Server(uvicorn.Config(app, port=0, log_level="error"))
    thread = threading.Thread(target=server.run, daemon=True)
    thread.start()
    while not server.started:
        time.sleep(0.01)
    try:
        yield f"http://127.0.0.1:{server.servers[0].sockets[0].getsockname()[1]}"
    finally:
        server.should_exit = True
        thread.join(10)


def take(browser: Browser, url: str, wanted: dict[str, str], size: tuple[int, int], **settings: str) -> None:
    """Take a picture of every screen wanted, by name; ``settings`` are chosen first."""
    page = browser.new_page(base_url=url, viewport={"width": size[0], "height": size[1]})
    page.goto("/who")
    page.get_by_role("button", name="Hob").click()
    if settings:
        page.goto("/settings")
        # by the names of fields: what was chosen for a person last may be another language
        for field, value in settings.items():
            page.locator(f"select[name={field}]").select_option(value)
        page.locator("form[action='/settings/look'] button").click()
    for name, path in wanted.items():
        page.goto(path)
        if name.startswith("review"):
            page.wait_for_selector("firstlift-traces canvas")
        if name.startswith("dates"):
            page.wait_for_selector("#answer table", timeout=120_000)
        page.wait_for_timeout(300)
        page.screenshot(path=OUT / f"{name}.jpg", type="jpeg", quality=55)
        print(name, file=sys.stderr, flush=True)
    page.close()


def draft(browser: Browser, url: str, test: str) -> str:
    """Draft a certificate as the technician does; give its address."""
    page = browser.new_page(base_url=url)
    page.goto("/who")
    page.get_by_role("button", name="Ada").click()
    page.goto(test)
    page.get_by_role("button", name="Draft the certificate").click()
    page.wait_for_url("**/papers/*")
    address = page.url.removeprefix(url)
    page.close()
    return address


def main() -> None:
    """Make the register, run the app, take the pictures."""
    shutil.rmtree(OUT, ignore_errors=True)
    OUT.mkdir(parents=True)
    with tempfile.TemporaryDirectory() as folder, sync_playwright() as playwright:
        register = Path(folder) / "register"
        fill_demo_register(register, today=TODAY, size=0.15).close()
        store = open_store(register)
        browser = playwright.chromium.launch(
            executable_path="/usr/bin/chromium", args=["--no-sandbox", "--disable-gpu"]
        )
        with served(store, register / "accounts.sqlite") as url:
            every = screens(store)
            every["paper"] = draft(browser, url, every["review"])
            take(browser, url, every, LAPTOP)
            some = {key: every[key] for key in ("today", "visit", "review", "plan", "seats", "seat-pulls")}
            take(browser, url, {f"{key}-tablet": path for key, path in some.items()}, TABLET)
            take(browser, url, {f"{key}-large": every[key] for key in ("today", "review")}, LARGE)
            for look in ("night", "contrast"):
                take(browser, url, {f"review-{look}": every["review"]}, LAPTOP, look=look)
            for language in ("de", "ar"):
                take(browser, url, {f"valve-{language}": every["valve"]}, LAPTOP, look="day", language=language)
        browser.close()
        store.close()


if __name__ == "__main__":
    main()
