"""Values typed on the command line for planning: a text with its unit, or a plain number, held to a range."""

from __future__ import annotations

import json
import math
from collections.abc import Mapping
from pathlib import Path
from typing import Any, cast

from firstlift.core.errors import FirstliftError, Problem, UsageError
from firstlift.core.result import Result, from_json
from firstlift.core.units import Kind, Quantity, parse_number, parse_quantity

_LARGEST_BYTES = 50_000_000


def typed_quantity(text: str, kind: Kind, where: str) -> Quantity:
    """Read a typed value with its unit.

    Parameters
    ----------
    text : str
    kind : Kind
    where : str
        The option, said in the message.

    Returns
    -------
    Quantity

    Raises
    ------
    UsageError
        UNI-001 to UNI-006.
    """
    try:
        return parse_quantity(text, kind, where=where)
    except FirstliftError as error:
        raise UsageError(error.problems) from error


def typed_si(text: str | None, kind: Kind, where: str) -> float | None:
    """Read a typed value in SI, if there is one.

    Parameters
    ----------
    text : str or None
    kind : Kind
    where : str

    Returns
    -------
    float or None

    Raises
    ------
    UsageError
        UNI-001 to UNI-006.
    """
    return None if text is None else typed_quantity(text, kind, where).si


def typed_number(text: str | None, where: str) -> float | None:
    """Read a typed plain number, if there is one.

    Parameters
    ----------
    text : str or None
    where : str

    Returns
    -------
    float or None

    Raises
    ------
    UsageError
        UNI-004, UNI-005.
    """
    if text is None:
        return None
    try:
        return float(parse_number(text.strip(), where=where))
    except FirstliftError as error:
        raise UsageError(error.problems) from error


def typed_uncertainty(text: str | None, kind: Kind, where: str, value: float) -> float | None:
    """Read a standard uncertainty, absolute or in per cent of a value.

    Parameters
    ----------
    text : str or None
    kind : Kind
    where : str
    value : float
        SI; what the per cent are of.

    Returns
    -------
    float or None

    Raises
    ------
    UsageError
        UNI-001 to UNI-006, USE-004 below 0.
    """
    if text is None:
        return None
    u = typed_quantity(text, Kind.RATIO, where).si * abs(value) if "%" in text else typed_quantity(text, kind, where).si
    if u < 0.0 or not math.isfinite(u):
        raise UsageError(Problem("USE-004", f"an uncertainty of '{text}'", where, "0 or more"))
    return u


def read_record(path: Path, what: str) -> Mapping[str, Any]:
    """Read a JSON object from a file.

    Parameters
    ----------
    path : Path
    what : str
        What it should be, said in the message: "a result", "a plan".

    Returns
    -------
    mapping

    Raises
    ------
    FirstliftError
        USE-005 the file cannot be read or holds no JSON object.
    """
    try:
        if path.stat().st_size > _LARGEST_BYTES:
            raise OSError("it is larger than 50 MB")
        data = json.loads(path.read_text(encoding="utf-8-sig"))
    except (OSError, ValueError, RecursionError) as error:
        reason = getattr(error, "strerror", None) or str(error)
        raise FirstliftError(_unreadable(path, what, str(reason)[:200])) from error
    if not isinstance(data, dict):
        raise FirstliftError(_unreadable(path, what, "it holds no JSON object"))
    return cast("dict[str, Any]", data)


def read_result(path: Path) -> Result:
    """Read a result from a file, as ``firstlift analyse --json`` prints it.

    Parameters
    ----------
    path : Path

    Returns
    -------
    Result

    Raises
    ------
    FirstliftError
        USE-005 the file cannot be read; RES-002, RES-003 it is not a result.
    """
    return from_json(read_record(path, "a result"))


def _unreadable(path: Path, what: str, reason: str) -> Problem:
    return Problem("USE-005", f"{what} cannot be read: {reason}", str(path), "one JSON object", "Name another file")
