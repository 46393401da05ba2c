"""A page with nothing but traces, on loopback, for tests and the bench of the charts."""

import contextlib
import shutil
import socket
import threading
from pathlib import Path
from uuid import UUID

import numpy as np
import uvicorn
from fastapi import FastAPI
from fastapi.responses import HTMLResponse, RedirectResponse
from fastapi.staticfiles import StaticFiles

import firstlift.web.traces
from firstlift.core.job import Measures
from firstlift.demo.case import make_demo_case
from firstlift.formats.load import read_recording
from firstlift.usecases.analyse import analyse_jobsheet
from firstlift.web.trace_points import make_track
from firstlift.web.trace_source import Shelf, Shown, shown_of
from firstlift.web.traces import trace_router

TEST_ID = UUID("5d0c1d0e-6a3c-4d56-9f0a-0b2f6f0a7c11")
STATIC = Path(firstlift.web.traces.__file__).parent / "static"
POLICY = "default-src 'self'; style-src 'self'; img-src 'self' data:; object-src 'none'; base-uri 'none'"
CHROMIUM_FLAGS = [
    "--no-sandbox",
    "--disable-gpu",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
    "--no-first-run",
]
PAGE = """<!doctype html>
<html lang="en" {look}><head><meta charset="utf-8"><title>Traces</title>
<meta name="viewport" content="width=device-width, initial-scale=1">
<link rel="icon" href="data:,"><link rel="stylesheet" href="/static/vendor/uplot.css">
<link rel="stylesheet" href="/static/app.css"><link rel="stylesheet" href="/static/charts.css">
<script src="/static/vendor/uplot.js" defer></script><script type="module" src="/static/charts.js"></script></head>
<body><main id="main"><h1>Traces</h1>
<firstlift-traces src="/traces/{test}" replay="/replay/{test}"></firstlift-traces></main></body></html>"""


def demo_shown(folder):
    """Give the demo's valve as shown: three pulls on steam."""
    sheet = make_demo_case(folder)
    analysed = analyse_jobsheet(sheet)
    recording = read_recording(analysed.recording, analysed.job)
    return shown_of(recording, analysed.job, analysed.analysis.result, str(TEST_ID))


def made_shown(*, samples, rate_hz, channels=6, seed=1):
    """Give noise and slow waves, as many samples as asked, with one spike a channel."""
    rng = np.random.default_rng(seed)
    time_s = np.arange(samples) / rate_hz
    tracks = []
    for i, measures in enumerate(tuple(Measures)[:channels]):
        values = np.sin(time_s * (0.7 + 0.2 * i)) + rng.normal(0.0, 0.05, samples)
        values[samples // (i + 2)] = 9.0
        tracks.append(make_track(f"ch{i}", str(measures), "V", time_s, values, samples))
    to_s = float(time_s[-1])
    about = {
        "test": str(TEST_ID),
        "tag": "made",
        "from_s": 0.0,
        "to_s": to_s,
        "channels": [
            {
                "label": t.label,
                "measures": t.measures,
                "unit": t.unit,
                "samples": samples,
                "rate_hz": rate_hz,
                "together": False,
                "lifts": [],
            }
            for t in tracks
        ],
        "pulls": [],
    }
    return Shown(tuple(tracks), 0.0, to_s, about)


def anyone():
    """Let everybody see and listen."""


def never_read():
    raise AssertionError("what is on the shelf is not read again")


def make_app(shown, *, may_see=anyone, may_listen=anyone, read=never_read):
    shelf = Shelf()
    if shown is not None:
        shelf.shown(TEST_ID, lambda: shown)
    app = FastAPI()
    app.include_router(trace_router(read, may_see=may_see, may_listen=may_listen, shelf=shelf))
    app.mount("/static", StaticFiles(directory=STATIC))

    @app.middleware("http")
    async def guarded(request, following):
        response = await following(request)
        response.headers["Content-Security-Policy"] = POLICY
        return response

    @app.get("/gone")
    def gone():
        return RedirectResponse("/", 303)  # as the app does where nobody is signed in

    @app.get("/", response_class=HTMLResponse)
    def page(look: str = ""):
        return PAGE.format(test=TEST_ID, look=f'data-look="{look}"' if look in ("day", "night", "contrast") else "")

    return app


@contextlib.contextmanager
def served(app):
    """Serve an app on a free port of loopback; give its address."""
    with socket.socket() as free:
        free.bind(("127.0.0.1", 0))
        port = free.getsockname()[1]
    server = uvicorn.Server(
        uvicorn.Config(app, host="127.0.0.1", port=port, log_level="error", ws="websockets-sansio", lifespan="off")
    )
    thread = threading.Thread(target=server.run, daemon=True)
    thread.start()
    try:
        while not server.started:
            thread.join(0.02)
            if not thread.is_alive():
                raise RuntimeError("the server did not start")
        yield f"http://127.0.0.1:{port}"
    finally:
        server.should_exit = True
        thread.join(10.0)


@contextlib.contextmanager
def chromium():
    """Start Debian's Chromium."""
    from playwright.sync_api import sync_playwright

    with sync_playwright() as play:
        browser = play.chromium.launch(executable_path=shutil.which("chromium"), args=CHROMIUM_FLAGS)
        try:
            yield browser
        finally:
            browser.close()
