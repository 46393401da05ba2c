"""How quickly traces follow a zoom, and how often they are drawn while a recording is played again.

A page with nothing but traces is served on loopback and driven by Chromium, as a person's browser would be: what is
timed is from the key to the picture, server, wire and drawing together. The answers are looked at too: the spike of
one sample in ten million must be in what is drawn.
"""

from __future__ import annotations

import contextlib
import os
import sys
from collections.abc import Iterator
from itertools import pairwise
from pathlib import Path
from typing import Any

import numpy as np
from tests.web.traces_page import chromium, made_shown, make_app, served

CHANNELS = 6
_TOLD_MINUTES = (1, 5, 10)
_STEPS = """async (count) => {
  const traces = document.querySelector("firstlift-traces");
  const took = [];
  const step = async (move) => {
    const began = performance.now();
    await move();
    await new Promise(requestAnimationFrame);
    took.push(performance.now() - began);
  };
  const each = Math.max(1, Math.floor(count / 2));
  await traces.whole();
  for (let i = 0; i < each; i++) await step(() => traces.closer());
  for (let i = 0; i < each; i++) await step(() => traces.wider());
  return took;
}"""


_HIGHEST = """() => {
  const { panels } = document.querySelector("firstlift-traces");
  return panels.map((panel) => panel.points.values.reduce((a, b) => Math.max(a, b)));
}"""


def zoom_figures(*, samples: int) -> dict[str, float]:
    """Zoom in to single samples and out again by doubling, on six channels.

    Parameters
    ----------
    samples : int
        Of each channel.

    Returns
    -------
    dict
        ``zoom_step_ms`` (median), ``zoom_step_p95_ms``, ``zoom_samples_count``.
    """
    shown = made_shown(samples=samples, rate_hz=50_000.0, channels=CHANNELS)
    steps = 2 * max(4, int(np.log2(samples / 8)))
    with _page(shown) as page:
        page.evaluate(_STEPS, steps)  # the first round pays for what is made once
        took = page.evaluate(_STEPS, steps)
        page.evaluate("document.querySelector('firstlift-traces').whole()")  # waited for: it gives a promise
        highest = page.evaluate(_HIGHEST)
    if highest != [9.0] * CHANNELS:
        raise AssertionError(f"a spike of one sample was lost on the way to the screen: {highest}")
    return {
        "zoom_step_ms": round(float(np.median(took)), 1),
        "zoom_step_p95_ms": round(float(np.percentile(took, 95)), 1),
        "zoom_samples_count": samples * CHANNELS,
    }


def live_figures(*, seconds: float) -> dict[str, float]:
    """Play a recording at its own speed, six channels of 6000 points each in the window.

    Parameters
    ----------
    seconds : float, [s]
        How long draws are counted, once the window of ten seconds is full.

    Returns
    -------
    dict
        ``live_draws_per_s`` over all, ``live_slowest_minute_draws_per_s``, ``live_points_count`` (in view at the
        end), ``live_heap_growth_mb`` (of scripts, after collecting), ``live_process_growth_mb`` (resident memory of
        the page's process), ``live_s``; and as ``live_minute_N_...`` draws, both memories and nodes of the page.
    """
    rate_hz, fill_s = 2000.0, 11.0
    shown = made_shown(samples=int((seconds + fill_s + 60.0) * rate_hz), rate_hz=rate_hz, channels=CHANNELS)
    figures: dict[str, float] = {}
    with _page(shown) as page:
        page.evaluate("document.querySelector('firstlift-traces').play()")
        page.wait_for_timeout(1000.0 * fill_s)
        looks = [_state(page)]
        for span_s in _spans(seconds):
            page.wait_for_timeout(1000.0 * span_s)
            looks.append(_state(page))
            minute = (looks[-1]["now"] - looks[0]["now"]) / 60_000.0
            print(f"{minute:.1f} min: {_told(looks)}", file=sys.stderr, flush=True)
            if round(minute) in _TOLD_MINUTES and len(looks) > round(minute):
                figures |= {f"live_minute_{minute:.0f}_{key}": value for key, value in _told(looks).items()}
    first, last = looks[0], looks[-1]
    rates = [_rate(one, other) for one, other in pairwise(looks)]
    return figures | {
        "live_draws_per_s": _rate(first, last),
        "live_slowest_minute_draws_per_s": min(rates),
        "live_points_count": int(last["points"]),
        "live_heap_growth_mb": round((last["heap"] - first["heap"]) / 1e6, 1),
        "live_process_growth_mb": round((last["process"] - first["process"]) / 1e6, 1),
        "live_s": round((last["now"] - first["now"]) / 1000.0, 1),
    }


def _spans(seconds: float) -> list[float]:
    """Cut a time into minutes, and what is left."""
    whole, rest = divmod(seconds, 60.0)
    return [60.0] * int(whole) + ([rest] if rest else [])


def _rate(one: dict[str, float], other: dict[str, float]) -> float:
    return round(1000.0 * (other["draws"] - one["draws"]) / (other["now"] - one["now"]), 1)


def _told(looks: list[dict[str, float]]) -> dict[str, float]:
    last = looks[-1]
    return {
        "draws_per_s": _rate(looks[-2], last),
        "heap_mb": round(last["heap"] / 1e6, 1),
        "process_mb": round(last["process"] / 1e6, 1),
        "node_count": int(last["nodes"]),
    }


def _state(page: Any) -> dict[str, float]:
    session = page.context.new_cdp_session(page)
    session.send("HeapProfiler.collectGarbage")
    nodes = session.send("Memory.getDOMCounters")["nodes"]
    session.detach()
    state = page.evaluate(
        """() => {
          const traces = document.querySelector("firstlift-traces");
          const points = traces.panels.reduce((sum, panel) => sum + panel.points.times.length, 0);
          return { now: performance.now(), draws: traces.draws, points, heap: performance.memory.usedJSHeapSize };
        }"""
    )
    return {**state, "nodes": nodes, "process": _renderer_bytes()}


def _renderer_bytes() -> int:
    """Give the resident memory of the largest page process below this one; 0 where the system does not tell."""
    ours, largest = {os.getpid()}, 0
    for status in sorted(Path("/proc").glob("[0-9]*/stat"), key=lambda path: int(path.parent.name)):
        with contextlib.suppress(OSError, ValueError):
            parent = int(status.read_text().rpartition(")")[2].split()[1])
            if parent not in ours:
                continue
            ours.add(int(status.parent.name))
            if b"--type=renderer" in (status.parent / "cmdline").read_bytes():
                pages = int((status.parent / "statm").read_text().split()[1])
                largest = max(largest, pages * os.sysconf("SC_PAGE_SIZE"))
    return largest


@contextlib.contextmanager
def _page(shown: Any) -> Iterator[Any]:
    with served(make_app(shown)) as base, chromium() as browser:
        page = browser.new_page(viewport={"width": 1366, "height": 768})
        page.goto(base)
        page.wait_for_selector(".trace-table")
        yield page
