"""The corpus: simulated tests of every condition, each analysed end to end and laid beside its truth."""

from __future__ import annotations

import sys
import time
import zlib
from collections.abc import Iterable, Iterator
from concurrent.futures import ProcessPoolExecutor, as_completed
from dataclasses import dataclass
from multiprocessing import get_context

import numpy as np

from bench.bound import bound_pa
from bench.knowing import knowing_half_width_pa
from firstlift.core.analysis import analyse
from firstlift.core.result import Pull, PullOutcome, Result
from firstlift.sim.conditions import CONDITIONS
from firstlift.sim.model import SimulatedTest, TruePull
from firstlift.usecases.analyse import limits_of, worded

CLEAN = ("clean-gas", "clean-steam", "clean-liquid")
WORKERS = 2  # never more: the figures are meant for a small machine


@dataclass(frozen=True, slots=True)
class PullRow:
    """One true pull beside what was found in it; ``None`` where there is no such number. All [Pa] and [s]."""

    number: int
    lifted: bool
    measurable: bool
    outcome: str | None
    set_pa: float | None = None
    half_width_pa: float | None = None
    true_pa: float | None = None
    ideal_pa: float | None = None
    knowing_pa: float | None = None
    bound_pa: float | None = None
    moment_error_s: float | None = None


@dataclass(frozen=True, slots=True)
class Row:
    """One recording: what came out, and what should have."""

    condition: str
    index: int
    stamped_pa: float
    outcome: str
    wanted_outcome: str
    pulls: tuple[PullRow, ...]
    invented: int
    findings: tuple[tuple[str, str, int | None], ...]
    wanted_finding: bool
    lower_pa: float
    upper_pa: float
    verdict: str | None
    probability_within: float | None
    seconds: float
    failure: str = ""


def make_test(condition: str, index: int) -> SimulatedTest:
    """Simulate recording number ``index`` of a condition: the same on every machine and in every run."""
    seed = [zlib.crc32(condition.encode()), index]
    return CONDITIONS[condition](np.random.default_rng(seed))


def measurable(test: SimulatedTest, pull: TruePull) -> bool:
    """Say whether the force at first lift was within every cell's range: else no number can be right."""
    if not pull.lifted or pull.force_n is None:
        return False
    whole = pull.force_n + test.job.weight_on_spindle_n
    cells = test.instruments.cells
    return all(cell.capacity is None or cell.share * whole + cell.offset < cell.capacity for cell in cells)


def found_in(result: Result, pull: TruePull) -> Pull | None:
    """Find the analysed pull that overlaps a true one most."""
    best, most = None, 0.0
    for found in result.pulls:
        overlap = min(found.end_s, pull.end_s) - max(found.start_s, pull.start_s)
        if overlap > most:
            best, most = found, overlap
    return best


def run_one(condition: str, index: int) -> Row:
    """Simulate, analyse and compare one recording."""
    test = make_test(condition, index)
    limits = limits_of(test.job)
    start = time.perf_counter()
    result = analyse(test.recording, test.job, limits, worded(test.job)).result
    seconds = time.perf_counter() - start
    verdict = result.verdict
    matched = [found_in(result, pull) for pull in test.truth.pulls]
    numbers = {found.number for found in matched if found is not None}
    invented = sum(p.set_pressure_pa is not None and p.number not in numbers for p in result.pulls)
    findings = tuple((f.code, str(f.severity), f.pull) for f in result.findings)
    return Row(
        condition=condition,
        index=index,
        stamped_pa=test.job.valve.set_pressure.si,
        outcome=str(result.outcome),
        wanted_outcome=wanted_outcome(test),
        pulls=tuple(_pull_row(test, true, found) for true, found in zip(test.truth.pulls, matched, strict=True)),
        invented=invented,
        findings=findings,
        wanted_finding=says_what_it_should(test, findings),
        lower_pa=limits.lower_pa,
        upper_pa=limits.upper_pa,
        verdict=None if verdict is None else str(verdict.outcome),
        probability_within=None if verdict is None else verdict.probability_within,
        seconds=seconds,
    )


def wanted_outcome(test: SimulatedTest) -> str:
    """Give the outcome that the truth asks for."""
    pulls = test.truth.pulls
    if any(measurable(test, pull) for pull in pulls):
        return "measured"
    if any(pull.lifted for pull in pulls):
        return "unusable"
    return "unusable" if all(pull.already_open for pull in pulls) else "not_lifted"


def _pull_row(test: SimulatedTest, true: TruePull, found: Pull | None) -> PullRow:
    can = measurable(test, true)
    outcome = None if found is None else str(found.outcome)
    if found is None or found.set_pressure_pa is None or found.outcome is not PullOutcome.MEASURED:
        return PullRow(true.number, true.lifted, can, outcome)
    moment = None
    if found.first_lift_s is not None and true.first_lift_s is not None:
        moment = found.first_lift_s - true.first_lift_s
    return PullRow(
        true.number,
        true.lifted,
        can,
        outcome,
        found.set_pressure_pa,
        found.expanded_uncertainty_pa,
        true.opening_pressure_pa,
        true.ideal_estimate_pa,
        knowing_half_width_pa(test, true) if can else None,
        bound_pa(test, true) if can else None,
        moment,
    )


