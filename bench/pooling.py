"""Figures over many recordings: quantiles, shares with their confidence, scores."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from scipy.stats import beta

from bench.corpus import CLEAN, Row, unexpected
from bench.knowing import interval_score

NEAR_SHARE = 0.02  # of the stamped pressure: how near a limit "near the limits" is


def clopper_pearson(hits: int, total: int, probability: float = 0.95) -> tuple[float, float]:
    """Give the exact confidence interval of a share (Clopper and Pearson, Biometrika 26 (1934) 404)."""
    if total == 0:
        return 0.0, 1.0
    tail = (1.0 - probability) / 2.0
    low = 0.0 if hits == 0 else float(beta.ppf(tail, hits, total - hits + 1))
    high = 1.0 if hits == total else float(beta.ppf(1.0 - tail, hits + 1, total - hits))
    return low, high


@dataclass(frozen=True, slots=True)
class Pool:
    """What a set of recordings shows. Errors in per cent of the stamped set pressure.

    ``covered`` of ``asked``: one pull a recording (its number turns with the recording's), so that they are
    independent: pulls of one recording share the errors of cells, gauge and seat.
    """

    recordings: int
    pulls: int
    errors_pct: tuple[float, ...]
    over_bound: tuple[float, ...]
    moments_s: tuple[float, ...]
    covered: int
    asked: int
    covered_pulls: int
    score_ratio: float
    false_numbers: int
    missed: int
    wrong_outcomes: int
    crashed: int
    unexpected: tuple[str, ...]
    unsaid: int
    wrong_within: int
    near_outside: int
    seconds: float

    def quantile(self, share: float) -> float:
        """Give a quantile of the error, NaN where there is none."""
        return float(np.quantile(self.errors_pct, share)) if self.errors_pct else float("nan")

    @property
    def coverage(self) -> tuple[float, float, float]:
        """Share covered with its exact 95 % confidence interval."""
        low, high = clopper_pearson(self.covered, self.asked)
        return (self.covered / self.asked if self.asked else float("nan")), low, high


def pool(rows: Sequence[Row]) -> Pool:
    """Pool recordings."""
    errors, bounds, moments, ours, known = [], [], [], [], []
    covered = asked = covered_pulls = false = missed = wrong_within = near = 0
    for row in rows:
        right = [p for p in row.pulls if p.measurable and p.set_pa is not None and p.half_width_pa is not None]
        hits = [abs(p.set_pa - p.true_pa) <= p.half_width_pa for p in right]
        covered_pulls += sum(hits)
        if hits:
            asked += 1
            covered += hits[row.index % len(hits)]
        for p in right:
            error = abs(p.set_pa - p.ideal_pa)
            errors.append(100.0 * error / row.stamped_pa)
            if p.bound_pa:
                bounds.append(error / p.bound_pa)
            if p.moment_error_s is not None:
                moments.append(p.moment_error_s)
            ours.append(interval_score(p.set_pa, p.half_width_pa, p.true_pa) / row.stamped_pa)
            known.append(interval_score(p.ideal_pa, p.knowing_pa, p.true_pa) / row.stamped_pa)
        false += row.invented + sum(p.set_pa is not None and not p.measurable for p in row.pulls)
        missed += sum(p.measurable and p.set_pa is None for p in row.pulls)
        is_near, is_wrong = _near_limit(row)
        near, wrong_within = near + is_near, wrong_within + is_wrong
    warned = sorted({code for row in rows for code in unexpected(row)})
    counts = [sum(code in unexpected(row) for row in rows) for code in warned]
    return Pool(
        recordings=len(rows),
        pulls=sum(len(row.pulls) for row in rows),
        errors_pct=tuple(errors),
        over_bound=tuple(bounds),
        moments_s=tuple(moments),
        covered=covered,
        asked=asked,
        covered_pulls=covered_pulls,
        score_ratio=float(np.mean(ours) / np.mean(known)) if ours else float("nan"),
        false_numbers=false,
        missed=missed,
        wrong_outcomes=sum(row.outcome != row.wanted_outcome for row in rows),
        crashed=sum(bool(row.failure) for row in rows),
        unexpected=tuple(f"{code}:{count}" for code, count in zip(warned, counts, strict=True)),
        unsaid=sum(not row.wanted_finding for row in rows),
        wrong_within=wrong_within,
        near_outside=near,
        seconds=sum(row.seconds for row in rows),
    )


def _near_limit(row: Row) -> tuple[bool, bool]:
    """Say whether the judged pull truly lay outside but near a limit, and whether it would be called within.

    Called within by the guarded rule: probability of lying within at least 0.95. Its promise is that at
    most one in twenty of those truly outside is.
    """
    first = row.pulls[0] if row.pulls else None
    if first is None or first.true_pa is None or row.probability_within is None:
        return False, False
    beyond = max(row.lower_pa - first.true_pa, first.true_pa - row.upper_pa)
    near = 0.0 < beyond <= NEAR_SHARE * row.stamped_pa
    return near, near and row.probability_within >= 0.95


def table(rows: Sequence[Row]) -> str:
    """Lay the pools of every condition out as text."""
    head = (f"{'condition':18s} {'rec':>4s} {'pull':>4s} {'out!':>4s} {'false':>5s} {'miss':>4s}"
            f" {'med %':>7s} {'p90 %':>7s} {'max %':>7s} {'/bound':>6s} {'covered':>9s} {'95 % conf':>11s}"
            f" {'score':>6s} {'wrong in':>8s} {'unsaid':>6s} {'s/rec':>5s}  warned without cause")  # fmt: skip
    names = list(dict.fromkeys(row.condition for row in rows))
    lines = [head, *(_line(name, pool([row for row in rows if row.condition == name])) for name in names)]
    lines.append(_line("clean, together", pool([row for row in rows if row.condition in CLEAN])))
    lines.append(_line("all", pool(rows)))
    return "\n".join(lines)


def _line(name: str, p: Pool) -> str:
    _, low, high = p.coverage
    ratio = float(np.median(p.over_bound)) if p.over_bound else float("nan")
    warned = " ".join(p.unexpected[:6]) + (f" CRASHED:{p.crashed}" if p.crashed else "")
    return (f"{name:18s} {p.recordings:4d} {p.pulls:4d} {p.wrong_outcomes:4d} {p.false_numbers:5d} {p.missed:4d}"
            f" {p.quantile(0.5):7.3f} {p.quantile(0.9):7.3f} {p.quantile(1.0):7.3f} {ratio:6.2f}"
            f" {p.covered:4d}/{p.asked:<4d} {low:5.2f}-{high:4.2f} {p.score_ratio:6.2f}"
            f" {p.wrong_within:3d}/{p.near_outside:<4d} {p.unsaid:6d} {p.seconds / max(p.recordings, 1):5.1f}"
            f"  {warned}")  # fmt: skip


def failures(rows: Sequence[Row], worst_pct: float = 1.0) -> str:
    """List every recording in which something went wrong, one a line, so that it can be made again."""
    lines = []
    for row in rows:
        notes = [row.failure] if row.failure else []
        if row.outcome != row.wanted_outcome and not row.failure:
            notes.append(f"outcome {row.outcome}, truth {row.wanted_outcome}")
        for p in row.pulls:
            if p.measurable and p.set_pa is None:
                notes.append(f"pull {p.number} missed ({p.outcome})")
            if not p.measurable and p.set_pa is not None:
                notes.append(f"pull {p.number} false number")
            if p.set_pa is not None and p.ideal_pa is not None and p.half_width_pa is not None:
                error = 100.0 * (p.set_pa - p.ideal_pa) / row.stamped_pa
                if abs(error) > worst_pct:
                    width = 100.0 * p.half_width_pa / row.stamped_pa
                    late = 1e3 * (p.moment_error_s or 0.0)
                    notes.append(f"pull {p.number} off {error:+.2f} % (U {width:.2f} %, moment {late:+.0f} ms)")
        if row.invented:
            notes.append(f"{row.invented} invented pull(s) with a number")
        if codes := unexpected(row):
            notes.append("warned: " + ", ".join(dict.fromkeys(codes)))
        if not row.wanted_finding and not row.failure:
            notes.append("did not say what it is about")
        if notes:
            lines.append(f"{row.condition} #{row.index}: " + "; ".join(notes))
    return "\n".join(lines)
