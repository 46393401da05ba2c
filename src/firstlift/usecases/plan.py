"""Plan a pull from a job sheet and what was typed; say what next after the pulls so far."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path

from firstlift.core.errors import Finding, FirstliftError, Problem, UsageError
from firstlift.core.job import Job, Purpose
from firstlift.core.plan.check import check_plan
from firstlift.core.plan.found import Found, judge_found
from firstlift.core.plan.inputs import DEFAULT_STOP_SHARE, PRIOR_SHARE, PlanInputs
from firstlift.core.plan.next import Next, what_next
from firstlift.core.plan.plan import Plan, plan_from_json, plan_pull
from firstlift.core.plan.system import Member, SystemJudged, judge_system
from firstlift.core.result import Result
from firstlift.core.tolerance.limits import Limits
from firstlift.core.units import Kind
from firstlift.formats.jobsheet import read_jobsheet
from firstlift.usecases.analyse import limits_of
from firstlift.usecases.typed import read_record, read_result, typed_quantity, typed_si


@dataclass(frozen=True, slots=True)
class PlanAsked:
    """What was typed for a plan: texts with units; None where nothing was given."""

    sheet: Path
    line: str | None = None
    highest_line: str | None = None
    frame_limit: str | None = None
    cell_capacity: str | None = None
    spindle_limit: str | None = None
    stop: str | None = None
    moment_uncertainty: str | None = None
    spread: str | None = None
    rated_lift: str | None = None
    answers: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Planned:
    """A plan with what it was made from."""

    job: Job
    limits: Limits
    inputs: PlanInputs
    plan: Plan

    @property
    def unit(self) -> str:
        """The nameplate's pressure unit."""
        return self.job.valve.set_pressure.unit


@dataclass(frozen=True, slots=True)
class Followed:
    """What the pulls so far found, and what next."""

    result: Result
    next: Next
    found: Found | None


def plan_jobsheet(asked: PlanAsked) -> Planned:
    """Plan a pull.

    Parameters
    ----------
    asked : PlanAsked

    Returns
    -------
    Planned

    Raises
    ------
    FirstliftError
        The job sheet cannot be read; UsageError where a typed value makes no sense or the line is not given.
    """
    job = read_jobsheet(asked.sheet)
    limits = limits_of(job, where=f"{asked.sheet.name}, [rules]")
    line = typed_si(asked.line, Kind.PRESSURE, "--line")
    if line is None:
        line = job.visit.line_pressure_pa
    if line is None:
        raise UsageError(
            Problem("PLN-008", "the line pressure of the pull is not given", "--line", "a gauge pressure, '8 bar'")
        )
    inputs = PlanInputs(
        job=job,
        limits=limits,
        line_pressure_pa=line,
        frame_limit_n=typed_si(asked.frame_limit, Kind.FORCE, "--frame-limit"),
        cell_capacity_n=typed_si(asked.cell_capacity, Kind.FORCE, "--cell-capacity"),
        spindle_limit_n=typed_si(asked.spindle_limit, Kind.FORCE, "--spindle-limit"),
        stop_share=_share(asked.stop, "--stop", DEFAULT_STOP_SHARE),
        highest_line_pa=typed_si(asked.highest_line, Kind.PRESSURE, "--highest-line"),
        u_moment_pa=_moment(asked.moment_uncertainty, limits.set_pressure_pa),
        prior_share=_share(asked.spread, "--spread", PRIOR_SHARE),
        rated_lift_m=typed_si(asked.rated_lift, Kind.LENGTH, "--rated-lift"),
        answers=read_answers(asked.answers),
    )
    try:
        return Planned(job, limits, inputs, plan_pull(inputs))
    except FirstliftError as error:
        # the sheet was read: what makes no sense now was typed beside it
        raise UsageError(error.problems) from error


def _share(text: str | None, where: str, usual: float) -> float:
    return usual if text is None else typed_quantity(text, Kind.RATIO, where).si


def _moment(text: str | None, set_pa: float) -> float | None:
    if text is not None and "%" in text:
        return typed_quantity(text, Kind.RATIO, "--moment-uncertainty").si * set_pa
    return typed_si(text, Kind.PRESSURE, "--moment-uncertainty")


