"""The tolerance tables that come with the package: named by code, read as package data."""

from __future__ import annotations

import difflib
from importlib import resources

from firstlift.core.errors import FirstliftError, Problem
from firstlift.core.tolerance import KNOWN_CODES
from firstlift.core.tolerance.load import OWNER, RuleSet, parse_rule_set


def read_rule_set(code: str, *, where: str = "[rules] code") -> RuleSet:
    """Read the rule set of a code.

    Parameters
    ----------
    code : str
        One of KNOWN_CODES; "owner" gives a rule set without a table.
    where : str
        Said in the message: file, key.

    Returns
    -------
    RuleSet

    Raises
    ------
    FirstliftError
        TOL-006 the code is not known; TOL-001 its table cannot be read.
    """
    if code not in KNOWN_CODES:
        near = difflib.get_close_matches(code.lower().replace(" ", "-"), KNOWN_CODES, n=1, cutoff=0.5)
        raise FirstliftError(
            Problem(
                "TOL-006",
                f"code '{code}' is not known",
                where,
                f"one of {', '.join(KNOWN_CODES)}",
                f"Did you mean '{near[0]}'" if near else "Give the limits with code = 'owner'",
            )
        )
    if code == OWNER.code:
        return OWNER
    table = resources.files("firstlift.core.tolerance").joinpath("tables", f"{code}.toml")
    return parse_rule_set(table.read_text(encoding="utf-8"), where=f"{code}.toml")
