"""The text of a plan, of its hold points and cards, and of what next."""

from __future__ import annotations

from collections.abc import Sequence

from firstlift import words
from firstlift.cli.say import finding_lines, wrapped
from firstlift.core.plan.cards import Card
from firstlift.core.plan.help import Lever
from firstlift.core.plan.plan import Plan
from firstlift.core.plan.system import Sibling, SystemJudged
from firstlift.usecases.plan import Followed, Planned
from firstlift.words.numbers import (
    format_exact,
    format_force,
    format_length,
    format_probability,
    format_share,
    format_short,
    format_value,
)
from firstlift.words.planning import next_line, phrase, sentence, worth_in_pulls

_CLOSING = (
    "A plan is advice. The owner's permit, local codes and whoever is licensed for this work decide.",
    "With --card, --hold-points: what to do when it goes wrong, what to confirm before and after.",
)


def plan_lines(planned: Planned) -> list[str]:
    """Write a plan.

    Parameters
    ----------
    planned : Planned

    Returns
    -------
    list of str
    """
    plan, unit = planned.plan, planned.unit
    asked = [f for f in plan.applicability.findings if f.code.startswith("ask-")]
    reasons = [f for f in plan.applicability.findings if not f.code.startswith("ask-")]
    return [
        f"{plan.tag}  pull plan, {words.purpose(plan.purpose)}: {phrase('go', plan.go)}",
        *_pressures(plan, unit),
        *_forces(plan),
        *_approach(plan, unit),
        *_stays_open(plan, unit),
        "",
        *_levers(plan.levers, unit),
        "",
        *finding_lines([*plan.findings, *reasons], unit),
        *_questions([f.code for f in asked]),
        "",
        *wrapped(
            "Such a test will not prove " + "; ".join(phrase("not-proven", c) for c in _not_proven(plan)) + ".", ""
        ),
        *_CLOSING,
    ]


def _not_proven(plan: Plan) -> tuple[str, ...]:
    return plan.applicability.not_proven


def _pressures(plan: Plan, unit: str) -> list[str]:
    limits = plan.limits
    lowest = plan.lowest_line_pa
    least = "no line pressure within reach" if lowest is None else f"{format_value(lowest, unit)} or more"
    return [
        f"line pressure {format_exact(plan.line_pressure_pa, unit)}, set {format_exact(plan.set_pressure_pa, unit)}"
        f" ({format_share(plan.line_pressure_pa / plan.set_pressure_pa)})",
        f"limits        {format_exact(limits.lower_pa, unit)} to {format_exact(limits.upper_pa, unit)}, {limits.code}, "
        f"{limits.clause}",
        f"can decide    needs {least}; here U = {format_short(plan.expanded_uncertainty_pa, unit, digits=2)}, "
        f"a verdict with {format_probability(plan.probability_decided)}",
    ]


def _forces(plan: Plan) -> list[str]:
    forces = plan.forces
    lines = [
        f"pull          {_force(forces.expected_n)} expected, {_force(forces.low_n)} to "
        f"{_force(forces.high_n)} within its limits",
    ]
    for margin in forces.margins:
        holds = "" if margin.holds else "  <- too weak for the stop"
        lines.append(
            f"              {phrase('part', margin.part)}: {format_force(margin.limit_n)}, the stop takes "
            f"{format_share(margin.share)}{holds}"
        )
    return lines


def _force(newtons: float) -> str:
    return format_short(newtons, "kN" if newtons >= 1e4 else "N")


def _approach(plan: Plan, unit: str) -> list[str]:
    approach = plan.approach
    return [
        f"rise          {format_short(approach.rate_n_per_s, 'N', digits=2)}/s, about "
        f"{format_short(approach.expected_time_s, 's', digits=2)}",
        f"stop at once  {_force(approach.abort_force_n)} (as {format_value(plan.forces.abort_set_pa, unit)}), "
        f"lift {format_length(approach.abort_lift_m)}, line above {format_value(approach.abort_line_high_pa, unit)} or "
        f"below {format_value(approach.abort_line_low_pa, unit)}, {format_short(approach.abort_time_s, 's', digits=2)}",
    ]


def _stays_open(plan: Plan, unit: str) -> list[str]:
    found = plan.stays_open
    chance = f" ({format_probability(found.chance)})" if found.chance else ""
    return [
        f"stays open    {phrase('likelihood', found.likelihood)} if it gets to full lift{chance}: it should shut "
        f"between {format_short(found.closes_high_pa, unit)} and {format_short(found.closes_low_pa, unit)}",
        *wrapped(
            f"(range of {found.clause}: {words.source(found.status)}; evenly likely in it, an assumption)", " " * 14
        ),
    ]


