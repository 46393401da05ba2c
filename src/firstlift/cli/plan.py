"""``firstlift plan``: before a pull and after it."""

from __future__ import annotations

import argparse
import json
from pathlib import Path
from typing import TYPE_CHECKING

from firstlift.cli.plan_confirm import confirm_typed, confirmed_lines
from firstlift.cli.plan_text import card_lines, following_lines, group_lines, hold_lines, plan_lines, sibling_lines
from firstlift.cli.say import finding_lines, with_words
from firstlift.cli.show import prints_unicode, show
from firstlift.core.errors import Problem, UsageError
from firstlift.core.plan.system import SystemJudged
from firstlift.core.result import to_json
from firstlift.usecases.certify import write_whole
from firstlift.usecases.plan import (
    Followed,
    PlanAsked,
    Planned,
    check_written,
    follow,
    judge_group,
    plan_jobsheet,
)
from firstlift.usecases.plan_figures import draw_plan_envelope, draw_plan_map
from firstlift.words.planning import next_line

if TYPE_CHECKING:
    from firstlift.usecases.register.around import Around


def run(arguments: argparse.Namespace) -> int:
    """Run the command.

    Parameters
    ----------
    arguments : argparse.Namespace

    Returns
    -------
    int
        0 go, or decided; 1 anything else.

    Raises
    ------
    FirstliftError
        The job sheet or the result cannot be read; UsageError where what was typed makes no sense.
    """
    planned = plan_jobsheet(_asked(arguments))
    if arguments.check:
        return _check(planned, Path(arguments.check), as_json=arguments.json)
    if arguments.confirm:
        confirm_typed(planned, arguments)
        return 0
    followed = follow(planned, Path(arguments.after)) if arguments.after else None
    around = _around(planned, arguments)
    group = _group(planned, arguments) if around is None else around.system
    written = _write(planned, followed, arguments)
    if arguments.json:
        data = to_json(planned.plan) if followed is None else _following(followed, planned.unit)
        if group is not None:
            data["system"] = with_words(group, planned.unit)
        if around is not None:
            data["siblings"] = to_json(around.siblings)
        show(json.dumps(data, ensure_ascii=not prints_unicode(), allow_nan=False))
    else:
        for line in _lines(planned, followed, arguments):
            show(line)
        for line in group_lines(group, planned.unit) if group is not None else ():
            show(line)
        for line in sibling_lines(around.siblings, around.wanted) if around is not None else ():
            show(line)
        for option, name in written:
            show(f"{option}: {name}")
    if group is not None and not group.sound:
        return 1
    if followed is not None:
        return 0 if followed.next.advice == "next-decided-stop" else 1
    return 0 if planned.plan.go == "go" else 1


def _asked(arguments: argparse.Namespace) -> PlanAsked:
    return PlanAsked(
        sheet=Path(arguments.jobsheet),
        line=arguments.line,
        highest_line=arguments.highest_line,
        frame_limit=arguments.frame_limit,
        cell_capacity=arguments.cell_capacity,
        spindle_limit=arguments.spindle_limit,
        stop=arguments.stop,
        moment_uncertainty=arguments.moment_uncertainty,
        spread=arguments.spread,
        rated_lift=arguments.rated_lift,
        answers=tuple(arguments.answer),
    )


def _check(planned: Planned, file: Path, *, as_json: bool) -> int:
    findings = check_written(planned, file)
    if as_json:
        show(json.dumps({"usable": not findings, "findings": to_json(findings)}, allow_nan=False))
    else:
        show(f"{file}: {'NOT usable' if findings else 'usable: valve, forces, stop and line are within limits'}")
        for line in finding_lines(findings, planned.unit):
            show(line)
    return 1 if findings else 0


def _around(planned: Planned, arguments: argparse.Namespace) -> Around | None:
    if not arguments.store:
        return None
    if arguments.mawp or arguments.with_valve:
        raise UsageError(
            Problem(
                "PLN-012", "the system is given twice", "--store, --mawp", "the register or what is typed, not both"
            )
        )
    from firstlift.usecases.register.around import around_valve
    from firstlift.usecases.register.place import opened

    visit, rules = planned.job.visit, planned.job.rules
    with opened(arguments.store) as store:
        return around_valve(store, planned.job.valve.tag, visit.date, code=rules.code, site=visit.site)


def _group(planned: Planned, arguments: argparse.Namespace) -> SystemJudged | None:
    if arguments.mawp:
        return judge_group(planned, arguments.mawp, tuple(arguments.with_valve))
    if arguments.with_valve:
        raise UsageError(Problem("PLN-012", "--with-valve is given without --mawp", "--mawp", "the system's MAWP"))
    return None


def _lines(planned: Planned, followed: Followed | None, arguments: argparse.Namespace) -> list[str]:
    if followed is not None:
        return following_lines(followed, planned.unit)
    if arguments.card:
        card = next((one for one in planned.plan.cards if one.event == arguments.card), None)
        if card is None:
            raise UsageError(
                Problem("PLN-011", f"this valve has no card '{arguments.card}'", "--card", "a valve with a bellows")
            )
        return card_lines(card, planned.unit)
    if arguments.hold_points and arguments.store:
        return confirmed_lines(planned, arguments.store)
    if arguments.hold_points:
        return hold_lines(planned.plan, planned.unit)
    return plan_lines(planned)


def _write(planned: Planned, followed: Followed | None, arguments: argparse.Namespace) -> list[tuple[str, str]]:
    """Make every file in memory before the first is written."""
    reading = None
    if followed is not None:
        reading = next(p.set_pressure_pa for p in followed.result.pulls if p.accepted and p.set_pressure_pa is not None)
    files: list[tuple[str, str, str]] = []
    if arguments.envelope:
        files.append(("envelope", arguments.envelope, draw_plan_envelope(planned)))
    if arguments.map:
        files.append(("map", arguments.map, draw_plan_map(planned, reading)))
    if arguments.write:
        data = json.dumps(to_json(planned.plan), ensure_ascii=False, allow_nan=False, indent=1) + "\n"
        files.append(("plan", arguments.write, data))
    for _, name, text in files:
        write_whole(Path(name), text.encode("utf-8"))
    return [(option, name) for option, name, _ in files]


def _following(followed: Followed, unit: str) -> dict[str, object]:
    found = None if followed.found is None else to_json(followed.found)
    return {"next": to_json(followed.next), "line": next_line(followed.next, pressure_unit=unit), "found": found}
