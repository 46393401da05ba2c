"""``firstlift audit``: nothing was changed, or what was."""

from __future__ import annotations

import argparse
import dataclasses
import json
import re

from firstlift.cli.show import show
from firstlift.core.errors import Problem, UsageError
from firstlift.usecases.register.copies import audit_register

_MOST_SHOWN = 50


def run(arguments: argparse.Namespace) -> int:
    """Run the command.

    Parameters
    ----------
    arguments : argparse.Namespace

    Returns
    -------
    int
        0 all holds, 1 something does not.
    """
    report = audit_register(arguments.store, expect=_expected(arguments.expect))
    if arguments.json:
        plain = {**dataclasses.asdict(report), "store_id": str(report.store_id)}
        show(json.dumps(plain, ensure_ascii=True))
        return 1 if report.faults else 0
    for fault in report.faults[:_MOST_SHOWN]:
        hangs = f" (entry {fault.number})" if fault.number is not None else ""
        show(f"{fault.what}{hangs}: {fault.reason}")
    if len(report.faults) > _MOST_SHOWN:
        show(f"and {len(report.faults) - _MOST_SHOWN} more")
    looked = f"{report.entries} entries of history, {report.rows} rows, {report.files} kept files"
    verdict = f"{len(report.faults)} things do not hold" if report.faults else "all holds"
    show(f"{verdict}: {looked}; {report.spare_files} files that nothing names")
    show(f"last entry {report.entries}:{report.head_sha256}")
    return 1 if report.faults else 0


def _expected(text: str | None) -> tuple[int, str] | None:
    if text is None:
        return None
    match = re.fullmatch(r"(\d{1,18}):([0-9a-f]{64})", text.strip())
    if match is None:
        raise UsageError(
            Problem(
                "REG-027", f"'{text}' is no entry to expect", "--expect", "the last line of an audit: NUMBER:SHA256"
            )
        )
    return int(match.group(1)), match.group(2)