WANTED: dict[str, tuple[str, ...]] = {
    "stuck-first": ("stuck-first-pull",),
    "friction": ("friction",),
    "stick-slip": ("friction",),
    "leaking": ("leaking-before-lift",),
    "soft-rig": ("stayed-open",),
    "already-open": ("already-open",),
    "slip": ("frame-slip",),
    "eccentric": ("eccentric-pull",),
    "not-lifted": ("not-lifted",),
    "lost-lift": ("lift-signal-lost",),
    "lost-acoustic": ("acoustic-signal-lost",),
    "spikes": ("repaired-samples", "spikes-repaired"),
    "gap-at-lift": ("gap-at-first-lift",),
    "lagging-gauge": ("gauge-lag", "gauge-coarse"),
    "late-start": ("late-start", "slack-not-proven"),
    "saturated-cell": ("force-saturated",),
    "noisy-hum": ("hum-removed",),
}
"""What each condition is about: one of these is to be said in every recording that truly shows it."""

MAY: dict[str, tuple[str, ...]] = {
    "sagging-line": ("line-unsteady",),
    "ripple": ("line-unsteady",),
    "drift": ("line-unsteady",),
    "clamp-yield": ("frame-slip",),
    "creeping-zero": ("zero-shift",),
    "tilted-seat": ("leaking-before-lift",),
    "simmer": ("leaking-before-lift",),
    "not-lifted": ("frame-slip", "leaking-before-lift", "channels-disagree"),
    "soft-rig": ("already-open", "zero-shift"),
    "already-open": ("no-pull-found",),
    "eccentric": ("friction",),
    "bursts": ("channels-disagree",),
    "delays": ("channels-disagree",),
    "gap-at-lift": ("channels-disagree", "gap", "repaired-samples", "force-dropout"),
    "lagging-gauge": ("line-unsteady",),
    "saturated-cell": ("not-lifted",),
    "late-start": ("zero-shift",),
    "stuck-first": ("openings-disagree",),
}
"""What else may be warned of there."""

VERDICT = ("set-pressure-outside", "set-pressure-undecided", "lower-bound-high", "openings-disagree", "trend",
           "line-too-low-to-decide", "uncertainty-too-large-to-decide", "pop-distance-unknown")  # fmt: skip


def says_what_it_should(test: SimulatedTest, findings: Iterable[tuple[str, str, int | None]]) -> bool:
    """Say whether the finding the condition is about is among the findings."""
    wanted = WANTED.get(test.name, ())
    return not wanted or not _shows(test) or any(code in wanted for code, _, _ in findings)


def _shows(test: SimulatedTest) -> bool:
    """Say whether the thing is large enough in this recording that it must be said."""
    truth, gauge = test.truth, test.instruments.gauge
    if test.name == "stuck-first":
        return truth.bond_n / truth.area_m2 > 0.02 * truth.set_pressure_pa
    if test.name in ("friction", "stick-slip"):
        # opening and closing force apart by more than a hundredth of the opening load
        return 2.0 * truth.friction_n / truth.area_m2 > 0.01 * truth.set_pressure_pa
    if test.name == "already-open":
        # a gear that never became taut pulled at nothing: that no pull was made is then all that can be said
        return any(pull.largest_force_n > 0.0 for pull in truth.pulls)
    if test.name == "lagging-gauge":
        # a first-order lag on a line that only creeps leaves no trace; holding and coarse steps do
        return gauge.hold_s > 0.0 or gauge.resolution > 1e-3 * truth.set_pressure_pa
    return True


def unexpected(row: Row) -> tuple[str, ...]:
    """Give the warnings that the condition does not call for; the verdict's own are judged elsewhere."""
    known = (*WANTED.get(row.condition, ()), *MAY.get(row.condition, ()), *VERDICT)
    return tuple(code for code, severity, _ in row.findings if severity != "info" and code not in known)


def _safely(job: tuple[str, int]) -> Row:
    condition, index = job
    try:
        return run_one(condition, index)
    except Exception as error:  # noqa: BLE001 a campaign counts a crash and goes on
        text = f"{type(error).__name__}: {error}"
        return Row(condition, index, 1.0, "crashed", "", (), 0, (), False, 0.0, 0.0, None, None, 0.0, text)


def run_corpus(conditions: Iterable[str], indices: Iterable[int], *, until_s: float | None = None) -> Iterator[Row]:
    """Run recordings over two workers, round by round, and give the rows as they come.

    Parameters
    ----------
    conditions : iterable of str
    indices : iterable of int
        Numbers of the recordings of each condition.
    until_s : float, optional, [s]
        No new round is begun after this time.
    """
    names, started = list(conditions), time.perf_counter()
    jobs = [(name, index) for index in indices for name in names]
    with ProcessPoolExecutor(WORKERS, get_context("spawn")) as pool:
        waiting = {}
        todo = iter(jobs)
        done = 0
        while True:
            while len(waiting) < 2 * WORKERS:
                job = next(todo, None)
                late = until_s is not None and time.perf_counter() - started > until_s
                if job is None or late:
                    break
                waiting[pool.submit(_safely, job)] = job
            if not waiting:
                return
            future = next(as_completed(waiting))
            waiting.pop(future)
            done += 1
            if done % 20 == 0:
                print(f"{done} of {len(jobs)}, {time.perf_counter() - started:.0f} s", file=sys.stderr, flush=True)
            yield future.result()
