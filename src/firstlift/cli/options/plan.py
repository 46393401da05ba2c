"""What `firstlift plan` takes."""

from __future__ import annotations

import argparse

_EPILOG = """\
questions and answers: valve-kind (direct-spring, pilot-operated, supplementary-loaded, weight-loaded, vacuum,
power-assisted), spindle-holds-disc (yes, no), thread (sound, corroded), rupture-disc (none, in-series), bellows
(none, sound, failed, unknown), drain-and-vent (clear, blocked), seat (metal, soft), gag (none, fitted), guide (whole,
missing), release (allowed, not-allowed), accepted (yes, no).

exit codes: 0 go, or decided; 1 questions are open, do not pull, or not decided; 2 wrong use; 3 the job sheet cannot be
read. A plan is advice: the owner's permit and local codes decide.
"""


def add(commands: argparse._SubParsersAction) -> None:
    """Add the command and its options.

    Parameters
    ----------
    commands : argparse._SubParsersAction
    """
    plan = commands.add_parser(
        "plan",
        help="before a pull: does it apply, is it safe, can it decide; after it: what next",
        description="Plan a pull from the job sheet of the test to come, or weigh what next after its pulls.",
        epilog=_EPILOG,
        formatter_class=argparse.RawDescriptionHelpFormatter,
    )
    plan.add_argument("jobsheet", metavar="JOBSHEET", help="job sheet (TOML); its recording need not exist yet")
    plan.add_argument("--line", metavar='"8 bar"', help="line pressure of the pull (default: the job sheet's)")
    plan.add_argument(
        "--highest-line", metavar='"9 bar"', help="as far as the line may be raised (default 95 %% of set)"
    )
    plan.add_argument("--frame-limit", metavar='"5 kN"', help="what the frame bears")
    plan.add_argument(
        "--cell-capacity", metavar='"2 kN"', help="a cell's full scale, where its channel has no capacity"
    )
    plan.add_argument("--spindle-limit", metavar='"3 kN"', help="what spindle and thread bear (default: max_pull)")
    plan.add_argument("--stop", metavar='"110 %"', help="where the pull stops, of set (default 110 %%, never 150 %%)")
    plan.add_argument("--moment-uncertainty", metavar='"0.5 %"', help="of finding first lift, of set or a pressure")
    plan.add_argument("--spread", metavar='"3 %"', help="how such valves lie about their stamp (standard deviation)")
    plan.add_argument("--rated-lift", metavar='"6 mm"', help="the valve's rated lift")
    plan.add_argument(
        "--answer", action="append", default=[], metavar="QUESTION=ANSWER", help="answer a question; may be repeated"
    )
    plan.add_argument("--mawp", metavar='"10 bar"', help="of the protected system: judges its valves together")
    plan.add_argument(
        "--with-valve",
        action="append",
        default=[],
        metavar='"PSV-2, 10.3 bar"',
        help="another valve of that system: tag, set pressure[, found opening at][, fire]; may be repeated",
    )
    plan.add_argument("--store", metavar="WHERE", help="or the register: judges the system, names the valve's siblings")
    plan.add_argument("--after", metavar="RESULT.json", help="what next after the pulls of this result")
    plan.add_argument("--card", choices=("stuck", "stayed-open", "leaking", "bellows-vent"), help="print one card only")
    plan.add_argument("--hold-points", action="store_true", help="print the hold points only")
    plan.add_argument(
        "--confirm",
        action="append",
        default=[],
        metavar="KEY[=NOTE]",
        help="keep in the register that this hold point is confirmed, or owner-told-stuck and the like; repeat",
    )
    plan.add_argument("--by", metavar="PERSON", help="who confirms it, a person of the register")
    plan.add_argument("--envelope", metavar="OUT.svg", help="draw pull against line pressure with the rig's limit")
    plan.add_argument("--map", metavar="OUT.svg", help="draw which readings decide, against line pressure")
    plan.add_argument("--write", metavar="PLAN.json", help="write the plan as data, for a rig to load")
    plan.add_argument("--check", metavar="PLAN.json", help="check a written plan against valve, rig and limits now")
    plan.add_argument("--json", action="store_true", help="print the plan (or what next) as JSON")
    plan.set_defaults(run="firstlift.cli.plan")
