"""How quickly traces follow a zoom, and how often they are drawn while a recording is played again.

A page with nothing but traces is served on loopback and driven by Chromium, as a person's browser would be: what is
timed is from the key to the picture, server, wire and drawing together. The answers are looked at too: the spike of
one sample in ten million must be in what is drawn.
"""

from __future__ import annotations

import contextlib
from collections.abc import Iterator
from typing import Any

import numpy as np
from tests.web.traces_page import chromium, made_shown, make_app, served

CHANNELS = 6
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
        ``live_draws_per_s``, ``live_points_count`` (in view at the end), ``live_heap_growth_mb``, ``live_s``.
    """
    rate_hz, fill_s = 2000.0, 11.0
    shown = made_shown(samples=int((seconds + fill_s + 20.0) * rate_hz), rate_hz=rate_hz, channels=CHANNELS)
    with _page(shown) as page:
        page.evaluate("document.querySelector('firstlift-traces').play()")
        page.wait_for_timeout(1000.0 * fill_s)
        before = _state(page)
        page.wait_for_timeout(1000.0 * seconds)
        after = _state(page)
    took_s = (after["now"] - before["now"]) / 1000.0
    return {
        "live_draws_per_s": round((after["draws"] - before["draws"]) / took_s, 1),
        "live_points_count": int(after["points"]),
        "live_heap_growth_mb": round((after["heap"] - before["heap"]) / 1e6, 1),
        "live_s": round(took_s, 1),
    }


def _state(page: Any) -> dict[str, float]:
    session = page.context.new_cdp_session(page)
    session.send("HeapProfiler.collectGarbage")
    session.detach()
    return page.evaluate(
        """() => {
          const traces = document.querySelector("firstlift-traces");
          const points = traces.panels.reduce((sum, panel) => sum + panel.points.times.length, 0);
          return { now: performance.now(), draws: traces.draws, points, heap: performance.memory.usedJSHeapSize };
        }"""
    )


@contextlib.contextmanager
def _page(shown: Any) -> Iterator[Any]:
    with served(make_app(shown)) as base, chromium() as browser:
        page = browser.new_page(viewport={"width": 1366, "height": 768})
        page.goto(base)
        page.wait_for_selector(".trace-table")
        yield page
