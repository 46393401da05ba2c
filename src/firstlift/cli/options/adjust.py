"""What `firstlift adjust` takes."""

from __future__ import annotations

import argparse

_EPILOG = """\
exit codes: 0 turn as said, or leave it, or cold pressure given; 1 do not turn: the reasons are named; 2 wrong use; 3
the job sheet or the result cannot be read. Only who is authorised by the owner and the code turns the screw.
"""


def add(commands: argparse._SubParsersAction) -> None:
    """Add the command and its options.

    Parameters
    ----------
    commands : argparse._SubParsersAction
    """
    adjust = commands.add_parser(
        "adjust",
        help="how far to turn the screw, or why not to; cold test pressure",
        description="Turns and flats of the adjusting screw with their uncertainty, and everything that stops them.",
        epilog=_EPILOG,
        formatter_class=argparse.RawDescriptionHelpFormatter,
    )
    adjust.add_argument("jobsheet", metavar="JOBSHEET", help="job sheet (TOML) of the valve")
    adjust.add_argument("--result", metavar="RESULT.json", help="result of the last test, as analyse --json prints it")
    adjust.add_argument("--reading", metavar='"10.4 bar"', help="or the set pressure as it is")
    adjust.add_argument("--reading-uncertainty", metavar='"0.03 bar"', help="standard uncertainty of the reading")
    adjust.add_argument("--leaking", action="store_true", help="the seat leaked before it lifted")
    adjust.add_argument("--target", metavar='"10 bar"', help="what it should open at (default: its set pressure)")
    adjust.add_argument("--line", metavar='"8 bar"', help="line pressure now")
    adjust.add_argument("--pull-off", action="store_true", help="the pull is let go and the gear slack")
    adjust.add_argument("--authorised-by", default="", metavar="NAME", help="who allowed this person to adjust")
    adjust.add_argument("--mawp", metavar='"10 bar"', help="maximum pressure of the protected system")
    adjust.add_argument(
        "--place", choices=("first", "further", "fire"), default="first", help="in the group (default first)"
    )
    adjust.add_argument("--spring-rate", metavar='"40.6 N/mm"', help="goes before the job sheet's")
    adjust.add_argument("--screw-pitch", metavar='"1.5 mm"', help="goes before the job sheet's")
    adjust.add_argument(
        "--turned",
        action="append",
        default=[],
        metavar='"-0.5 turns: 10.4 bar -> 10.0 bar"',
        help="an earlier adjustment to learn from, right positive; repeat (write --turned=... for turns to the left)",
    )
    adjust.add_argument("--turned-uncertainty", metavar='"0.2 %"', help="of each of its readings (default 0.5 %%)")
    adjust.add_argument("--store", metavar="WHERE", help="the register: learn from this valve's earlier adjustments")
    adjust.add_argument("--cold", action="store_true", help="give the cold differential test pressure instead")
    adjust.add_argument("--from-cold", metavar='"9.1 bar"', help="or the set pressure of a cold test pressure")
    adjust.add_argument("--temperature", metavar='"280 degC"', help="before the valve in service, for --cold")
    adjust.add_argument("--multiplier", metavar="FACTOR", help="the maker's temperature multiplier, for --cold")
    adjust.add_argument("--json", action="store_true", help="print the advice as JSON, SI")
    adjust.set_defaults(run="firstlift.cli.adjust")
