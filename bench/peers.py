"""Ours against general-purpose tools on the same recordings in the same run.

Each tool is handed what it would otherwise have to find: the pull's loading, from its true start to the true
end of the drive's rise, tared, on one clock, with gaps and single-sample spikes taken out and averaged to at
most 400 points. Each gives an instant, and the opening load follows from a line through the force before it
and the mean line pressure around it; the error is measured as ours is, against what the sensors show at the
true moment. Of the ways to ask a tool (force on time, lift on time, force on lift, lift on force; one or two
breaks; sound as it is, its logarithm, square, difference) the one with the least median error was kept:

pwlf, piecewise-regression: first break of three lines of force on time.
ruptures: the place where the regression line of lift on time changes (force on time where lift is lost).
obspy: the AIC onset of the sound's steps (of the lift's departure from its line where the sound is lost).
combination: the median of the opening loads of those that spoke.

The same tools are asked once more with a window cut for them by someone who knows the trade: it ends three
tenths past the largest force, two lines suffice there, and AIC gets the lift's departure. Those figures are
given beside (``cut_...``); they are no general-purpose tool's own.
"""

from __future__ import annotations

import argparse
import importlib.util
import math
import sys
import time
import warnings
from collections.abc import Callable
from concurrent.futures import ProcessPoolExecutor, as_completed
from dataclasses import dataclass
from multiprocessing import get_context

import numpy as np

from bench.corpus import CLEAN, WORKERS, found_in, make_test, measurable
from bench.handing import Handed, hand_over
from bench.peer_tools import CUT, PEERS
from firstlift.core.analysis import analyse
from firstlift.core.recording import Floats
from firstlift.sim.conditions import CONDITIONS
from firstlift.usecases.analyse import limits_of, worded

OURS, COMBINED, CUT_COMBINED = "firstlift", "combination", "cut-combination"
_QUICK_S = 36.0
_SKIPPED = ("saturated-cell", "not-lifted", "already-open")  # nothing to find there


@dataclass(frozen=True, slots=True)
class Line:
    """One pull and one tool: error in per cent of stamped (NaN: no answer), seconds."""

    condition: str
    tool: str
    error_pct: float
    seconds: float


def run_one(condition: str, index: int) -> list[Line]:
    """Let everyone at one recording."""
    test = make_test(condition, index)
    pulls = [pull for pull in test.truth.pulls if measurable(test, pull)]
    if not pulls:
        return []
    stamped, area = test.job.valve.set_pressure.si, test.job.seat.area_m2
    limits, words = limits_of(test.job), worded(test.job)
    start = time.perf_counter()
    result = analyse(test.recording, test.job, limits, words).result
    each = (time.perf_counter() - start) / len(pulls)
    lines: list[Line] = []
    for pull in pulls:
        ideal = pull.ideal_estimate_pa or math.nan
        found = found_in(result, pull)
        value = math.nan if found is None or found.set_pressure_pa is None else found.set_pressure_pa
        lines.append(Line(condition, OURS, 100.0 * abs(value - ideal) / stamped, each))
        handed = hand_over(test, pull)
        for tools, together in ((PEERS, COMBINED), (CUT, CUT_COMBINED)):
            loads, spent = [], 0.0
            for name, tool in tools.items():
                start = time.perf_counter()
                load = _ask(name, tool, handed, area)
                seconds = time.perf_counter() - start
                spent += seconds
                loads.append(load)
                lines.append(Line(condition, name, 100.0 * abs(load - ideal) / stamped, seconds))
            spoke = [load for load in loads if math.isfinite(load)]
            middle = float(np.median(spoke)) if spoke else math.nan
            lines.append(Line(condition, together, 100.0 * abs(middle - ideal) / stamped, spent))
    return lines


def _ask(name: str, tool: Callable[[Handed, float], float], handed: Handed, area: float) -> float:
    with warnings.catch_warnings(), np.errstate(all="ignore"):
        warnings.simplefilter("ignore")
        try:
            return tool(handed, area)
        except Exception as error:  # noqa: BLE001 a tool that fails on a pull has given no answer
            print(f"{name}: {type(error).__name__}: {error}", file=sys.stderr)
            return math.nan


def add_options(parser: argparse.ArgumentParser) -> None:
    """Add this benchmark's own options."""
    parser.add_argument("--per-condition", type=int, metavar="N", help="recordings a condition (full: 20)")
    parser.add_argument("--condition", action="append", metavar="NAME", help="only this condition (may be repeated)")


def run(options: argparse.Namespace) -> dict[str, float]:
    """Run the comparison, print the table, give the figures."""
    _need_peers()
    names = options.condition or [name for name in CONDITIONS if name not in _SKIPPED]
    names.sort(key=lambda name: name not in CLEAN)
    count = options.per_condition or (1 if options.quick else 20)
    lines = _campaign(names, count, _QUICK_S if options.quick else math.inf)
    print(_table(lines))
    return figures(lines)


