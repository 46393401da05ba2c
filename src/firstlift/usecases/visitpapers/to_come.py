"""The plan of a test to come at a valve of the register, with the instruments that will be used."""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

from firstlift.certificate.papers.facts import Hung, Tool, ToTest, VisitFacts
from firstlift.core.errors import FirstliftError, Problem, UsageError
from firstlift.core.job import Job
from firstlift.core.plan.applies import read_answers
from firstlift.core.plan.inputs import PlanInputs
from firstlift.core.plan.plan import plan_pull
from firstlift.core.register.choose import search_key
from firstlift.core.units import Kind
from firstlift.store.read import Reader
from firstlift.usecases.analyse import limits_of
from firstlift.usecases.register.coming import job_to_come
from firstlift.usecases.register.fill import Found
from firstlift.usecases.typed import typed_quantity, typed_si
from firstlift.usecases.visitpapers.gather import last_tested, usual_tools


@dataclass(frozen=True, slots=True)
class PacketAsked:
    """What the register cannot know, as typed with units.

    ``lines`` are "TAG=8 bar" where the line will stand at another pressure than the position's own; ``line_share``
    of set is taken where nobody knows one (None: such a valve gets no plan). ``answers`` hold for every valve.
    """

    lines: tuple[str, ...] = ()
    line_share: str | None = None
    frame_limit: str | None = None
    spindle_limit: str | None = None
    answers: tuple[str, ...] = ()
    valves: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Typed:
    """What was typed, read: SI."""

    lines: Mapping[str, float] = field(default_factory=dict[str, float])
    line_share: float | None = None
    frame_limit_n: float | None = None
    spindle_limit_n: float | None = None
    answers: Mapping[str, str] = field(default_factory=dict[str, str])


def read_typed(asked: PacketAsked, answers: Mapping[str, str]) -> Typed:
    """Read what was typed.

    Parameters
    ----------
    asked : PacketAsked
    answers : mapping
        Read already.

    Returns
    -------
    Typed

    Raises
    ------
    UsageError
        A value makes no sense.
    """
    try:
        read_answers(answers)
    except FirstliftError as error:  # wrong for every valve: said once, before any page is made
        raise UsageError(error.problems) from error
    lines: dict[str, float] = {}
    for text in asked.lines:
        tag, _, value = text.rpartition("=")
        lines[search_key(tag)] = typed_quantity(value, Kind.PRESSURE, "--line").si
    share = None if asked.line_share is None else typed_quantity(asked.line_share, Kind.RATIO, "--line-share").si
    return Typed(
        lines,
        share,
        typed_si(asked.frame_limit, Kind.FORCE, "--frame-limit"),
        typed_si(asked.spindle_limit, Kind.FORCE, "--spindle-limit"),
        answers,
    )


def to_test(reader: Reader, facts: VisitFacts, hung: Hung, tools: Sequence[Tool], typed: Typed) -> ToTest:
    """Plan the test of a valve on a visit.

    Parameters
    ----------
    reader : Reader
    facts : VisitFacts
    hung : Hung
    tools : sequence of Tool
        All there are.
    typed : Typed

    Returns
    -------
    ToTest
        Where no plan can be made, without one, and why.
    """
    on = facts.visit.start
    chosen = usual_tools(reader, hung.valve.id, tools, on)
    last = last_tested(reader, hung.valve.id, on)
    try:
        job = _job(reader, facts, hung, chosen, on)
        plan = plan_pull(_inputs(job, hung, typed, _known_answers(facts)), with_map=False)
    except FirstliftError as error:
        return ToTest(hung, None, None, tuple(error.problems), chosen, last)
    return ToTest(hung, job, plan, (), chosen, last)


def _job(reader: Reader, facts: VisitFacts, hung: Hung, tools: Sequence[Tool], on: dt.date) -> Job:
    if hung.position is None:
        raise FirstliftError(
            Problem("PAP-002", f"valve {hung.valve.serial} hung nowhere on {on.isoformat()}", needed="an installation")
        )
    where = f"plan of {hung.position.tag}"
    found = Found(hung.valve, hung.position, facts.site, facts.owner)
    _, job = job_to_come(reader, found, (tool.instrument for tool in tools), on, where=where)
    return job


def _known_answers(facts: VisitFacts) -> Mapping[str, str]:
    """Give the answers that the visit holds already: what is typed goes before them."""
    accepted = facts.visit.accepted_for_verifying
    return {} if accepted is None else {"accepted": "yes" if accepted else "no"}


def _inputs(job: Job, hung: Hung, typed: Typed, known: Mapping[str, str]) -> PlanInputs:
    limits = limits_of(job, where=f"plan of {hung.tag}")
    return PlanInputs(
        job=job,
        limits=limits,
        line_pressure_pa=_line(hung, typed, limits.set_pressure_pa),
        frame_limit_n=typed.frame_limit_n,
        spindle_limit_n=typed.spindle_limit_n,
        answers={**known, **typed.answers},
    )


def _line(hung: Hung, typed: Typed, set_pa: float) -> float:
    stated = typed.lines.get(search_key(hung.tag))
    if stated is not None:
        return stated
    if hung.position is not None and hung.position.operating_pressure is not None:
        return hung.position.operating_pressure.si
    if typed.line_share is not None:
        return typed.line_share * set_pa
    raise FirstliftError(
        Problem(
            "PAP-002",
            f"nobody knows the line pressure at {hung.tag}",
            "register, operating_pressure",
            "the pressure the line will stand at",
            f'Add it to the position, or give --line "{hung.tag}=..." or --line-share',
        )
    )