def _levers(levers: tuple[Lever, ...], unit: str) -> list[str]:
    lines = ["what helps                     U          decided    least line"]
    for lever in levers:
        name = phrase("action", lever.action)
        if lever.action == "more-line":
            name = f"line at {format_short(lever.line_pressure_pa, unit)}"
        least = "-" if lever.lowest_line_pa is None else format_short(lever.lowest_line_pa, unit)
        u = format_short(lever.expanded_uncertainty_pa, unit, digits=2)
        lines.append(f"  {name:<28} {u:<10} {format_probability(lever.probability_decided):<10} {least}")
    return lines


def _questions(codes: list[str]) -> list[str]:
    if not codes:
        return []
    names = ", ".join(code.removeprefix("ask-") for code in codes)
    return ["", *wrapped(f"Still to be answered before the first pull (--answer QUESTION=ANSWER): {names}.", "")]


def group_lines(group: SystemJudged, unit: str) -> list[str]:
    """Write how the valves of one protected system stand together.

    Parameters
    ----------
    group : SystemJudged
    unit : str

    Returns
    -------
    list of str
    """
    state = "in order" if group.sound else "NOT in order"
    spread = format_share(group.spread_share)
    head = f"protected system: {state}; {group.first} is set lowest, settings lie {spread} apart"
    return ["", head, *finding_lines(group.findings, unit)]


def sibling_lines(siblings: Sequence[Sibling], wanted: int) -> list[str]:
    """Write a valve's siblings and how many of them are to be tested if it fails.

    Parameters
    ----------
    siblings : sequence of Sibling
        The nearest first.
    wanted : int

    Returns
    -------
    list of str
    """
    if not siblings:
        return ["", "the register knows no siblings of this valve"]
    tags = ", ".join(sibling.tag for sibling in siblings)
    source = "the owner's or the code's sampling rule decides; two for each failure is from memory"
    return ["", *wrapped(f"if it fails, test {wanted} of its siblings too: {tags} ({source})", "")]


def hold_lines(plan: Plan, unit: str) -> list[str]:
    """Write the hold points of a plan by stage.

    Parameters
    ----------
    plan : Plan
    unit : str

    Returns
    -------
    list of str
    """
    lines = [f"{plan.tag}  hold points"]
    stage = ""
    for point in plan.hold_points:
        if point.when != stage:
            stage = point.when
            lines += ["", phrase("stage", stage)]
        lines += wrapped(sentence("hold", point.code, point.parameters, pressure_unit=unit), "  [ ] ")
    return lines


def card_lines(card: Card, unit: str) -> list[str]:
    """Write a card.

    Parameters
    ----------
    card : Card
    unit : str

    Returns
    -------
    list of str
    """
    lines = [phrase("event", card.event).upper()]
    for number, step in enumerate(card.steps, start=1):
        lines += wrapped(sentence("step", step.code, step.parameters, pressure_unit=unit), f"{number:>2}  ")
    return lines


def following_lines(followed: Followed, unit: str) -> list[str]:
    """Write what next, with the worth of each action.

    Parameters
    ----------
    followed : Followed
    unit : str

    Returns
    -------
    list of str
    """
    following = followed.next
    lines = [f"next: {next_line(following, pressure_unit=unit)}", f"as it stands: {words.verdict(following.outcome)}"]
    judged = followed.result.verdict
    if judged is not None and str(judged.outcome) != following.outcome:
        said = words.verdict(str(judged.outcome)).lower()
        lines.append(f"the result itself said: {said}, with uncertainties of its own; the job sheet's count here")
    if followed.found is not None:
        held = ", ".join(phrase("category", str(one)) for one in followed.found.categories)
        suggests = ", ".join(phrase("suggestion", str(one)) for one in followed.found.suggestions)
        lines.append(f"as found: {held}; suggests: {suggests} ({followed.found.source}, the owner's rules go on top)")
    lines += ["", "action                        u before   u after    decided    worth"]
    for action in following.actions:
        name = phrase("action", action.action)
        if action.raise_pa is not None:
            name = f"line up by {format_short(action.raise_pa, unit, digits=2)}"
        before, after = (format_short(u, unit, digits=2) for u in (action.u_before_pa, action.u_after_pa))
        decided = format_probability(action.probability_decided)
        mark = "" if action.changes_verdict else " *"
        pulls = "" if action.action == "one-more-pull" else worth_in_pulls(action.worth_pulls)
        lines.append(f"  {name:<28} {before:<10} {after:<10} {decided:<10} {pulls}{mark}")
    if any(not action.changes_verdict for action in following.actions):
        lines.append("  * tells where the valve stands; the as-found verdict stays with the first loading")
    return lines
