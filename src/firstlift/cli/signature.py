"""``firstlift signature``: what a valve's last pull test shows over the earlier ones."""

from __future__ import annotations

import argparse
import json

from firstlift import words
from firstlift.cli.show import prints_unicode, show
from firstlift.core.errors import Severity
from firstlift.core.signature.compare import FALSE_ALARM_RATE
from firstlift.usecases.register.place import opened
from firstlift.usecases.register.signature import SignatureAnswer, signature_of_valve
from firstlift.words.numbers import format_share


def run(arguments: argparse.Namespace) -> int:
    """Run the command.

    Parameters
    ----------
    arguments : argparse.Namespace

    Returns
    -------
    int
        0 nothing named, 1 something is.

    Raises
    ------
    FirstliftError
        The register cannot be opened, or has no such valve with a test.
    """
    with opened(arguments.store) as store:
        answer = signature_of_valve(store, arguments.valve)
    if arguments.json:
        show(json.dumps(_plain(answer), ensure_ascii=not prints_unicode(), allow_nan=False))
    else:
        _show(answer)
    return 1 if any(finding.severity is not Severity.INFO for finding in answer.findings) else 0


def _plain(answer: SignatureAnswer) -> dict[str, object]:
    return {
        "serial": answer.serial,
        "day": answer.day.isoformat(),
        "earlier": [day.isoformat() for day in answer.earlier],
        "false_alarm_rate": FALSE_ALARM_RATE,
        "findings": [
            {
                "code": finding.code,
                "severity": str(finding.severity),
                "parameters": dict(finding.parameters),
                "message": words.message(finding),
                "advice": words.advice(finding),
            }
            for finding in answer.findings
        ],
        "changes": [
            {
                "feature": str(change.feature),
                "change": change.change,
                "low": change.low,
                "high": change.high,
                "probability": change.probability,
                "visits": change.visits,
                "alarm": change.alarm,
                "slope_per_yr": change.slope_per_yr,
                "slope_sure": change.slope_sure,
            }
            for change in answer.changes
        ],
    }


def _show(answer: SignatureAnswer) -> None:
    show(f"valve         {answer.serial}, tested {answer.day.isoformat()}, {len(answer.earlier)} earlier tests")
    for change in answer.changes:
        mark = "  <-" if change.alarm else ""
        foretold = f"{format_share(change.low)} to {format_share(change.high)}"
        show(f"  {change.feature:<13} {format_share(change.change):>8}   foretold {foretold}{mark}")
    for finding in answer.findings:
        show(words.message(finding))
        show(f"  {words.advice(finding)}")
    if answer.changes and not answer.findings:
        show("Nothing changed beyond what healthy valves do.")
