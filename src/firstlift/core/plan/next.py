"""What next after a pull: whether another action can change the answer, and what each is worth.

One way of reckoning for all actions. What is known of the valve now is a normal distribution about the reading
with the reading's uncertainty u. After an action the uncertainty is u'; the new best value then lies about the
present one with variance u^2 - u'^2, for that is what the action teaches. The chance that the verdict on that
value is decided is the action's worth.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from firstlift.core.job import Job, Measures, Purpose
from firstlift.core.plan.decide import Edges, find_edges, probability_decided
from firstlift.core.plan.forecast import forecast_lines
from firstlift.core.plan.help import BETTER, with_better, with_better_area
from firstlift.core.tolerance.limits import Limits
from firstlift.core.uncertainty.budget import Input, make_spread
from firstlift.core.uncertainty.correlation import NONE
from firstlift.core.uncertainty.coverage import Spread
from firstlift.core.uncertainty.instruments import shared_correlations

# an action is worth naming where it decides at least every other time
_WORTH = 0.5
_MOST_PULLS = 20.0
# a rise of the line is looked for in twelve steps, and is enough where it decides four times out of five
_RISES = 12
_OFTEN = 0.8


@dataclass(frozen=True, slots=True)
class ActionValue:
    """One possible action: "one-more-pull", "more-line", "better-area", "better-gauge" or "better-cells".

    ``u_before_pa`` and ``u_after_pa`` are standard uncertainties of what is known of the set pressure.
    ``changes_verdict``: whether the verdict may rest on it; as found is the first loading alone, so that
    another pull tells where the valve stands but leaves that verdict. ``worth_pulls``: how many more pulls
    bring the same (None: no number of pulls does). ``raise_pa`` is how far the line goes up.
    """

    action: str
    u_before_pa: float
    u_after_pa: float
    probability_decided: float
    changes_verdict: bool
    worth_pulls: float | None
    raise_pa: float | None = None


@dataclass(frozen=True, slots=True)
class Next:
    """The verdict as it stands on what is known now, the actions by their worth, and the one line.

    ``advice`` is "next-decided-stop", "next-<action>" or "next-nothing-helps"; ``chosen`` the action it names.
    """

    outcome: str
    advice: str
    chosen: ActionValue | None
    actions: tuple[ActionValue, ...]


@dataclass(frozen=True, slots=True)
class _Known:
    job: Job
    limits: Limits
    reading_pa: float
    line_pa: float
    u_moment_pa: float
    pulls: int


def what_next(
    job: Job,
    limits: Limits,
    readings_pa: Sequence[float],
    line_pa: float,
    *,
    u_moment_pa: float,
    highest_pa: float,
) -> Next:
    """Weigh what could be done after the pulls so far.

    Parameters
    ----------
    job : Job
        Its purpose says what the verdict rests on.
    limits : Limits
    readings_pa : sequence of float, [Pa gauge]
        Set pressures of the pulls so far in order, one or more.
    line_pa : float, [Pa gauge]
        Line pressure of the pulls.
    u_moment_pa : float, [Pa]
        Standard uncertainty of each pull's own (moment of first lift and noise).
    highest_pa : float, [Pa gauge]
        As far as the line may be raised.

    Returns
    -------
    Next

    References
    ----------
    .. [1] Value of information of normal quantities, H. Raiffa and R. Schlaifer, Applied Statistical Decision
       Theory (1961) (memory); conformance probability by JCGM 106:2012.
    """
    as_found = job.visit.purpose is Purpose.AS_FOUND
    reading = readings_pa[0] if as_found else readings_pa[-1]
    known = _Known(job, limits, reading, line_pa, u_moment_pa, len(readings_pa))
    edges = find_edges(job, limits, line_pa, u_moment_pa)
    outcome = edges.outcome(reading)
    actions = [_pull(known, edges, as_found)]
    line = _more_line(known, highest_pa, as_found)
    if line is not None:
        actions.append(line)
    actions.append(_better(known, "better-area", with_better_area(job, BETTER)))
    actions.append(_better(known, "better-gauge", with_better(job, Measures.LINE_PRESSURE)))
    actions.append(_better(known, "better-cells", with_better(job, Measures.PULL_FORCE)))
    # the most certain first; between equals what the verdict may rest on, then the smaller uncertainty
    actions.sort(key=lambda a: (-round(a.probability_decided, 3), not a.changes_verdict, a.u_after_pa))
    if outcome != "undecided":
        return Next(outcome, "next-decided-stop", None, tuple(actions))
    best = actions[0]
    if best.probability_decided < _WORTH:
        return Next(outcome, "next-nothing-helps", None, tuple(actions))
    return Next(outcome, f"next-{best.action}", best, tuple(actions))


def _parts(job: Job, line_pa: float, reading_pa: float, u_moment_pa: float) -> tuple[Spread, float, float]:
    """Give the whole distribution, and the standard uncertainties of what pulls share and of a pull's own."""
    lines = forecast_lines(job, line_pa, reading_pa, u_moment_pa)
    shared = [line for line in lines if line.common_to != "pull"]
    own = [line for line in lines if line.common_to == "pull"]
    return make_spread(lines, shared_correlations(lines)), _u(shared), _u(own)


