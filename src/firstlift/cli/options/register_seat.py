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
    seat = parts.add_parser(
        "seat", help="seat records of a valve: add one, list them with the one in force; tests that rest on a wrong one"
    )
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
    put.add_argument(
        "--corrects", metavar="RECORD",
        help="identifier of a record that was wrong, in whose place this one stands (--json of 'list' tells it)",
    )  # fmt: skip
    put.add_argument("--why", default="", metavar="TEXT", help="what was wrong with it (with --corrects)")
    tell = acts.add_parser("list", help="list seat records", description="List a valve's seat records.")
    tell.add_argument("valve", metavar="TAG", help="tag where the valve hangs, or its serial")
    tell.add_argument("--date", metavar="YYYY-MM-DD", help="of the test (default today)")
    tell.add_argument(
        "--with", action="append", dest="serials", metavar="SERIAL", help="cells and gauge of the test, one each"
    )
    tell.add_argument("--json", action="store_true", help="print as JSON, SI")
    rest = acts.add_parser(
        "tests", help="list tests to compute again",
        description="List a valve's tests that rest on another seat record than the one in force for their day.",
    )  # fmt: skip
    rest.add_argument("valve", metavar="TAG", help="tag where the valve hangs, or its serial")
    again = acts.add_parser(
        "again", help="compute a kept test with the seat record in force for its day",
        description="Compute a kept test again with the seat record in force for its day. Nothing is kept without "
        "--keep; then the earlier test stays, and the new one counts.",
    )  # fmt: skip
    again.add_argument("test", metavar="TEST", help="identifier of the kept test")
    again.add_argument("--keep", action="store_true", help="keep it as a correction of the earlier test")
    again.add_argument("--why", default="", metavar="TEXT", help="why it is computed again (with --keep)")
    again.add_argument("--by", metavar="PERSON", help="who keeps it: a person of the register (default FIRSTLIFT_BY)")
    again.add_argument(
        "--despite-certificate", action="store_true",
        help="a certificate of the test is issued, and will be superseded or withdrawn (with --keep)",
    )  # fmt: skip
    for parser in (rest, again):
        parser.add_argument("--json", action="store_true", help="print as JSON, SI")
    for parser in (put, tell, rest, again):
        parser.add_argument("--store", metavar="WHERE", help="the register (default ./firstlift-register)")
    for parser in (put, tell):
        parser.set_defaults(run="firstlift.cli.register_seat")
    for parser in (rest, again):
        parser.set_defaults(run="firstlift.cli.register_seat_again")
