"""``firstlift analyse --store``: the job sheet filled from the register, the test kept there."""

from __future__ import annotations

import argparse
import dataclasses
import sys
from pathlib import Path
from uuid import UUID

from firstlift.core.errors import FirstliftError, Problem, UsageError
from firstlift.usecases.analyse import Analysed
from firstlift.usecases.register.analyse import analyse_in_register, keep_test
from firstlift.usecases.register.entries import find_entry
from firstlift.usecases.register.place import opened
from firstlift.usecases.register.who import who_of
from firstlift.words.seat import say_choice


def analyse_sheet(sheet: Path, arguments: argparse.Namespace, folder: Path) -> Analysed:
    """Analyse one job sheet against the register, and keep the test where that is asked.

    Parameters
    ----------
    sheet : Path
    arguments : argparse.Namespace
    folder : Path
        Where the filled sheet is written.

    Returns
    -------
    Analysed
    """
    with opened(arguments.store) as store:
        filled = analyse_in_register(store, sheet, folder)
        for line in say_choice(filled.seat_choice) if filled.seat_choice is not None else ():
            print(f"firstlift: {sheet.name}: {line}", file=sys.stderr)
        if arguments.keep:
            visit_id = None
            if arguments.visit:
                with store.read() as reader:
                    visit_id = find_entry(reader, "visit", arguments.visit).id
            supersedes = _identifier(arguments.supersedes)
            who = who_of(store, arguments.by)
            try:
                test = keep_test(store, filled, who=who, visit_id=visit_id, supersedes=supersedes)
            except FirstliftError as error:
                raise FirstliftError([_with_option(problem) for problem in error.problems]) from None
            print(f"firstlift: {sheet.name}: kept as test {test.id}", file=sys.stderr)
    return filled.analysed


def _with_option(problem: Problem) -> Problem:
    """Say by which option a test that is kept already is corrected: the register knows the app's way only."""
    if problem.code != "REG-025":
        return problem
    option = f"--supersedes {problem.where.removeprefix('test ')}"
    return dataclasses.replace(problem, next=f"Correct that test in the app, or here with {option}")


def check_options(arguments: argparse.Namespace) -> None:
    """Refuse options that go with --store or --keep where these are not given.

    Parameters
    ----------
    arguments : argparse.Namespace

    Raises
    ------
    UsageError
        REG-027.
    """
    keep = {"--supersedes": arguments.supersedes, "--visit": arguments.visit, "--by": arguments.by}
    alone = [name for name, value in keep.items() if value and not arguments.keep]
    if arguments.keep and arguments.store is None:
        alone.append("--keep")
    if alone:
        needed = "--store" if alone == ["--keep"] else "--keep"
        raise UsageError(Problem("REG-027", f"{alone[0]} goes with {needed}", needed=needed))


def _identifier(text: str | None) -> UUID | None:
    if text is None:
        return None
    try:
        return UUID(text)
    except ValueError:
        raise UsageError(
            Problem("REG-027", f"'{text}' is no identifier", "--supersedes", "that of a kept test")
        ) from None
