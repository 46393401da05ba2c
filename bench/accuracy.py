"""Accuracy against truth over a simulated corpus of every condition."""

from __future__ import annotations

import argparse
import math
import sys
import time
from collections.abc import Sequence
from pathlib import Path

import numpy as np

from bench.corpus import CLEAN, Row, run_corpus
from bench.pooling import failures, pool, table
from firstlift.sim.conditions import CONDITIONS

_QUICK_S = 38.0  # begin nothing new after this, so that the whole stays under 50 s
_FULL_COUNT = 500
_REPORT_EVERY = 50  # recordings: a long campaign can be looked at while it runs


def add_options(parser: argparse.ArgumentParser) -> None:
    """Add this benchmark's own options."""
    parser.add_argument("--per-condition", type=int, metavar="N", help=f"recordings a condition (full: {_FULL_COUNT})")
    parser.add_argument("--first", type=int, default=0, metavar="K", help="number of the first recording")
    parser.add_argument("--condition", action="append", metavar="NAME", help="only this condition (may be repeated)")
    parser.add_argument("--report", type=Path, metavar="FILE", help="write the table and every failure there too")


def run(options: argparse.Namespace) -> dict[str, float]:
    """Run the campaign, print the table, give the figures."""
    names = options.condition or list(CONDITIONS)
    unknown = [name for name in names if name not in CONDITIONS]
    if unknown:
        sys.exit(f"no such condition: {', '.join(unknown)}; there are {', '.join(CONDITIONS)}")
    count = options.per_condition or (2 if options.quick else _FULL_COUNT)
    started = time.perf_counter()
    until = _QUICK_S if options.quick else None
    rows: list[Row] = []
    for row in run_corpus(_quick_order(names), range(options.first, options.first + count), until_s=until):
        rows.append(row)
        if options.report and len(rows) % _REPORT_EVERY == 0:
            options.report.write_text(_text(rows), encoding="utf-8")
    text = _text(rows)
    print(text)
    if options.report:
        options.report.write_text(text, encoding="utf-8")
    return {**figures(rows), "campaign_s": round(time.perf_counter() - started, 1)}


def _text(rows: list[Row]) -> str:
    order = {name: place for place, name in enumerate(CONDITIONS)}
    rows.sort(key=lambda row: (order[row.condition], row.index))
    return f"{table(rows)}\n\n{failures(rows)}\n"


def _quick_order(names: Sequence[str]) -> list[str]:
    """Clean conditions first: a run cut short by time still has the figures that are asked of them."""
    return sorted(names, key=lambda name: name not in CLEAN)


def figures(rows: Sequence[Row]) -> dict[str, float]:
    """Give the flat figures of a corpus."""
    whole, clean = pool(rows), pool([row for row in rows if row.condition in CLEAN])
    share, low, high = whole.coverage
    out = {
        "detector_error_median_pct": whole.quantile(0.5),
        "detector_error_p90_pct": whole.quantile(0.9),
        "detector_error_max_pct": whole.quantile(1.0),
        "clean_detector_error_median_pct": clean.quantile(0.5),
        "clean_detector_error_p90_pct": clean.quantile(0.9),
        "clean_detector_error_max_pct": clean.quantile(1.0),
        "over_1_pct_share": float(np.mean(np.array(whole.errors_pct) > 1.0)) if whole.errors_pct else math.nan,
        "error_over_bound_median_ratio": float(np.median(clean.over_bound)) if clean.over_bound else math.nan,
        "coverage_share": share,
        "coverage_low_share": low,
        "coverage_high_share": high,
        "interval_score_ratio": whole.score_ratio,
        "clean_interval_score_ratio": clean.score_ratio,
        "false_number_count": whole.false_numbers,
        "missed_pull_count": whole.missed,
        "wrong_outcome_count": whole.wrong_outcomes,
        "crashed_count": whole.crashed,
        "unexpected_warning_count": sum(int(text.rsplit(":", 1)[1]) for text in whole.unexpected),
        "finding_unsaid_count": whole.unsaid,
        "wrong_within_count": whole.wrong_within,
        "near_limit_count": whole.near_outside,
        "wrong_within_share": whole.wrong_within / whole.near_outside if whole.near_outside else math.nan,
        "condition_count": len({row.condition for row in rows}),
        "recording_count": whole.recordings,
        "pull_count": whole.pulls,
    }
    return {key: value if isinstance(value, int) else round(value, 5) for key, value in out.items()}
