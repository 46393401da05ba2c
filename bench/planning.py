"""When to come back: next dates against fleets whose truth is known, and a large fit against lifelines."""

from __future__ import annotations

import argparse
import subprocess
import sys
import time
import warnings
from dataclasses import dataclass

import numpy as np

from firstlift.core.reliability.belief import believe
from firstlift.core.reliability.families import Family
from firstlift.core.reliability.fit import LifeFit, fit_life
from firstlift.core.reliability.lives import make_lives
from firstlift.core.reliability.recommend import evidence_after
from firstlift.formats.interval_rows import read_interval_tables
from firstlift.sim.fleet import FleetTruth, draw_truth, put_to_test

_VALVES = 100_000
_SIZES = {10: 400, 30: 400, 100: 400, 300: 300, 1000: 300, 3000: 200, 10_000: 100}
_QUICK = {10: 80, 100: 80, 1000: 60, 10_000: 4}
_TARGETS = (0.01, 0.02, 0.05, 0.10)
_ENOUGH = 20


@dataclass(frozen=True, slots=True)
class Trial:
    """One fleet: how many failures its tests found, the true longest interval, and what was answered."""

    valves: int
    failed: float
    optimal_yr: float
    low_yr: float
    high_yr: float

    @property
    def covered(self) -> bool:
        """Whether the interval holds the truth."""
        return self.low_yr <= self.optimal_yr <= self.high_yr

    @property
    def over_long(self) -> bool:
        """Whether the recommended interval, the low end, runs a higher risk than the target."""
        return self.low_yr > self.optimal_yr

    @property
    def share_of_optimal(self) -> float:
        """Recommended over optimal."""
        return self.low_yr / self.optimal_yr


def try_fleets(sizes: dict[int, int], seed: int = 2026) -> list[Trial]:
    """Draw fleets, test them, ask for the interval."""
    rng = np.random.default_rng(seed)
    prior = read_interval_tables().priors["weak"]
    trials: list[Trial] = []
    for valves, times in sizes.items():
        start = time.perf_counter()
        for _ in range(times):
            truth, target = draw_truth(rng), float(rng.choice(_TARGETS))
            lives = put_to_test(truth, valves, rng)
            answer = evidence_after(believe(lives, prior), 0.0, target, 1.0)
            trials.append(Trial(valves, lives.ended, truth.age_yr(target), answer.low_yr, answer.high_yr))
        spent = 1e3 * (time.perf_counter() - start) / times
        print(f"{times} fleets of {valves}: {spent:.0f} ms each", file=sys.stderr, flush=True)
    return trials


def date_figures(trials: list[Trial]) -> dict[str, float]:
    """Sum up: fleets without a failure are under the rules and are counted apart."""
    told = [trial for trial in trials if trial.failed > 0]
    untold = [trial for trial in trials if trial.failed == 0]
    large = [trial for trial in told if trial.valves >= 1000 and trial.failed >= _ENOUGH]
    out = {
        "date_coverage_share": _share(trial.covered for trial in told),
        "over_long_share": _share(trial.over_long for trial in told),
        "recommended_over_optimal_median_ratio": round(float(np.median([t.share_of_optimal for t in large])), 4),
        "fleet_count": len(told),
        "fleet_without_failure_count": len(untold),
        "no_failure_bound_over_long_share": _share(trial.over_long for trial in untold),
    }
    for valves in sorted({trial.valves for trial in told}):
        here = [trial for trial in told if trial.valves == valves]
        out[f"date_coverage_{valves}_share"] = _share(trial.covered for trial in here)
        out[f"over_long_{valves}_share"] = _share(trial.over_long for trial in here)
        ratio = float(np.median([trial.share_of_optimal for trial in here]))
        out[f"recommended_over_optimal_{valves}_median_ratio"] = round(ratio, 4)
    return out


def _share(hits) -> float:
    marks = [bool(hit) for hit in hits]
    return round(sum(marks) / len(marks), 4) if marks else float("nan")


