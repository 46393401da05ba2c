"""What `firstlift interval` takes."""

from __future__ import annotations

import argparse


def add(commands: argparse._SubParsersAction) -> None:
    """Add the command and its options.

    Parameters
    ----------
    commands : argparse._SubParsersAction
    """
    interval = commands.add_parser(
        "interval",
        help="when to test valves next, and why",
        description="Next test dates from a table of tests: rules as caps, the tests' own evidence under them.",
    )
    interval.add_argument(
        "tests", nargs="?", metavar="TESTS.csv", help="valve, group, date, found, ratio, overhauled; a row a test"
    )
    interval.add_argument("--store", metavar="WHERE", help="or the register: its folder or a PostgreSQL URL")
    interval.add_argument(
        "--group-by",
        default="none",
        metavar="WHAT",
        help="what makes a group of a register's valves: none (default), maker, type, medium, unit",
    )
    add_asked(interval)
    _add_shown(interval)
    interval.set_defaults(run="firstlift.cli.interval")


def add_asked(interval: argparse.ArgumentParser) -> None:
    """Add what the owner asks of an interval.

    Parameters
    ----------
    interval : argparse.ArgumentParser
    """
    interval.add_argument(
        "--target",
        type=_share,
        default=0.05,
        metavar='"5 %"',
        help="highest chance of a find failed to danger (default 5 %%)",
    )
    interval.add_argument(
        "--danger-ratio",
        type=_number,
        default=1.10,
        metavar="RATIO",
        help="opening over set pressure that counts as failed to danger (default 1.10)",
    )
    interval.add_argument(
        "--service",
        default="api-510-typical",
        help="whose longest interval holds: api-510-typical (default), api-510-clean, nbic-...",
    )
    interval.add_argument("--owner-max", type=_number, metavar="YEARS", help="the owner's longest interval")
    interval.add_argument(
        "--jurisdiction-max", type=_number, metavar="YEARS", help="the jurisdiction's longest interval"
    )
    interval.add_argument("--jurisdiction-rule", metavar="TEXT", help="which rule that is")
    interval.add_argument(
        "--method", choices=("lift", "bench"), default="lift", help="how the next test is done (default lift)"
    )
    interval.add_argument(
        "--effectiveness",
        type=_share,
        metavar='"70 %"',
        help="share of dangerous failures the test sees (default: by method)",
    )
    interval.add_argument(
        "--prior", default="weak", help="what is held likely before: weak (default), api-581-mild, -moderate, -severe"
    )
    interval.add_argument("--no-step-rule", action="store_true", help="do not hold, halve or step by the last results")


def _add_shown(interval: argparse.ArgumentParser) -> None:
    interval.add_argument(
        "--valve", action="append", default=[], metavar="VALVE", help="show this valve only (may be repeated)"
    )
    interval.add_argument("--group", metavar="GROUP", help="the group to draw")
    interval.add_argument("--survival", metavar="OUT.svg", help="draw the share still good against age")
    interval.add_argument("--drift", metavar="OUT.svg", help="draw the drift of set pressure")
    interval.add_argument("--json", action="store_true", help="print the whole answer as JSON")


def _number(text: str) -> float:
    try:
        return float(text.replace(",", "."))
    except ValueError:
        message = f"'{text}' is not a number"
        raise argparse.ArgumentTypeError(message) from None


def _share(text: str) -> float:
    bare = text.strip()
    if bare.endswith("%"):
        return _number(bare[:-1].strip()) / 100.0
    return _number(bare)
