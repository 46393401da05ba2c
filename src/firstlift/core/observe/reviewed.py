"""What a person said of a pull: rejected, or first lift moved, with what that does to the number."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np

from firstlift.core.errors import Finding, FirstliftError, Problem, Severity
from firstlift.core.job import Job, PullReview, ReviewAction
from firstlift.core.lift.find import PullFind
from firstlift.core.lift.fuse import Joint
from firstlift.core.lift.level import level_at
from firstlift.core.line import line_pressure
from firstlift.core.measure import COVERAGE, PullMeasured, measure_pull
from firstlift.core.observe.channels import saturated_by
from firstlift.core.result import REJECTED, PullOutcome
from firstlift.core.signal.condition import Signals
from firstlift.core.uncertainty.budget import Input

_MOMENT = "moment of first lift and noise"
_BETWEEN = 21


@dataclass(frozen=True, slots=True, eq=False)
class Moved:
    """A pull whose first lift was moved: the moment with its standard uncertainty, [s], and what it gives."""

    at_s: float
    u_s: float
    measured: PullMeasured


def check_reviews(job: Job, pulls: Sequence[int]) -> Mapping[int, PullReview]:
    """Give the reviews of a job by pull.

    Parameters
    ----------
    job : Job
    pulls : sequence of int
        Numbers of the pulls that were found.

    Returns
    -------
    mapping of int to PullReview

    Raises
    ------
    FirstliftError
        REV-001 a review names a pull that the recording does not hold.
    """
    for review in job.reviews:
        if review.pull not in pulls:
            held = f"pulls 1 to {len(pulls)}" if pulls else "no pull"
            raise FirstliftError(
                Problem(
                    "REV-001", f"pull {review.pull} is reviewed", job.recording.file, f"a pull of it: it has {held}"
                )
            )
    return {review.pull: review for review in job.reviews}


def move_first_lift(
    signals: Signals, job: Job, find: PullFind, measured: PullMeasured | None, review: PullReview
) -> Moved:
    """Compute a pull with first lift at the moment that a person chose.

    Force and line are read at that moment, the rest is computed as for every pull. Nobody knows which of the two
    moments is nearer the truth, so the budget gets a rectangle beside what the program's own moment leaves open. Its
    half width is the largest distance of the opening load between the two moments over the coverage probability:
    the expanded uncertainty then always reaches the value that the program read.

    Parameters
    ----------
    signals : Signals
    job : Job
    find : PullFind
    measured : PullMeasured or None
        What the program's own moment gave.
    review : PullReview
        With the moment, on the recording's own clock.

    Returns
    -------
    Moved

    Raises
    ------
    FirstliftError
        REV-002 the program found no first lift in this pull; REV-003 the moment lies outside the pull, after the valve
        shut, in a gap of the force, or after a cell ran into its stop.

    References
    ----------
    .. [1] JCGM 100:2008, 4.3.7: only bounds are known, every value between them equally likely.
    """
    joint, force, at = find.joint, signals.force, review.first_lift_s
    lifted = find.outcome is PullOutcome.MEASURED and measured is not None and not measured.is_bound
    if joint is None or force is None or at is None or measured is None or not lifted:
        raise FirstliftError(
            Problem(
                "REV-002",
                f"no first lift was found in pull {review.pull}, so there is none to move",
                job.recording.file,
                "a pull with a set pressure",
                "Reject the pull, or pull again",
            )
        )
    _check_moment(signals, job, find, review.pull, at)
    span = np.linspace(joint.mean_s, at, _BETWEEN)[:, None]
    # each instant with a window of its own: the force bends between them
    near = {"shortest_s": 5.0 * force.step_s, "longest_s": 0.5}
    pulled, u_pulled = (np.concatenate(part) for part in zip(*(level_at(force, t, **near) for t in span), strict=True))
    line = np.concatenate([line_pressure(signals, job, t)[0] for t in span])
    area = job.seat.area_m2
    opening = line + (pulled - find.window.zero_n(at)[0] - job.weight_on_spindle_n) / area
    own = measured.line_pressure_pa + measured.pull_force_n / area
    half_width = max(float(np.abs(opening - opening[-1]).max()), abs(own - float(opening[-1]))) / COVERAGE
    kept = next(line.standard_uncertainty for line in measured.budget.lines if line.quantity == _MOMENT)
    chosen = Joint(
        np.array([at]), np.array([1.0]), joint.channels, pulled[-1:], np.hypot(u_pulled[-1:], kept * area)
    )  # fmt: skip
    beside = Input(
        "moment moved by hand", float(opening[-1]) - own, "Pa", half_width / math.sqrt(3.0), "rectangular"
    )  # fmt: skip
    moved = measure_pull(signals, job, replace(find, joint=chosen), beside=(beside,) if half_width > 0.0 else ())
    if moved is None:
        raise _outside(job, review.pull, at, "where the line pressure is not known", "a moment with line pressure")
    return Moved(at, math.hypot(joint.spread_s, (at - joint.mean_s) / math.sqrt(3.0)), moved)


def _check_moment(signals: Signals, job: Job, find: PullFind, pull: int, at: float) -> None:
    window = find.window
    end = window.end_s if find.closure_s is None else min(window.end_s, find.closure_s)
    if not window.start_s < at < end:
        raise _outside(job, pull, at, "outside the pull", f"a moment from {window.start_s:.3f} s to {end:.3f} s")
    gaps = () if signals.force is None else signals.force.gaps
    if any(low < at < high for low, high in gaps):
        raise _outside(job, pull, at, "in a gap of the force", "a moment with samples")
    if saturated_by(signals, window, at):
        raise _outside(job, pull, at, "after a cell ran into its stop", "a moment while the force can be trusted")


def _outside(job: Job, pull: int, at: float, why: str, needed: str) -> FirstliftError:
    what = f"first lift of pull {pull} cannot be moved to {at:.3f} s: that is {why}"
    return FirstliftError(Problem("REV-003", what, job.recording.file, needed, "Move it there, or reject the pull"))


def of_review(review: PullReview, find: PullFind, own: PullMeasured | None, moved: Moved | None) -> Finding:
    """Say what a person did to a pull, and what the program had read.

    Parameters
    ----------
    review : PullReview
    find : PullFind
    own, moved : what the program's moment gave, and the moved one; None where there is none

    Returns
    -------
    Finding
    """
    lifted = own is not None and not own.is_bound
    parameters = {
        "reason": review.reason,
        "by": review.by,
        "at": review.at.isoformat(timespec="minutes"),
        "read_set_pressure_pa": own.pressure_pa if own is not None and lifted else None,
        "read_first_lift_s": find.joint.mean_s if find.joint is not None and lifted else None,
    }
    if review.action is ReviewAction.REJECT:
        return Finding(REJECTED, Severity.WARNING, review.pull, parameters)
    made = {"moved_first_lift_s": review.first_lift_s, "set_pressure_pa": moved.measured.pressure_pa if moved else None}
    return Finding("first-lift-moved", Severity.WARNING, review.pull, parameters | made)