def _need_peers() -> None:
    missing = [n for n in ("pwlf", "piecewise_regression", "ruptures", "obspy") if importlib.util.find_spec(n) is None]
    if missing:
        sys.exit(f"not installed: {', '.join(missing)}; they come with: pip install -e '.[bench]'")


def _campaign(names: list[str], count: int, until_s: float) -> list[Line]:
    started, lines, done = time.perf_counter(), [], 0
    todo = iter([(name, index) for index in range(count) for name in names])
    total = count * len(names)
    with ProcessPoolExecutor(WORKERS, get_context("spawn")) as workers:
        waiting: set = set()
        while True:
            while len(waiting) < WORKERS and time.perf_counter() - started < until_s:
                job = next(todo, None)
                if job is None:
                    break
                waiting.add(workers.submit(run_one, *job))
            if not waiting:
                return lines
            future = next(as_completed(waiting))
            waiting.remove(future)
            lines.extend(future.result())
            done += 1
            if done % 10 == 0:
                print(f"{done} of {total}, {time.perf_counter() - started:.0f} s", file=sys.stderr, flush=True)


def _over(errors: Floats, limit: float = 1.0) -> float:
    """Share of pulls off by more than a per cent; no answer counts as off."""
    return float(np.mean(~(errors <= limit)))


def _median(errors: Floats) -> float:
    """Median error, no answer counting as the worst."""
    return float(np.median(np.where(np.isnan(errors), np.inf, errors)))


def _errors(lines: list[Line], tool: str) -> Floats:
    return np.array([line.error_pct for line in lines if line.tool == tool])


def _table(lines: list[Line]) -> str:
    tools = [OURS, *PEERS, COMBINED, *CUT, CUT_COMBINED]
    out = [f"{'tool':25s} {'pulls':>5s} {'median %':>9s} {'p90 %':>8s} {'over 1 %':>9s} {'none':>5s} {'ms/pull':>8s}"]
    for tool in tools:
        errors = _errors(lines, tool)
        seconds = [line.seconds for line in lines if line.tool == tool]
        out.append(f"{tool:25s} {errors.size:5d} {_median(errors):9.3f} {np.nanquantile(errors, 0.9):8.3f}"
                   f" {_over(errors):9.3f} {int(np.isnan(errors).sum()):5d}"
                   f" {1e3 * np.median(seconds):8.1f}")  # fmt: skip
    out += ["", "median % of each condition", f"{'condition':18s} " + " ".join(f"{tool[:11]:>11s}" for tool in tools)]
    for name in dict.fromkeys(line.condition for line in lines):
        mine = [line for line in lines if line.condition == name]
        out.append(f"{name:18s} " + " ".join(f"{_median(_errors(mine, tool)):11.3f}" for tool in tools))
    return "\n".join(out)


def figures(lines: list[Line]) -> dict[str, float]:
    """Give the flat figures: ours over the best peer's, the best being the one with the least median error."""
    medians = {tool: _median(_errors(lines, tool)) for tool in (*PEERS, COMBINED)}
    best = min(medians, key=lambda tool: medians[tool])
    spent = {tool: float(np.median([line.seconds for line in lines if line.tool == tool])) for tool in (OURS, best)}
    ours = _errors(lines, OURS)
    # the least share over a per cent may be another tool's: the comparison takes it
    least_over = min(_over(_errors(lines, tool)) for tool in medians)
    cut = {tool: _median(_errors(lines, tool)) for tool in (*CUT, CUT_COMBINED)}
    least_cut_over = min(_over(_errors(lines, tool)) for tool in cut)
    out: dict[str, float] = {
        "best_peer_error_ratio": _median(ours) / medians[best],
        "best_peer_time_ratio": spent[OURS] / spent[best],
        "best_peer_over_1_pct_ratio": _over(ours) / least_over if least_over else math.nan,
        "best_cut_peer_error_ratio": _median(ours) / min(cut.values()),
        "our_error_median_pct": _median(ours),
        "our_over_1_pct_share": _over(ours),
        "our_ms": 1e3 * spent[OURS],
        "best_peer_ms": 1e3 * spent[best],
        "least_peer_over_1_pct_share": least_over,
        "least_cut_peer_over_1_pct_share": least_cut_over,
    }
    for tool, median in {**medians, **cut}.items():
        key = tool.replace("-", "_")
        out[f"{key}_error_median_pct"] = median
        out[f"{key}_over_1_pct_share"] = _over(_errors(lines, tool))
    print(f"best peer by median: {best}")
    return {key: round(value, 5) for key, value in out.items()} | {
        "condition_count": len({line.condition for line in lines}),
        "pull_count": int(ours.size),
    }
