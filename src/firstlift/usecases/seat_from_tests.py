"""A seat area from recordings: one valve, one rig, pulled at two or more line pressures."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

from firstlift.core.errors import FirstliftError, Problem, UsageError
from firstlift.core.job import ChannelSpec, Job, Measures
from firstlift.core.result import PullOutcome, Result
from firstlift.core.seat.fit import Instrument, Role
from firstlift.core.seat.pressures import LinePull, fit_pressures
from firstlift.core.uncertainty.instruments import tag
from firstlift.core.valve import Seat
from firstlift.usecases.analyse import analyse_jobsheet
from firstlift.usecases.seat_answer import SeatAnswer

# a bond raises the first pull alone; a leak or a side load changes what the pull has to lift
_SPOILED = ("stuck-first-pull", "leaking-before-lift", "eccentric-pull")


def seat_from_sheets(sheets: Sequence[Path]) -> SeatAnswer:
    """Analyse recordings of one valve at several line pressures, and fit its seat area to their pulls.

    Parameters
    ----------
    sheets : sequence of Path
        Job sheets, each with its recording; the seat they state serves only to find the pulls.

    Returns
    -------
    SeatAnswer

    Raises
    ------
    FirstliftError
        A sheet or recording cannot be read; SEA-009 valve or instruments differ; SEA-019 a recording without a
        pull that serves; as `firstlift.core.seat.pressures.fit_pressures`.
    """
    analysed = [analyse_jobsheet(sheet) for sheet in sheets]
    return seat_from_results([(a.sheet.name, a.job, a.analysis.result) for a in analysed])


def seat_from_results(tests: Sequence[tuple[str, Job, Result]]) -> SeatAnswer:
    """Fit the seat area of one valve to the pulls of several tests.

    Parameters
    ----------
    tests : sequence of (name, Job, Result)
        The name is said in messages.

    Returns
    -------
    SeatAnswer

    Raises
    ------
    FirstliftError
        SEA-009 valve or instruments differ, SEA-019 a test without a pull that serves; as
        `firstlift.core.seat.pressures.fit_pressures`.
    UsageError
        SEA-015 no test at all.
    """
    if not tests:
        raise UsageError(Problem("SEA-015", "no job sheet is named", needed="two or more"))
    problems = [problem for test in tests[1:] for problem in _unlike(tests[0], test)]
    if problems:
        raise FirstliftError(problems)
    pulls = [pull for name, job, result in tests for pull in pulls_of(name, job, result)]
    fit = fit_pressures(pulls, instruments_of(tests[0][1], tests[0][2]))
    seat = Seat(fit.area_m2, fit.u_area_m2, 0.0, str(fit.source), f"{fit.readings} pulls")
    return SeatAnswer(seat, fit, {}, tuple(pulls))


def pulls_of(name: str, job: Job, result: Result) -> list[LinePull]:
    """Give the pulls of a test that tell something of the seat area.

    Parameters
    ----------
    name : str
        Said in messages.
    job : Job
    result : Result

    Returns
    -------
    list of LinePull

    Raises
    ------
    FirstliftError
        SEA-019 there is none.
    """
    own = [line for line in result.budget if line.common_to == "pull" and line.distribution != "one-sided"]
    # what the moment and the noise add to the pressure, as a force on the area it was computed with
    u_pull_n = sum(line.contribution_pa**2 for line in own) ** 0.5 * job.seat.area_m2
    pulls = [
        LinePull(
            line_pressure_pa=pull.line_pressure_pa,
            u_line_pa=0.0,
            pull_n=pull.pull_force_n,
            u_pull_n=u_pull_n,
            back_pressure_pa=job.valve.back_pressure_at_test_pa,
            temperature_k=job.visit.body_temperature_k,
            setting=str(job.visit.purpose),
        )
        for pull in result.pulls
        if pull.outcome is PullOutcome.MEASURED
        and pull.accepted
        and not set(pull.flags) & set(_SPOILED)
        and pull.line_pressure_pa is not None
        and pull.pull_force_n is not None
    ]
    if not pulls:
        raise FirstliftError(
            Problem(
                "SEA-019",
                "no pull of this recording tells the seat area",
                name,
                "a pull that lifted the valve, without a bond, a leak before lift or a side load",
            )
        )
    return pulls


def instruments_of(job: Job, result: Result) -> list[Instrument]:
    """Give the cells and the gauge of a test, each cell with the share of the pull it carried.

    Parameters
    ----------
    job : Job
    result : Result

    Returns
    -------
    list of Instrument
    """
    cells = job.of(Measures.PULL_FORCE)
    carried = {line.quantity: abs(line.value) for line in result.budget}
    loads = [carried.get(f"pull force, cell '{spec.column}'", 0.0) for spec in cells]
    total = sum(loads)
    shares = [load / total if total > 0.0 else 1.0 / len(cells) for load in loads]
    gauges = job.of(Measures.LINE_PRESSURE)
    items = [_instrument(Role.CELL, spec, share) for spec, share in zip(cells, shares, strict=True)]
    if gauges:
        return [*items, _instrument(Role.GAUGE, gauges[0], 1.0)]
    by_hand = job.visit.u_line_pressure_pa or 0.0
    return [*items, Instrument(Role.GAUGE, "gauge:by hand", "by hand", 0.0, by_hand)]


def _instrument(role: Role, spec: ChannelSpec, share: float) -> Instrument:
    return Instrument(
        role,
        tag(spec),
        spec.serial or spec.column,
        spec.relative_standard_uncertainty,
        spec.standard_uncertainty,
        load_share=share,
    )


def _unlike(first: tuple[str, Job, Result], other: tuple[str, Job, Result]) -> list[Problem]:
    """Name what two tests do not have in common: one valve, one rig."""
    (name, job, _), (other_name, other_job, _) = first, other
    problems: list[Problem] = []
    if job.valve.serial != other_job.valve.serial:
        problems.append(
            Problem(
                "SEA-009",
                f"valve {other_job.valve.serial}, while {name} is of valve {job.valve.serial}",
                other_name,
                "one valve",
            )
        )
    mine, theirs = _read_with(job), _read_with(other_job)
    if mine != theirs:
        problems.append(
            Problem(
                "SEA-009",
                f"read with {', '.join(sorted(theirs))}, while {name} was read with {', '.join(sorted(mine))}",
                other_name,
                "the same cells and gauge for all: the area is found with their errors in it",
            )
        )
    return problems


def _read_with(job: Job) -> set[str]:
    specs = (*job.of(Measures.PULL_FORCE), *job.of(Measures.LINE_PRESSURE))
    return {spec.serial or spec.column for spec in specs}
