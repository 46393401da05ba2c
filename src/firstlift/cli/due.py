"""``firstlift due``: what is to be tested, the most urgent first."""

from __future__ import annotations

import argparse
import dataclasses
import datetime as dt
import json

from firstlift.cli.dates import read_date
from firstlift.cli.show import show
from firstlift.store.search import Listed
from firstlift.usecases.register.due import DueAsked, list_due
from firstlift.usecases.register.place import opened


def run(arguments: argparse.Namespace) -> int:
    """Run the command.

    Parameters
    ----------
    arguments : argparse.Namespace

    Returns
    -------
    int
        0, 1 where something listed is overdue.
    """
    asked = DueAsked(
        arguments.tag,
        arguments.owner,
        arguments.site,
        arguments.unit,
        arguments.medium,
        arguments.verdict,
        read_date(arguments.due_by, "--by"),
        arguments.overdue,
        arguments.without_interval,
    )
    with opened(arguments.store) as store:
        today, lines = list_due(store, asked, limit=arguments.limit, offset=arguments.offset)
    if arguments.json:
        show(json.dumps([dataclasses.asdict(line) for line in lines], default=str))
    else:
        for line in lines:
            show(_text(line, today))
        show(f"{len(lines)} valves" if lines else "nothing is due")
    return 1 if any(line.due is not None and line.due < today for line in lines) else 0


def _text(line: Listed, today: dt.date) -> str:
    due = "no interval" if line.due is None else line.due.isoformat()
    state = " overdue" if line.due is not None and line.due < today else ""
    last = f"last {line.last_day} {line.last_verdict or 'not judged'}" if line.last_day else "never tested"
    missed = f", then not tested: {line.not_tested}" if line.not_tested else ""
    place = ", ".join(part for part in (line.site, line.unit) if part)
    return f"{due}{state:8s}  {line.tag}  serial {line.serial}  {line.set_pressure}  {place}  {last}{missed}"
