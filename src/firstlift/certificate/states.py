"""Sections that say what the pulls amount to: as found, as left, mean; and what each channel said of first lift."""

from __future__ import annotations

from collections.abc import Sequence

from firstlift import words
from firstlift.certificate.model import Column, Section, Table
from firstlift.core.job import Job
from firstlift.core.result import AsFound, Evidence, Mean, Pull, Result
from firstlift.words import numbers
from firstlift.words.paper import Speaker

_CHANNELS = ("lift", "sound", "force")


def states(job: Job, result: Result, say: Speaker) -> Section | None:
    """Give as found, as left and mean, the mean marked as information; None where there is none of them."""
    unit = job.valve.set_pressure.unit
    rows: list[tuple[str, ...]] = []
    if result.as_found is not None:
        rows.append(_found(result.as_found, unit, say))
    if result.as_left is not None:
        remark = say("states.drift" if result.as_left.trend else "states.no-trend")
        for pull in result.as_left.pulls:
            value = numbers.format_pressure(pull.set_pressure_pa, unit, pull.expanded_uncertainty_pa)
            rows.append((say("states.left"), str(pull.pull), value, remark))
    if result.mean is not None:
        rows.append(_mean(result.mean, unit, say))
    if not rows:
        return None
    columns = (
        Column(say("states.state"), weight=1.3),
        Column(say("pulls.pull"), weight=0.9),
        Column(say("states.value"), weight=1.2),
        Column(say("states.remark"), weight=1.8),
    )
    return Section(say("states"), (Table(columns, tuple(rows)),), together=True)


def _found(found: AsFound, unit: str, say: Speaker) -> tuple[str, ...]:
    what = words.pull_outcome(found.outcome, language=say.language)
    if found.lower_bound_pa is not None:
        what = say("states.opens-above", what=what, bound=numbers.format_value(found.lower_bound_pa, unit))
    value = numbers.format_pressure(found.set_pressure_pa, unit, found.expanded_uncertainty_pa)
    return (say("states.found"), str(found.pull), value, what)


def _mean(mean: Mean, unit: str, say: Speaker) -> tuple[str, ...]:
    remark = say("states.not-judged")
    if mean.repeatability_pa is not None:
        remark = say("states.spread", spread=numbers.format_value(mean.repeatability_pa, unit, digits=2))
    value = numbers.format_pressure(mean.set_pressure_pa, unit, mean.expanded_uncertainty_pa)
    return (say("states.mean"), runs(mean.pulls, say), value, remark)


def runs(chosen: Sequence[int], say: Speaker) -> str:
    """Print pull numbers, those in a row as a range: "1 to 4, 7".

    Parameters
    ----------
    chosen : sequence of int
        Rising.
    say : Speaker

    Returns
    -------
    str
    """
    parts: list[list[int]] = []
    for number in chosen:
        if parts and number == parts[-1][-1] + 1:
            parts[-1].append(number)
        else:
            parts.append([number])
    shown = (
        say("to", first=part[0], last=part[-1]) if len(part) > 2 else ", ".join(str(number) for number in part)
        for part in parts
    )
    return ", ".join(shown)


def evidence(result: Result, say: Speaker) -> Section | None:
    """Give the instant each channel alone points to and its weight, a row a pull; None where nothing lifted."""
    lifted = [pull for pull in result.pulls if pull.first_lift_s is not None and pull.evidence]
    if not lifted:
        return None
    seen = [name for name in _CHANNELS if any(_of(pull, name) for pull in lifted)]
    columns = (
        Column(say("pulls.pull"), align="right", weight=0.4),
        Column(say("evidence.joint"), "s", "right", 1.2),
        *(Column(say(f"channel.{name}"), "s", "right", 1.6) for name in seen),
    )
    rows = tuple(
        (
            str(pull.number),
            _bare_time(pull.first_lift_s, pull.first_lift_standard_uncertainty_s),
            *(_said(_of(pull, name)) for name in seen),
        )
        for pull in lifted
    )
    return Section(say("evidence"), (Table(columns, rows, (), (say("evidence.key"),)),), together=True)


def _of(pull: Pull, name: str) -> Evidence | None:
    long = {"lift": "spindle_lift", "sound": "acoustic", "force": "pull_force"}[name]
    return next((e for e in pull.evidence if e.channel in (name, long)), None)


def _said(evidence: Evidence | None) -> str:
    if evidence is None or evidence.first_lift_s is None:
        return "–"
    share = numbers.format_share(evidence.weight)
    return f"{_bare_time(evidence.first_lift_s, evidence.standard_uncertainty_s)} ({share})"


def _bare_time(seconds: float | None, u: float | None) -> str:
    return numbers.format_time(seconds, u).removesuffix(" s")
