"""The figures of a certificate."""

from __future__ import annotations

from collections.abc import Sequence

from firstlift.certificate.glance import readings_of
from firstlift.certificate.model import Picture, Pictures, Section
from firstlift.core.job import Job
from firstlift.core.result import Pull, Result
from firstlift.figures import Past, Trace, draw_budget, draw_history, draw_limits, draw_pull, draw_test
from firstlift.words import numbers
from firstlift.words.paper import Speaker

MOST_PULLS = 12


def limits_picture(job: Job, result: Result, say: Speaker) -> Pictures | None:
    """Draw the values against the limits; None where there is no limit or no value to show."""
    verdict, unit = result.verdict, job.valve.set_pressure.unit
    chosen = shown_pulls(result)
    readings = readings_of(job, result, chosen, say)
    if verdict is None or not any(r.value is not None or r.lower_bound is not None for r in readings):
        return None
    svg = draw_limits(
        readings,
        lower=float(numbers.in_unit(verdict.lower_pa, unit)),
        upper=float(numbers.in_unit(verdict.upper_pa, unit)),
        stamped=float(job.valve.set_pressure.number),
        unit=unit,
        width=490.0,
        say=say,
    )
    caption = _left_out(say("rule.figure"), chosen, result, say)
    return Pictures((Picture(svg, caption, say("rule.figure-alt")),))


def budget_picture(result: Result, say: Speaker) -> Pictures:
    """Draw the shares of the budget."""
    svg = draw_budget(result.budget, width=490.0, say=say)
    return Pictures((Picture(svg, say("budget.figure"), say("budget.figure-alt")),))


def shown_pulls(result: Result) -> tuple[Pull, ...]:
    """Choose the pulls to draw: all of them, or where there are many the first, the judged, flagged and last ones."""
    if len(result.pulls) <= MOST_PULLS:
        return result.pulls
    judged = set(result.verdict.judged) if result.verdict else set()
    first, last = result.pulls[0].number, result.pulls[-1].number
    rank = {
        pull.number: 0 if pull.number in judged or pull.number in (first, last) else (1 if pull.flags else 2)
        for pull in result.pulls
    }
    chosen = {p.number for p in sorted(result.pulls, key=lambda p: (rank[p.number], p.number))[:MOST_PULLS]}
    return tuple(pull for pull in result.pulls if pull.number in chosen)


def traces_section(result: Result, traces: Sequence[Trace], say: Speaker) -> Section | None:
    """Draw the whole test and its pulls; None where there is no trace."""
    if not any(trace.time_s.size for trace in traces):
        return None
    whole = draw_test(traces, result.pulls, width=490.0, height=175.0, say=say)
    blocks = [Pictures((Picture(whole, say("traces.whole"), say("traces.whole-alt")),))]
    timed = tuple(pull for pull in result.pulls if pull.start_s is not None)
    large = tuple(pull for pull in shown_pulls(result) if pull.start_s is not None)
    small = tuple(pull for pull in timed if pull not in large)
    if large:
        blocks.append(_pulls(traces, large, say, rest=len(small)))
    if small:
        blocks.append(_small_pulls(traces, small, say))
    return Section(say("traces"), tuple(blocks))


def history_section(job: Job, result: Result, history: Sequence[Past], say: Speaker) -> Section | None:
    """Draw earlier tests of the valve and this one; None where there is no earlier one."""
    if not history:
        return None
    verdict, unit = result.verdict, job.valve.set_pressure.unit
    svg = draw_history(
        (*history, *_this_test(job, result)),
        lower=None if verdict is None else float(numbers.in_unit(verdict.lower_pa, unit)),
        upper=None if verdict is None else float(numbers.in_unit(verdict.upper_pa, unit)),
        unit=unit,
        width=490.0,
        say=say,
    )
    return Section(
        say("history"), (Pictures((Picture(svg, say("history.figure"), say("history.alt")),)),), together=True
    )


def _this_test(job: Job, result: Result) -> tuple[Past, ...]:
    unit, on = job.valve.set_pressure.unit, job.visit.date

    def shown(pa: float | None) -> float | None:
        return None if pa is None else float(numbers.in_unit(pa, unit))

    found, left = result.as_found, result.as_left
    if found is not None:
        value, half = shown(found.set_pressure_pa), shown(found.expanded_uncertainty_pa)
        return (Past(on, value, half, shown(found.lower_bound_pa), current=True),)
    if left is not None and left.pulls:
        last = left.pulls[-1]
        value, half = shown(last.set_pressure_pa), shown(last.expanded_uncertainty_pa)
        return (Past(on, value, half, as_left=True, current=True),)
    return ()


def _left_out(text: str, chosen: tuple[Pull, ...], result: Result, say: Speaker) -> str:
    if len(chosen) == len(result.pulls):
        return text
    return say("traces.left-out", text=text, shown=len(chosen), pulls=len(result.pulls))


def _pulls(traces: Sequence[Trace], chosen: tuple[Pull, ...], say: Speaker, *, rest: int) -> Pictures:
    key = say("traces.key") if not rest else say("traces.large", text=say("traces.key"), large=len(chosen))
    alone = len(chosen) == 1
    width, height = (490.0, 330.0) if alone else (240.0, 290.0)
    pictures = tuple(
        Picture(
            draw_pull(traces, pull, width=width, height=height, say=say),
            key if index == 0 else "",
            say("traces.pull-alt", number=pull.number),
        )
        for index, pull in enumerate(chosen)
    )
    return Pictures(pictures, 1 if alone else 2)


def _small_pulls(traces: Sequence[Trace], chosen: tuple[Pull, ...], say: Speaker) -> Pictures:
    """Draw the pulls that are neither judged nor flagged: force and lift alone, three to a row."""
    kept = [trace for trace in traces if trace.measures in ("pull_force", "spindle_lift")]
    pictures = tuple(
        Picture(
            draw_pull(kept, pull, width=160.0, height=150.0, say=say),
            say("traces.small") if index == 0 else "",
            say("traces.pull-alt", number=pull.number),
        )
        for index, pull in enumerate(chosen)
    )
    return Pictures(pictures, 3)
