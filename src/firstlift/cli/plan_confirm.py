"""``firstlift plan --confirm``, and what of a plan is confirmed in the register and what is still open."""

from __future__ import annotations

import argparse
from uuid import UUID

from firstlift.cli.say import wrapped
from firstlift.cli.show import show
from firstlift.core.errors import Problem, UsageError
from firstlift.core.plan.holds import still_open
from firstlift.usecases.plan import Planned
from firstlift.words.planning import phrase, sentence

_STAGES = ("before-valve", "before", "between", "after")


def confirm_typed(planned: Planned, arguments: argparse.Namespace) -> None:
    """Keep the confirmations that were typed in the register.

    Parameters
    ----------
    planned : Planned
    arguments : argparse.Namespace

    Raises
    ------
    FirstliftError
        REG-020, REG-028, PLN-005, PLN-013; UsageError PLN-013 without register or person.
    """
    from firstlift.usecases.register.confirmed import confirm
    from firstlift.usecases.register.place import now, opened
    from firstlift.usecases.register.who import who_of

    if not arguments.store:
        raise UsageError(Problem("PLN-013", "a confirmation has no place to be kept", "--store", "the register"))
    notes = [(code.strip(), note) for code, _, note in (text.partition("=") for text in arguments.confirm)]
    with opened(arguments.store) as store:
        who = who_of(store, arguments.by)
        if who.startswith("program:"):
            raise UsageError(Problem("PLN-013", "a hold point is confirmed by nobody", "--by", "a person"))
        confirm(store, planned.job, planned.plan, notes, person=UUID(who), at=now())
    show(f"kept {len(notes)} confirmation{'s' if len(notes) > 1 else ''}")


def confirmed_lines(planned: Planned, where: str) -> list[str]:
    """Write what is confirmed at a valve in the visit of the job's day, and what is still open.

    Parameters
    ----------
    planned : Planned
    where : str
        The register.

    Returns
    -------
    list of str
    """
    from firstlift.usecases.register.confirmed import as_confirmations, confirmed_at
    from firstlift.usecases.register.place import opened

    with opened(where) as store:
        points = confirmed_at(store, planned.job)
    lines = [f"{planned.plan.tag}  hold points", "", "Confirmed" if points else "Nothing is confirmed yet"]
    lines += [f"  [x] {one.code}  {one.person}  {one.at:%Y-%m-%d %H:%M}  {one.note}".rstrip() for one in points]
    done = as_confirmations(points, planned.plan)
    for stage in _STAGES:
        if left := still_open(planned.plan.hold_points, done, stage):
            lines += ["", f"{phrase('stage', stage)} (still open)"]
        for point in left:
            said = sentence("hold", point.code, point.parameters, pressure_unit=planned.unit)
            lines += wrapped(f"{point.code}: {said}", "  [ ] ")
    return lines