def large_fleet(seed: int = 7) -> tuple[FleetTruth, np.ndarray, np.ndarray]:
    """Give 100,000 lives, each tested up to four times: (left, right) one a life, unsorted."""
    rng = np.random.default_rng(seed)
    truth = FleetTruth(Family.WEIBULL, float(np.log(12.0)), 1.0 / 1.8, 2.0, 4)
    looks = np.cumsum(np.round(rng.uniform(1.0, 3.0, (_VALVES, 4)) * 365.25) / 365.25, axis=1)
    life = truth.draw(_VALVES, rng)
    passed = (looks < life[:, None]).sum(axis=1)
    ages = np.hstack([np.zeros((_VALVES, 1)), looks, np.full((_VALVES, 1), np.inf)])
    row = np.arange(_VALVES)
    return truth, ages[row, passed], ages[row, passed + 1]


def fit_figures(times: int) -> dict[str, float]:
    """Time our fit of 100,000 valves, raw rows to estimates with their covariance, and lifelines' on the same rows."""
    from lifelines import WeibullFitter

    truth, left, right = large_fleet()
    spent: dict[str, list[float]] = {"ours": [], "lifelines": []}
    for _ in range(times):
        start = time.perf_counter()
        ours = fit_life(make_lives(left, right), Family.WEIBULL)
        spent["ours"].append(time.perf_counter() - start)
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")
            start = time.perf_counter()
            theirs = WeibullFitter().fit_interval_censoring(left, right)
            spent["lifelines"].append(time.perf_counter() - start)
        print(f"ours {spent['ours'][-1]:.3f} s, lifelines {spent['lifelines'][-1]:.2f} s", file=sys.stderr, flush=True)
    if not isinstance(ours, LifeFit):
        sys.exit("the large fleet was not fitted: its time says nothing")
    agree = abs(ours.shape / theirs.rho_ - 1.0) + abs(ours.scale_yr / theirs.lambda_ - 1.0)
    if agree > 1e-3 or abs(ours.shape * truth.sigma - 1.0) > 0.03:
        sys.exit(f"the two fits differ ({agree:.2g}), or miss the truth: their times say nothing")
    ours_s, theirs_s = (float(np.median(spent[name])) for name in ("ours", "lifelines"))
    return {
        "fleet_fit_over_lifelines_ratio": round(ours_s / theirs_s, 4),
        "fleet_fit_s": round(ours_s, 4),
        "lifelines_fit_s": round(theirs_s, 3),
        "fit_log_likelihood_gain": round(ours.log_likelihood - theirs.log_likelihood_, 6),
        "fleet_valve_count": _VALVES,
    }


# a process of its own: its peak is not that of the benchmark around it
_CHILD = """
import resource, sys, time
from pathlib import Path
from bench.planning import large_fleet
from firstlift.core.reliability.belief import believe
from firstlift.core.reliability.lives import make_lives
from firstlift.core.reliability.recommend import evidence_after
from firstlift.formats.interval_rows import read_interval_tables
truth, left, right = large_fleet()
prior = read_interval_tables().priors["weak"]
start = time.perf_counter()
found = evidence_after(believe(make_lives(left, right), prior), 0.0, 0.05, 1.0)
seconds = time.perf_counter() - start
if not found.low_yr < truth.age_yr(0.05) < found.high_yr:
    sys.exit("the interval of the large fleet misses the truth")
status = Path("/proc/self/status")
if status.exists():
    peak_kb = float(next(l for l in status.read_text().splitlines() if l.startswith("VmHWM")).split()[1])
else:
    peak_kb = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / (1e3 if sys.platform == "darwin" else 1.0)
print(seconds, peak_kb)
"""


def interval_figures() -> dict[str, float]:
    """Time the whole interval of 100,000 valves, with the peak memory of a process that does nothing else."""
    child = subprocess.run([sys.executable, "-c", _CHILD], check=True, capture_output=True, text=True)
    seconds, peak_kb = (float(word) for word in child.stdout.split())
    return {"fleet_interval_s": round(seconds, 3), "fleet_interval_peak_memory_mb": round(peak_kb / 1e3, 1)}


def add_options(parser: argparse.ArgumentParser) -> None:
    """Add this benchmark's own options."""
    parser.add_argument("--times", type=int, metavar="N", help="repetitions of the large fit (full: 5)")


def run(options: argparse.Namespace) -> dict[str, float]:
    """Run all, give the figures."""
    times = options.times or (3 if options.quick else 5)
    out = fit_figures(times)
    out |= interval_figures()
    out |= date_figures(try_fleets(_QUICK if options.quick else _SIZES))
    out["repetition_count"] = times
    return out
