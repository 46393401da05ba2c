"""The way of a test on one page: condition, pulls, first lift, set pressure, budget, verdict, disposition."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

from firstlift.core import observe
from firstlift.core.errors import Finding, Severity
from firstlift.core.job import Job, PullReview, Purpose, ReviewAction
from firstlift.core.judgement import Reading, dispose, judge_reading, judge_test, last_openings
from firstlift.core.lift.choose import LACK_OF_FIT
from firstlift.core.lift.decide import AWAY
from firstlift.core.lift.find import RECORD_TOLERANCE, PullFind, find_first_lift
from firstlift.core.lift.heard import AFTER_SHARES, CONTAMINATION, WINDOW_RATIO
from firstlift.core.lift.lag import LONGEST_LAG_S
from firstlift.core.lift.search import CANDIDATES
from firstlift.core.measure import COVERAGE, PullMeasured, bound_pull, measure_pull, shared_spread
from firstlift.core.recording import Recording, worst_first
from firstlift.core.result import (
    REJECTED,
    AsFound,
    AsLeft,
    AsLeftPull,
    BudgetLine,
    FindingText,
    Mean,
    MethodRef,
    Outcome,
    Pull,
    PullOutcome,
    RecordingRef,
    Result,
    Verdict,
    VerdictOutcome,
    Worded,
)
from firstlift.core.signal.condition import Signals, condition
from firstlift.core.signal.pulls import find_pulls
from firstlift.core.tolerance.judge import find_trend
from firstlift.core.tolerance.limits import Limits
from firstlift.core.uncertainty.pulls import mean_over_pulls

_NEEDS_FORCE = (PullOutcome.MEASURED, PullOutcome.NOT_LIFTED)
METHOD = MethodRef(
    "joint-bend-2",
    {
        "lack_of_fit_sigmas": LACK_OF_FIT,
        "departure_sigmas": AWAY,
        "contamination_share": CONTAMINATION,
        "window_ratio": WINDOW_RATIO,
        "after_share_smallest": min(AFTER_SHARES),
        "candidates": CANDIDATES,
        "record_tolerance_share": RECORD_TOLERANCE,
        "longest_lag_s": LONGEST_LAG_S,
        "coverage_probability": COVERAGE,
    },
)


@dataclass(frozen=True, slots=True, eq=False)
class Analysis:
    """A result together with the clean signals it came from (for figures); ``slack_n`` is the first pull's tare."""

    result: Result
    signals: Signals
    slack_n: float = 0.0


@dataclass(frozen=True, slots=True, eq=False)
class _Done:
    """One pull gone through: what the program read, and what a person said of it."""

    find: PullFind
    measured: PullMeasured | None
    review: PullReview | None = None
    moved: observe.Moved | None = None

    @property
    def stands(self) -> PullMeasured | None:
        """What the pull gives: as the program read it, or at the moment first lift was moved to."""
        return self.measured if self.moved is None else self.moved.measured

    @property
    def rejected(self) -> bool:
        """Whether a person took it out of what counts."""
        return self.review is not None and self.review.action is ReviewAction.REJECT


def analyse(recording: Recording, job: Job, limits: Limits, words: Worded) -> Analysis:
    """Analyse a test from its recording.

    Parameters
    ----------
    recording : Recording
    job : Job
    limits : Limits
        Of the code that judges (`firstlift.core.tolerance.limits.find_limits`).
    words : Worded
        Makes the findings' sentences.

    Returns
    -------
    Analysis
        Always one: a recording that shows nothing gives a result that says so.

    Raises
    ------
    FirstliftError
        REV-001 to REV-003 a person's review that does not fit the recording.
    """
    signals = condition(recording, job)
    findings = [*signals.findings, *observe.before(signals, job), *observe.edition(job, limits)]
    done = _reviewed(signals, job, _pulls(signals, job, findings))
    read = [_reading(d) for d in done]
    findings.extend(observe.after(signals, job, [d.find for d in done], read))
    findings.extend(_said_of(done, read, job, limits))
    # a rejected pull keeps its findings, but its number counts nowhere
    readings = [_without_number(r) if d.rejected else r for d, r in zip(done, read, strict=True)]
    outcome, reason = _outcome(signals, done, findings)
    verdict, more = judge_test(readings, limits, job) if outcome is not Outcome.UNUSABLE else (None, ())
    findings.extend(more)
    pop = observe.pop_distance(limits, verdict)
    findings.extend(pop)
    ordered = worst_first(findings)
    result = Result(
        outcome=outcome,
        reason=reason,
        tag=job.valve.tag,
        purpose=str(job.visit.purpose),
        method=METHOD,
        recording=RecordingRef(recording.sha256, recording.samples, recording.duration_s),
        pulls=tuple(_pull(d, ordered) for d in done),
        as_found=_as_found(readings, job),
        as_left=_as_left(readings, job),
        mean=_mean(readings),
        verdict=verdict,
        disposition=dispose(verdict, ordered, reason),
        findings=tuple(_worded(f, words) for f in ordered),
        budget=_budget(readings, verdict, limits),
    )
    return Analysis(result, signals, done[0].find.window.tare_n if done else 0.0)


