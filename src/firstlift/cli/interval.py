"""``firstlift interval``: when to test valves next, and why."""

from __future__ import annotations

import argparse
import json
from collections.abc import Sequence
from pathlib import Path

from firstlift import words
from firstlift.cli.show import prints_unicode, show
from firstlift.core.errors import Finding, Problem, UsageError
from firstlift.core.reliability.answer import OVERHAUL, Answer, Evidence, GroupAnswer, ValveAnswer
from firstlift.core.reliability.history import Entry
from firstlift.formats.interval_rows import read_interval_rows, read_interval_tables
from firstlift.usecases.certify import write_whole
from firstlift.usecases.interval import Asked, draw_group_drift, draw_group_survival, group_named, next_dates, plain
from firstlift.words.numbers import format_share

_MOST_SHOWN = 40


def run(arguments: argparse.Namespace) -> int:
    """Run the command.

    Parameters
    ----------
    arguments : argparse.Namespace

    Returns
    -------
    int
        0: done.

    Raises
    ------
    FirstliftError
        The table cannot be read, or says nothing; UsageError where an option makes no sense.
    """
    answer = next_dates(_rows(arguments), asked_of(arguments), read_interval_tables())
    valves = _asked_valves(answer, arguments.valve)
    drawn = _draw(answer, arguments)
    for path, picture in drawn:
        write_whole(path, picture.encode("utf-8"))
    if arguments.json:
        whole = plain(answer)
        named = {valve.valve for valve in valves}
        whole["valves"] = [valve for valve in whole["valves"] if valve["valve"] in named]
        show(json.dumps(whole, ensure_ascii=not prints_unicode(), allow_nan=False))
    else:
        _show_answer(answer, valves)
    return 0


def asked_of(arguments: argparse.Namespace) -> Asked:
    """Give what the options ask of an interval.

    Parameters
    ----------
    arguments : argparse.Namespace

    Returns
    -------
    Asked
    """
    return Asked(
        target=arguments.target,
        danger_ratio=arguments.danger_ratio,
        method=arguments.method,
        effectiveness=arguments.effectiveness,
        service=arguments.service,
        prior=arguments.prior,
        owner_max_yr=arguments.owner_max,
        jurisdiction_max_yr=arguments.jurisdiction_max,
        jurisdiction_rule=arguments.jurisdiction_rule,
        step_rule=not arguments.no_step_rule,
    )


def _rows(arguments: argparse.Namespace) -> tuple[Entry, ...]:
    if (arguments.tests is None) == (arguments.store is None):
        needed = "a table of tests, or --store with a register"
        raise UsageError(Problem("REL-013", "the tests are not named once", "TESTS.csv, --store", needed))
    if arguments.tests is not None:
        return read_interval_rows(Path(arguments.tests))
    from firstlift.usecases.register.lives import rows_of_register
    from firstlift.usecases.register.place import opened

    with opened(arguments.store) as store:
        return rows_of_register(store, group_by=arguments.group_by)


def _asked_valves(answer: Answer, names: Sequence[str]) -> tuple[ValveAnswer, ...]:
    known = {valve.valve: valve for valve in answer.valves}
    for name in names:
        if name not in known:
            raise UsageError(Problem("REL-011", f"there is no valve '{name}'", "--valve", "a valve of the table"))
    return tuple(known[name] for name in names) if names else answer.valves


def _draw(answer: Answer, arguments: argparse.Namespace) -> list[tuple[Path, str]]:
    drawn: list[tuple[Path, str]] = []
    for name, draw in (("survival", draw_group_survival), ("drift", draw_group_drift)):
        where = getattr(arguments, name)
        if where is not None:
            drawn.append((Path(where), draw(answer, group_named(answer, arguments.group))))
    return drawn


def _show_answer(answer: Answer, valves: Sequence[ValveAnswer]) -> None:
    terms = answer.terms
    show(
        f"target        at most {format_share(terms.target)} of finds failed to danger "
        f"(stuck, or opening above {terms.danger_ratio:g} of set pressure)"
    )
    for group in answer.groups:
        _show_group(group)
    for finding in answer.findings:
        _show_finding(finding)
    show("")
    shown = sorted(valves, key=lambda valve: valve.due)
    for valve in shown[:_MOST_SHOWN]:
        _show_valve(valve, whole=len(shown) <= 3)
    if len(shown) > _MOST_SHOWN:
        show(f"... and {len(shown) - _MOST_SHOWN} more valves, due later; --json gives all, --valve one of them.")
    show("The owner, the code and the jurisdiction decide; this is a recommendation.")


def _show_group(group: GroupAnswer) -> None:
    show("")
    show(
        f"group         {group.group}: {group.valves} valves, {group.lives.total:.0f} lives, "
        f"{group.lives.ended:.0f} found failed to danger"
    )
    show(f"interval      {group.recommended_yr:.1f} years from overhaul; the tests allow {_range(group.evidence)}")
    for finding in group.reasons:
        _show_finding(finding)


def _range(evidence: Evidence) -> str:
    ends = [f"{value:.1f}" if value < 100.0 else "more than 100" for value in (evidence.low_yr, evidence.high_yr)]
    middle = f"{evidence.estimate_yr:.1f}" if evidence.estimate_yr < 100.0 else "more than 100"
    return f"{ends[0]} to {ends[1]} years (95 %), best estimate {middle}"


def _show_valve(valve: ValveAnswer, *, whole: bool) -> None:
    because = words.title(valve.reasons[0].code) if valve.reasons else ""
    extra = f"; {words.title(OVERHAUL)}" if valve.because == OVERHAUL else ""
    show(f"due {valve.due.isoformat()}  {valve.valve}  ({valve.recommended_yr:.1f} years: {because}{extra})")
    if whole:
        show(f"  last {valve.last.isoformat()}, age {valve.age_yr:.1f} years; the tests allow {_range(valve.evidence)}")
        for finding in valve.reasons:
            _show_finding(finding)


def _show_finding(finding: Finding) -> None:
    mark = {"info": "-", "warning": "!", "severe": "!!"}[str(finding.severity)]
    show(f"  {mark} {words.message(finding)}")
