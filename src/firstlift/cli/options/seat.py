"""What `firstlift seat` takes."""

from __future__ import annotations

import argparse

_EPILOG = """\
The table's columns: line_pressure, pull, bench_pressure, line_uncertainty, pull_uncertainty, bench_uncertainty,
back_pressure, temperature, setting. Units stand in the heading, "pull [N]", or beside the values, "420 N".
"""


def add(commands: argparse._SubParsersAction) -> None:
    """Add the command and its options.

    Parameters
    ----------
    commands : argparse._SubParsersAction
    """
    seat = commands.add_parser(
        "seat",
        help="seat area from diameters, from pulls at several line pressures, or from bench results",
        description="The area line pressure acts on, with its uncertainty, in one of several ways.",
        epilog=_EPILOG,
        formatter_class=argparse.RawDescriptionHelpFormatter,
    )
    add_ways(seat)
    seat.add_argument("--json", action="store_true", help="print the answer as JSON, SI")
    seat.set_defaults(run="firstlift.cli.seat")


def add_ways(parser: argparse.ArgumentParser) -> None:
    """Add the ways in which a seat can be given.

    Parameters
    ----------
    parser : argparse.ArgumentParser
    """
    parser.add_argument("--inner", metavar='"30 mm"', help="bore of the contact, with --outer")
    parser.add_argument("--outer", metavar='"32 mm"', help="outer edge of the contact")
    parser.add_argument("--mean", metavar='"31 mm"', help="or its mean diameter")
    parser.add_argument("--area", metavar='"755 mm2"', help="or its area; an orifice letter's area is refused")
    parser.add_argument("--uncertainty", metavar='"0.1 mm"', help="standard uncertainty of what was stated")
    parser.add_argument("--reference", default="", metavar="TEXT", help="the paper a figure stands on")
    parser.add_argument("--at", action="append", default=[], metavar='"4 bar, 420 N"', help="line pressure and pull")
    parser.add_argument(
        "--pair",
        action="append",
        default=[],
        metavar='"8 bar, 141 N, 10 bar"',
        help="line pressure, pull, bench result",
    )
    parser.add_argument("--table", metavar="FILE.csv", help="or a table of either")
    parser.add_argument(
        "--sheet", action="append", default=[], metavar="JOBSHEET.toml",
        help="or job sheets of recordings of one valve at several line pressures",
    )  # fmt: skip
    parser.add_argument("--line-uncertainty", metavar='"0.2 %"', help="standard uncertainty of one reading of the line")
    parser.add_argument("--pull-uncertainty", metavar='"1 N"', help="of one pull: moment, noise, reading off")
    parser.add_argument("--bench-uncertainty", metavar='"0.3 %"', help="of one bench result, repeatability included")
    parser.add_argument("--gauge-uncertainty", metavar='"0.25 %"', help="of the gauge's calibration, common to all")
    parser.add_argument("--cell-uncertainty", metavar='"0.3 %"', help="of the cell's calibration, common to all")
    parser.add_argument("--bench-gauge-uncertainty", metavar='"0.1 %"', help="of the bench's gauge, common to all")
    parser.add_argument("--gauge", default="gauge", metavar="SERIAL", help="the gauge that read the line")
    parser.add_argument("--cell", default="cell", metavar="SERIAL", help="the cell that read the pull")
    parser.add_argument("--bench-gauge", default="bench gauge", metavar="SERIAL", help="the gauge of the bench")
    parser.add_argument("--friction", metavar='"15 N"', help="friction of the valve, where it is known")