def _reviewed(signals: Signals, job: Job, done: Sequence[_Done]) -> list[_Done]:
    """Put to each pull what a person said of it; a moved first lift is computed anew."""
    reviews = observe.check_reviews(job, [d.find.window.number for d in done])
    found: list[_Done] = []
    for each in done:
        review = reviews.get(each.find.window.number)
        moved = None
        if review is not None and review.action is ReviewAction.MOVE:
            moved = observe.move_first_lift(signals, job, each.find, each.measured, review)
        found.append(replace(each, review=review, moved=moved))
    return found


def _said_of(done: Sequence[_Done], read: Sequence[Reading], job: Job, limits: Limits) -> list[Finding]:
    """Say what a person did to each pull, and what becomes of a test whose first loading was rejected."""
    findings = [observe.of_review(d.review, d.find, d.measured, d.moved) for d in done if d.review is not None]
    if done and done[0].rejected and job.visit.purpose is Purpose.AS_FOUND:
        own = judge_reading(read[0], limits, job.rules.decision, job.rules.decision_probability)
        # taking the number away does not take away what it spoke of
        outside = own is not None and own.outcome is VerdictOutcome.OUTSIDE
        gravity = Severity.SEVERE if outside else Severity.WARNING
        findings.append(Finding("first-loading-rejected", gravity, read[0].number))
    return findings


def _without_number(reading: Reading) -> Reading:
    return Reading(reading.number, PullOutcome.UNUSABLE, None, None, None)


def _pulls(signals: Signals, job: Job, findings: list[Finding]) -> list[_Done]:
    """Go through the pulls in order: a valve that stayed open is open for every later one."""
    if signals.force is None or not observe.could_see_lift(signals):
        return []
    windows = find_pulls(signals.force)
    done: list[_Done] = []
    stayed_open = False
    for index, window in enumerate(windows):
        until = windows[index + 1].start_s if index + 1 < len(windows) else float(signals.force.time_s[-1])
        find = find_first_lift(signals, window, until_s=until, open_before=stayed_open)
        find = replace(find, findings=(*find.findings, *observe.of_pull(signals, find)))
        stayed_open = stayed_open or find.stayed_open
        measured = measure_pull(signals, job, find)
        if find.outcome in _NEEDS_FORCE and observe.saturated_by(signals, window, _needs_force_until(find)):
            # a cell at its stop before first lift hides the force: only a bound is left
            find = replace(find, outcome=PullOutcome.UNUSABLE)
            measured = None
        if measured is None and find.outcome in (PullOutcome.NOT_LIFTED, PullOutcome.UNUSABLE):
            measured = bound_pull(signals, job, window)
        if find.outcome is PullOutcome.MEASURED and measured is None:
            find = replace(find, outcome=PullOutcome.UNUSABLE)
        findings.extend(find.findings)
        done.append(_Done(find, measured))
    return done


def _needs_force_until(find: PullFind) -> float:
    """As far as the force must be trusted: a cell that stops bends the force itself, which must not pass for lift."""
    if find.joint is None:
        return find.window.end_s
    at, spread = find.joint.mean_s, find.joint.spread_s
    return at + 6.0 * spread + 0.1 * (at - find.window.start_s)


def _reading(done: _Done) -> Reading:
    m = done.stands
    return Reading(
        number=done.find.window.number,
        outcome=done.find.outcome,
        set_pressure_pa=m.pressure_pa if m is not None and not m.is_bound else None,
        budget=m.budget if m is not None else None,
        lower_bound_pa=m.pressure_pa if m is not None and m.is_bound else None,
    )


def _outcome(signals: Signals, done: Sequence[_Done], findings: list[Finding]) -> tuple[Outcome, str | None]:
    outcomes = [PullOutcome.UNUSABLE if d.rejected else d.find.outcome for d in done]
    if PullOutcome.MEASURED in outcomes:
        return Outcome.MEASURED, None
    if not outcomes:
        reason = observe.why_no_pull(signals)
        findings.append(Finding(reason, Severity.SEVERE))
        return Outcome.UNUSABLE, reason
    if PullOutcome.NOT_LIFTED in outcomes:
        largest = max(
            (d for d in done if d.measured is not None and not d.rejected),
            key=lambda d: d.measured.pressure_pa if d.measured else 0.0,
            default=None,
        )
        parameters = {}
        if largest is not None and largest.measured is not None:
            parameters = {
                "pull_force_n": largest.measured.pull_force_n,
                "lower_bound_pa": largest.measured.pressure_pa,
            }
        number = largest.find.window.number if largest is not None else None
        findings.append(Finding("not-lifted", Severity.SEVERE, number, parameters))
        return Outcome.NOT_LIFTED, "not-lifted"
    if PullOutcome.ALREADY_OPEN in outcomes:
        return Outcome.UNUSABLE, "already-open"
    if any(d.rejected for d in done):
        return Outcome.UNUSABLE, REJECTED
    return Outcome.UNUSABLE, observe.why_unusable(signals)


