"""What `firstlift hazard` takes."""

from __future__ import annotations

import argparse

_EPILOG = """\
exit codes: 0 done; 1 a severe warning stands on the sheet (a liquid that flashes, a very cold jet); 2 wrong use, or
no relation covers the case; 3 the job sheet cannot be read. These numbers are no permit: the owner's permit and
local codes decide.
"""


def add(commands: argparse._SubParsersAction) -> None:
    """Add the command and its options.

    Parameters
    ----------
    commands : argparse._SubParsersAction
    """
    hazard = commands.add_parser(
        "hazard",
        help="what may happen if the valve opens fully",
        description="Flow, reaction, noise, jet and distances if the valve of a job sheet opens fully.",
        epilog=_EPILOG,
        formatter_class=argparse.RawDescriptionHelpFormatter,
    )
    hazard.add_argument("jobsheet", metavar="JOBSHEET", help="job sheet (TOML); its recording need not exist yet")
    hazard.add_argument("--bore", metavar='"28 mm"', help="actual least bore of the way through the valve")
    hazard.add_argument("--flow-area", metavar='"616 mm2"', help="or its area; an orifice letter's area is refused")
    hazard.add_argument("--outlet", metavar='"102 mm"', help="inside diameter of the outlet pipe at its end")
    hazard.add_argument("--pressure", metavar='"11 bar"', help="before the open valve (default 110 %% of set)")
    hazard.add_argument("--back-pressure", metavar='"0.5 bar"', help="at the outlet while it flows (default 0)")
    hazard.add_argument("--fluid", default="", metavar="NAME", help="a pure fluid by CoolProp's name, such as Methane")
    hazard.add_argument("--temperature", metavar='"20 degC"', help="before the valve (steam: default saturated)")
    hazard.add_argument("--molar-mass", metavar="G/MOL", help="of a gas without a known name, in g/mol")
    hazard.add_argument("--heat-ratio", metavar="K", help="ratio of specific heats of such a gas")
    hazard.add_argument("--compressibility", metavar="Z", help="of such a gas (default 1)")
    hazard.add_argument("--density", metavar="KG/M3", help="of a liquid without a known name, in kg/m3")
    hazard.add_argument("--vapour-pressure", metavar='"-0.98 bar"', help="of a liquid, gauge, at its temperature")
    hazard.add_argument("--coefficient", metavar="KD", help="certified coefficient of discharge")
    hazard.add_argument("--ambient", metavar='"20 degC"', help="temperature of the air (default: the job sheet's)")
    hazard.add_argument("--distance", action="append", default=[], metavar='"10 m"', help="where people stand; repeat")
    hazard.add_argument("--harmful", metavar='"0.1 %"', help="volume share in air nobody should stand in")
    hazard.add_argument("--hazard", action="append", default=[], metavar="TEXT", help="a hazard of the medium; repeat")
    hazard.add_argument("--closed", action="store_true", help="the outlet goes to a closed header")
    hazard.add_argument("--json", action="store_true", help="print the sheet as JSON, SI")
    hazard.set_defaults(run="firstlift.cli.hazard")
