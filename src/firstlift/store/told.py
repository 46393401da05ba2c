"""Turn what an engine says into a problem in plain words; no traceback of a library reaches a user."""

from __future__ import annotations

import re
from collections.abc import Iterator
from contextlib import contextmanager

from sqlalchemy.exc import IntegrityError, OperationalError, SQLAlchemyError
from sqlalchemy.exc import TimeoutError as PoolTimeout

from firstlift.core.errors import FirstliftError, Problem


@contextmanager
def told(where: str = "") -> Iterator[None]:
    """Say an engine's refusal as a problem.

    Parameters
    ----------
    where : str
        Which store, said in the message.

    Raises
    ------
    FirstliftError
        REG-011 a second one of what there may be one of, or a reference to nothing; STO-005 the store is busy or
        cannot be reached; STO-006 the store refuses to edit or delete; STO-007 anything else it cannot do.
    """
    try:
        yield
    except SQLAlchemyError as error:
        raise FirstliftError(problem_of(error, where)) from error


def problem_of(error: SQLAlchemyError, where: str = "") -> Problem:
    """Give the problem behind an engine's error.

    Parameters
    ----------
    error : SQLAlchemyError
    where : str

    Returns
    -------
    Problem
    """
    said = " ".join(str(getattr(error, "orig", None) or error).split())[:300]
    guard = re.search(r"firstlift: ([^\n]*?)(?: CONTEXT:.*)?$", said)
    if guard:
        return Problem("STO-006", guard.group(1), where, "a new entry that supersedes the old one")
    if isinstance(error, IntegrityError):
        return _integrity(said, where)
    if isinstance(error, PoolTimeout) or "locked" in said or "busy" in said:
        return Problem("STO-005", "the store is busy: another one has been writing to it", where, "", "Try again")
    if isinstance(error, OperationalError) and ("connect" in said or "unable to open" in said):
        return Problem("STO-005", f"the store cannot be reached: {said}", where, "a store that answers")
    return Problem("STO-007", f"the store cannot do it: {said}", where, "", "Nothing of it was kept")


def _integrity(said: str, where: str) -> Problem:
    unique = re.search(r'UNIQUE constraint failed: (.*)|unique constraint "([^"]+)"', said)
    if unique:
        name = unique.group(1) or unique.group(2)
        return Problem(
            "REG-011", f"the register holds one already ({name})", where, "one of a kind", "Search for it first"
        )
    if "FOREIGN KEY" in said or "foreign key" in said:
        return Problem("REG-011", "an entry refers to another that the register does not hold", where, "that one first")
    return Problem("REG-011", f"an entry cannot be kept: {said}", where)