def _pull(done: _Done, findings: Sequence[Finding]) -> Pull:
    find, m = done.find, done.stands
    joint = find.joint
    number = find.window.number
    lifted = m is not None and not m.is_bound
    at_s, u_s = (None, None) if joint is None or not lifted else (joint.mean_s, joint.spread_s)
    if done.moved is not None:
        at_s, u_s = done.moved.at_s, done.moved.u_s
    return Pull(
        number=number,
        outcome=find.outcome,
        start_s=find.window.start_s,
        end_s=find.window.end_s,
        first_lift_s=at_s,
        first_lift_standard_uncertainty_s=u_s,
        closure_s=find.closure_s,
        line_pressure_pa=m.line_pressure_pa if m is not None else None,
        pull_force_n=m.pull_force_n if m is not None else None,
        set_pressure_pa=m.pressure_pa if m is not None and lifted else None,
        expanded_uncertainty_pa=m.budget.expanded_uncertainty_pa if m is not None else None,
        lower_bound_pa=m.pressure_pa if m is not None and m.is_bound else None,
        evidence=find.evidence,
        accepted=find.outcome is PullOutcome.MEASURED and not done.rejected,
        flags=tuple(dict.fromkeys(f.code for f in findings if f.pull == number)),
        fit=find.fit,
        signature=find.signature,
    )


def _as_found(readings: Sequence[Reading], job: Job) -> AsFound | None:
    if job.visit.purpose is not Purpose.AS_FOUND or not readings:
        return None
    first = readings[0]
    budget = first.budget
    return AsFound(
        pull=first.number,
        outcome=first.outcome,
        set_pressure_pa=first.set_pressure_pa,
        lower_bound_pa=first.lower_bound_pa,
        expanded_uncertainty_pa=budget.expanded_uncertainty_pa if budget else None,
        coverage_factor=budget.coverage_factor if budget else None,
        coverage_probability=budget.coverage_probability if budget else None,
    )


def _as_left(readings: Sequence[Reading], job: Job) -> AsLeft | None:
    if job.visit.purpose is not Purpose.AS_LEFT:
        return None
    last = last_openings(readings)[-job.rules.agreeing_pulls :]
    pulls = tuple(
        AsLeftPull(r.number, r.set_pressure_pa, r.budget.expanded_uncertainty_pa)
        for r in last
        if r.set_pressure_pa is not None and r.budget is not None
    )
    values = [p.set_pressure_pa for p in pulls]
    own = [r.budget.per_pull_pa for r in last if r.budget is not None]
    spread = job.rules.agreement_spread * job.valve.set_pressure.si
    return AsLeft(pulls, find_trend(values, own, spread)) if pulls else AsLeft((), False)


def _mean(readings: Sequence[Reading]) -> Mean | None:
    pairs = [
        (r, r.set_pressure_pa, r.budget) for r in readings if r.set_pressure_pa is not None and r.budget is not None
    ]
    if not pairs:
        return None
    budget = pairs[-1][2]
    mean = mean_over_pulls([p for _, p, _ in pairs], [b.per_pull_pa for _, _, b in pairs], shared_spread(budget))
    return Mean(tuple(r.number for r, _, _ in pairs), mean.mean_pa, mean.repeatability_pa, mean.expanded_uncertainty_pa)


def _budget(readings: Sequence[Reading], verdict: Verdict | None, limits: Limits) -> tuple[BudgetLine, ...]:
    """Give the lines of the judged value: the last judged pull, else the first that has a budget."""
    chosen = next((r for r in readings if verdict is not None and r.number == verdict.judged[-1]), None)
    chosen = chosen or next((r for r in readings if r.budget is not None), None)
    if chosen is None or chosen.budget is None:
        return ()
    lines = chosen.budget.lines
    return (*lines, *observe.pop_line(limits)) if chosen.set_pressure_pa is not None else lines


def _worded(finding: Finding, words: Worded) -> FindingText:
    return FindingText(
        finding.code,
        finding.severity,
        finding.pull,
        dict(finding.parameters),
        words.message(finding),
        words.advice(finding),
    )
