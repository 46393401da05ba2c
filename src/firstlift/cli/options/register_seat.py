"""What `firstlift register seat` takes."""

from __future__ import annotations

import argparse

from firstlift.cli.options.seat import add_ways


def add(parts: argparse._SubParsersAction) -> None:
    """Add the seat commands of the register.

    Parameters
    ----------
    parts : argparse._SubParsersAction
        The subcommands of `firstlift register`.
    """
    seat = parts.add_parser("seat", help="seat records of a valve: add one, or list them with the one in force")
    acts = seat.add_subparsers(dest="act", metavar="ACT", required=True)
    put = acts.add_parser("add", help="add a seat record", description="Add a seat record to a valve.")
    put.add_argument("valve", metavar="TAG", help="tag where the valve hangs, or its serial")
    add_ways(put)
    put.add_argument("--date", metavar="YYYY-MM-DD", help="when the seat was measured or last pulled (default today)")
    put.add_argument(
        "--measured-with", action="append", default=[], metavar="SERIAL",
        help="what measured the dimensions; without it they are a maker's figure",
    )  # fmt: skip
    put.add_argument("--by", metavar="PERSON", help="who measured it: a person of the register (default FIRSTLIFT_BY)")
    put.add_argument("--note", default="", metavar="TEXT")
    put.add_argument(
        "--overhauled", action="store_true", help="the seat was re-lapped or re-machined: no older record serves"
    )
    tell = acts.add_parser("list", help="list seat records", description="List a valve's seat records.")
    tell.add_argument("valve", metavar="TAG", help="tag where the valve hangs, or its serial")
    tell.add_argument("--date", metavar="YYYY-MM-DD", help="of the test (default today)")
    tell.add_argument(
        "--with", action="append", dest="serials", metavar="SERIAL", help="cells and gauge of the test, one each"
    )
    tell.add_argument("--json", action="store_true", help="print as JSON, SI")
    for parser in (put, tell):
        parser.add_argument("--store", metavar="WHERE", help="the register (default ./firstlift-register)")
        parser.set_defaults(run="firstlift.cli.register_seat")
