"""The figures of a certificate."""

from __future__ import annotations

from collections.abc import Sequence

from firstlift.certificate.glance import readings_of
from firstlift.certificate.model import Picture, Pictures, Section
from firstlift.core.job import Job
from firstlift.core.result import Pull, Result
from firstlift.figures import Trace, draw_budget, draw_limits, draw_pull, draw_test
from firstlift.words import numbers

MOST_PULLS = 12


def limits_picture(job: Job, result: Result) -> Pictures | None:
    """Draw the values against the limits; None where there is no limit or no value to show."""
    verdict, unit = result.verdict, job.valve.set_pressure.unit
    chosen = shown_pulls(result)
    readings = readings_of(job, result, chosen)
    if verdict is None or not any(r.value is not None or r.lower_bound is not None for r in readings):
        return None
    svg = draw_limits(
        readings,
        lower=float(numbers.in_unit(verdict.lower_pa, unit)),
        upper=float(numbers.in_unit(verdict.upper_pa, unit)),
        stamped=float(job.valve.set_pressure.number),
        unit=unit,
        width=490.0,
    )
    caption = "Each pull with its expanded uncertainty against the limits. Filled: judged. Arrow: proved lower bound."
    caption += _left_out(chosen, result)
    return Pictures((Picture(svg, caption, "Set pressure of each pull against the limits"),))


def budget_picture(result: Result) -> Pictures:
    """Draw the shares of the budget."""
    caption = "Share of each input in the variance of the judged value."
    return Pictures((Picture(draw_budget(result.budget, width=490.0), caption, "Bars of budget shares"),))


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


def traces_section(result: Result, traces: Sequence[Trace]) -> Section | None:
    """Draw the whole test and its pulls; None where there is no trace."""
    if not any(trace.time_s.size for trace in traces):
        return None
    whole = draw_test(traces, result.pulls, width=490.0, height=175.0)
    blocks = [
        Pictures(
            (
                Picture(
                    whole,
                    "The whole test. Numbered strips: pulls. Unbroken upright lines: first lifts.",
                    "All channels over the whole test",
                ),
            )
        )
    ]
    chosen = tuple(pull for pull in shown_pulls(result) if pull.start_s is not None)
    if chosen:
        blocks.append(_pulls(result, traces, chosen))
    return Section("Traces", tuple(blocks))


def _left_out(chosen: tuple[Pull, ...], result: Result) -> str:
    if len(chosen) == len(result.pulls):
        return ""
    return f" Shown are {len(chosen)} of {len(result.pulls)} pulls: judged ones, first and last before the others."


def _pulls(result: Result, traces: Sequence[Trace], chosen: tuple[Pull, ...]) -> Pictures:
    key = "Unbroken upright line: first lift, shaded two standard uncertainties to each side. Dotted: closure. "
    key += "Long and short dashes: fit before and after."
    key += _left_out(chosen, result)
    alone = len(chosen) == 1
    width, height = (490.0, 330.0) if alone else (240.0, 290.0)
    pictures = tuple(
        Picture(
            draw_pull(traces, pull, width=width, height=height),
            key if index == 0 else "",
            f"Force, lift, sound and line pressure of pull {pull.number}",
        )
        for index, pull in enumerate(chosen)
    )
    return Pictures(pictures, 1 if alone else 2)
