"""The tools of others, each asked for the instant of first lift in the way that suits it best (see `bench.peers`)."""

from __future__ import annotations

import math
from collections.abc import Callable

import numpy as np

from bench.handing import Handed, cut_window, load_at
from firstlift.core.recording import Floats


def by_pwlf(handed: Handed, area: float, lines: int = 3) -> float:
    """First break of lines of force on time by pwlf."""
    import pwlf

    fit = pwlf.PiecewiseLinFit(handed.time_s, handed.force_n, seed=1)
    return load_at(handed, float(fit.fitfast(lines, pop=3)[1]), area)


def by_piecewise_regression(handed: Handed, area: float, lines: int = 3) -> float:
    """First break of lines of force on time by piecewise-regression."""
    import piecewise_regression

    np.random.seed(1)  # noqa: NPY002 the tool draws its restarts from numpy's global generator
    low, scale = float(handed.time_s[0]), float(np.ptp(handed.time_s))
    # its tolerances are absolute: hand it numbers of order one
    x = (handed.time_s - low) / scale
    fit = piecewise_regression.Fit(x, handed.force_n / np.ptp(handed.force_n), n_breakpoints=lines - 1, n_boot=10)
    estimates = fit.get_results()["estimates"]
    if not estimates:
        return math.nan
    first = min(value["estimate"] for key, value in estimates.items() if key.startswith("breakpoint"))
    return load_at(handed, low + scale * float(first), area)


def by_ruptures(handed: Handed, area: float) -> float:
    """The change of the regression line of lift on time, by ruptures."""
    import ruptures

    y = handed.force_n if handed.lift_m is None else handed.lift_m
    columns = [(v - v.mean()) / (np.std(v) or 1.0) for v in (y, handed.time_s)]
    signal = np.column_stack([*columns, np.ones(y.size)])
    ends = ruptures.Binseg(model="linear", min_size=5, jump=1).fit(signal).predict(n_bkps=1)
    return load_at(handed, float(handed.time_s[min(ends[0], handed.time_s.size - 1)]), area)


def by_obspy(handed: Handed, area: float) -> float:
    """The AIC onset of the sound's steps, by obspy."""
    if handed.sound is None:
        return by_obspy_on_lift(handed, area)
    return _aic(np.diff(handed.sound, prepend=handed.sound[0]), handed, area)


def by_obspy_on_lift(handed: Handed, area: float) -> float:
    """The AIC onset of the lift's departure from its stiff line; of the sound where the lift is lost."""
    if handed.lift_m is None:
        if handed.sound is None:
            return math.nan
        return _aic(np.diff(handed.sound, prepend=handed.sound[0]), handed, area)
    early = slice(0, max(handed.time_s.size // 2, 4))
    line = np.polyfit(handed.force_n[early], handed.lift_m[early], 1)
    return _aic(handed.lift_m - np.polyval(line, handed.force_n), handed, area)


def _aic(trace: Floats, handed: Handed, area: float) -> float:
    from obspy.signal.trigger import aic_simple

    inner = np.asarray(aic_simple(trace))[3:-3]
    return load_at(handed, float(handed.time_s[3 + int(np.nanargmin(inner))]), area)


PEERS: dict[str, Callable[[Handed, float], float]] = {
    "pwlf": by_pwlf,
    "piecewise-regression": by_piecewise_regression,
    "ruptures": by_ruptures,
    "obspy": by_obspy,
}
CUT: dict[str, Callable[[Handed, float], float]] = {
    "cut-pwlf": lambda handed, area: by_pwlf(cut_window(handed), area, 2),
    "cut-piecewise-regression": lambda handed, area: by_piecewise_regression(cut_window(handed), area, 2),
    "cut-ruptures": lambda handed, area: by_ruptures(cut_window(handed), area),
    "cut-obspy": lambda handed, area: by_obspy_on_lift(cut_window(handed), area),
}