def read_answers(texts: tuple[str, ...]) -> Mapping[str, str]:
    """Read answers to the questions of applicability.

    Parameters
    ----------
    texts : tuple of str
        "question=answer".

    Returns
    -------
    mapping of str to str

    Raises
    ------
    UsageError
        PLN-009 no answer, or a question answered twice.
    """
    answers: dict[str, str] = {}
    for text in texts:
        question, sign, answer = (part.strip() for part in text.partition("="))
        if not sign or not question or not answer:
            raise UsageError(
                Problem("PLN-009", f"'{text[:60]}' is not an answer", "--answer", "question=answer, 'thread=sound'")
            )
        if answers.setdefault(question, answer) != answer:
            raise UsageError(Problem("PLN-009", f"'{question[:60]}' is answered twice", "--answer", "one answer"))
    return answers


def judge_group(planned: Planned, mawp: str, others: tuple[str, ...]) -> SystemJudged:
    """Judge the valve of a plan together with those that protect the same system.

    Parameters
    ----------
    planned : Planned
    mawp : str
        The system's maximum allowable working pressure, with unit.
    others : tuple of str
        "TAG, set pressure", then what it was found opening at and the word "fire" where they apply.

    Returns
    -------
    SystemJudged

    Raises
    ------
    UsageError
        PLN-006 a system that makes no sense, PLN-012 a valve that cannot be read.
    """
    limit = typed_quantity(mawp, Kind.PRESSURE, "--mawp").si
    valve = planned.job.valve
    own = Member(valve.tag, valve.set_pressure.si, fire=valve.fire_case)
    try:
        return judge_system([own, *map(_member, others)], limit, planned.job.rules.code)
    except FirstliftError as error:
        raise UsageError(error.problems) from error


def _member(text: str) -> Member:
    tag, *rest = [part.strip() for part in text.split(",")]
    fire = "fire" in rest
    pressures = [typed_quantity(part, Kind.PRESSURE, "--with-valve").si for part in rest if part != "fire"]
    if not tag or not 1 <= len(pressures) <= 2:
        raise UsageError(
            Problem(
                "PLN-012",
                f"'{text[:80]}' is not a valve of the system",
                "--with-valve",
                "tag and set pressure, then what it was found opening at and 'fire' where they apply: "
                "'PSV-2, 10.3 bar, 10.1 bar'",
            )
        )
    return Member(tag, pressures[0], pressures[1] if len(pressures) == 2 else None, fire)


def check_written(planned: Planned, file: Path) -> tuple[Finding, ...]:
    """Check a written plan against the valve, the rig and the limits as they are now.

    Parameters
    ----------
    planned : Planned
    file : Path

    Returns
    -------
    tuple of Finding
        Empty where the plan may be used.

    Raises
    ------
    FirstliftError
        USE-005, PLN-007, RES-003: the file is not a plan.
    """
    return check_plan(plan_from_json(read_record(file, "a plan")), planned.inputs)


def follow(planned: Planned, result_file: Path) -> Followed:
    """Say what next after the pulls of a result.

    Parameters
    ----------
    planned : Planned
    result_file : Path
        As ``firstlift analyse --json`` printed it.

    Returns
    -------
    Followed

    Raises
    ------
    FirstliftError
        The result cannot be read; PLN-010 it holds no set pressure, or is of another valve.
    """
    result = read_result(result_file)
    if result.tag not in ("", planned.job.valve.tag):
        raise UsageError(
            Problem(
                "PLN-010",
                f"the result is of valve '{result.tag[:60]}', the job sheet of '{planned.job.valve.tag}'",
                str(result_file),
                "result and job sheet of one valve",
            )
        )
    pulls = [pull for pull in result.pulls if pull.accepted and pull.set_pressure_pa is not None]
    if not pulls:
        raise UsageError(
            Problem(
                "PLN-010",
                "the result holds no set pressure, so there is nothing to weigh",
                str(result_file),
                "a pull that lifted",
                "See the card for a valve that does not open: --card stuck",
            )
        )
    own = math.hypot(*(line.contribution_pa for line in result.budget if line.common_to == "pull"))
    line = pulls[-1].line_pressure_pa
    following = what_next(
        planned.job,
        planned.limits,
        [pull.set_pressure_pa for pull in pulls if pull.set_pressure_pa is not None],
        planned.inputs.line_pressure_pa if line is None else line,
        u_moment_pa=own or planned.inputs.moment_pa,
        highest_pa=planned.inputs.highest_pa,
    )
    as_found = planned.job.visit.purpose is Purpose.AS_FOUND
    return Followed(result, following, judge_found(result, planned.limits) if as_found else None)