def _u(lines: Sequence[Input]) -> float:
    return make_spread(lines, shared_correlations(lines) or NONE).standard_uncertainty if lines else 0.0


def _worth_pulls(u_after: float, u_shared: float, u_own: float, pulls: int) -> float | None:
    """Give how many more pulls bring the mean to an uncertainty; None where none does."""
    room = u_after**2 - u_shared**2
    if room <= 0.0 or u_own == 0.0:
        return None
    more = u_own**2 / room - pulls
    return None if more > _MOST_PULLS else max(0.0, more)


def _decided(edges: Edges, reading_pa: float, u_before: float, u_after: float) -> float:
    return probability_decided(edges, reading_pa, math.sqrt(max(0.0, u_before**2 - u_after**2)))


def _pull(known: _Known, edges: Edges, as_found: bool) -> ActionValue:
    _, shared, own = _parts(known.job, known.line_pa, known.reading_pa, known.u_moment_pa)
    before = math.hypot(shared, own / math.sqrt(known.pulls))
    after = math.hypot(shared, own / math.sqrt(known.pulls + 1))
    if as_found:
        # the verdict stays with the first loading; what more pulls bring is the mean's uncertainty
        decided = 1.0 if edges.outcome(known.reading_pa) != "undecided" else _mean_decides(known, before, after)
    else:
        # the next opening is judged alone: it lies about this one by both openings' own uncertainty
        decided = probability_decided(edges, known.reading_pa, own * math.sqrt(2.0))
    return ActionValue("one-more-pull", before, after, decided, not as_found, 1.0)


def _mean_decides(known: _Known, before: float, after: float) -> float:
    """Give the chance that the mean, with the own part of one more pull, would be decided."""
    own = known.u_moment_pa / math.sqrt(known.pulls + 1)
    edges = find_edges(known.job, known.limits, known.line_pa, own)
    return _decided(edges, known.reading_pa, before, after)


def _more_line(known: _Known, highest_pa: float, as_found: bool) -> ActionValue | None:
    """Find the smallest rise of the line that decides often enough, or the best one where none does."""
    room = highest_pa - known.line_pa
    if room <= 0.0:
        return None
    spread, shared, own = _parts(known.job, known.line_pa, known.reading_pa, known.u_moment_pa)
    before = spread.standard_uncertainty
    line, decided = known.line_pa, -1.0
    for step in range(1, _RISES + 1):
        tried = known.line_pa + room * step / _RISES
        chance = _decided_at(known, tried, before)
        if chance > decided:
            line, decided = tried, chance
        if chance >= _OFTEN:
            break
    after = _parts(known.job, line, known.reading_pa, known.u_moment_pa)[0].standard_uncertainty
    return ActionValue(
        action="more-line",
        u_before_pa=before,
        u_after_pa=after,
        probability_decided=decided,
        changes_verdict=not as_found,
        worth_pulls=_worth_pulls(after, shared, own, known.pulls),
        raise_pa=line - known.line_pa,
    )


def _decided_at(known: _Known, line_pa: float, u_before: float) -> float:
    after = _parts(known.job, line_pa, known.reading_pa, known.u_moment_pa)[0].standard_uncertainty
    edges = find_edges(known.job, known.limits, line_pa, known.u_moment_pa)
    return _decided(edges, known.reading_pa, u_before, after)


def _better(known: _Known, action: str, job: Job) -> ActionValue:
    spread, shared, own = _parts(known.job, known.line_pa, known.reading_pa, known.u_moment_pa)
    after = _parts(job, known.line_pa, known.reading_pa, known.u_moment_pa)[0].standard_uncertainty
    edges = find_edges(job, known.limits, known.line_pa, known.u_moment_pa)
    before = spread.standard_uncertainty
    return ActionValue(
        action=action,
        u_before_pa=before,
        u_after_pa=after,
        probability_decided=_decided(edges, known.reading_pa, before, after),
        # the same first loading is read again with a better area or gauge: it may change the verdict
        changes_verdict=True,
        worth_pulls=_worth_pulls(after, shared, own, known.pulls),
    )
