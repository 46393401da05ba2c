"""The command line: parse, call a use case, show. Nothing heavy is imported before it is needed."""

from __future__ import annotations

import argparse
import sys
from collections.abc import Sequence

from firstlift import __version__

_EPILOG = """\
exit codes: 0 within and fit, or done; 1 any other result; 2 wrong use; 3 no recording could be formed.

People can be hurt by this work. The owner's permit, local codes and licensed practice decide; see README.
"""


def build_parser() -> argparse.ArgumentParser:
    """Build the parser of all commands.

    Returns
    -------
    argparse.ArgumentParser
    """
    parser = argparse.ArgumentParser(
        prog="firstlift",
        description="From the pull on a safety valve in service to set pressure, verdict and certificate.",
        epilog=_EPILOG,
        formatter_class=argparse.RawDescriptionHelpFormatter,
    )
    parser.add_argument("--version", action="version", version=f"firstlift {__version__}")
    commands = parser.add_subparsers(dest="command", metavar="COMMAND", required=True)
    _add_analyse(commands)
    _add_quick(commands)
    _add_demo(commands)
    return parser


def _add_analyse(commands: argparse._SubParsersAction) -> None:
    analyse = commands.add_parser(
        "analyse", help="recordings to results", description="Analyse recordings by their job sheets."
    )
    analyse.add_argument("jobsheet", nargs="+", metavar="JOBSHEET", help="job sheet (TOML) that names its recording")
    analyse.add_argument("--json", action="store_true", help="print the result as JSON, one object a line for several")
    analyse.add_argument("--certificate", metavar="OUT.pdf", help="write the certificate (one job sheet only)")
    analyse.add_argument("--plot", metavar="OUT.svg", help="draw the first pull that lifted (one job sheet only)")
    analyse.set_defaults(run="firstlift.cli.analyse")


def _add_quick(commands: argparse._SubParsersAction) -> None:
    quick = commands.add_parser(
        "quick",
        help="the pocket calculation for a pull read off by hand",
        description="Set pressure from line pressure, pull force and seat, with uncertainty and verdict.",
    )
    quick.add_argument("--line", required=True, metavar='"8 bar"', help="line pressure at first lift, gauge")
    quick.add_argument("--pull", required=True, metavar='"141 N"', help="pull force at first lift, tare taken off")
    quick.add_argument("--seat-diameter", metavar='"30 mm"', help="mean diameter of the seat")
    quick.add_argument("--seat-area", metavar='"707 mm2"', help="or its area")
    quick.add_argument("--set", required=True, metavar='"10 bar"', help="stamped set pressure")
    quick.add_argument("--code", required=True, metavar="CODE", help="rule set, such as iso-4126-1 or asme-xiii")
    quick.add_argument("--medium", choices=("gas", "steam", "liquid"), default="gas")
    quick.add_argument("--decision", choices=("guarded", "simple"), default="guarded")
    quick.add_argument("--probability", type=_probability, default=0.95, help="of the guarded rule (default 0.95)")
    quick.add_argument("--line-uncertainty", metavar='"0.5 %"', help="standard uncertainty of the line pressure")
    quick.add_argument("--pull-uncertainty", metavar='"0.5 %"', help="standard uncertainty of the pull")
    quick.add_argument("--seat-uncertainty", metavar='"0.1 mm"', help="standard uncertainty of diameter or area")
    quick.add_argument("--json", action="store_true", help="print the result as JSON")
    quick.set_defaults(run="firstlift.cli.quick")


def _add_demo(commands: argparse._SubParsersAction) -> None:
    demo = commands.add_parser(
        "demo",
        help="an invented test, from recording to certificate",
        description="Make an invented recording, analyse it and write its certificate.",
    )
    demo.add_argument("folder", nargs="?", default="firstlift-demo", help="where to write (default firstlift-demo)")
    demo.add_argument("--seed", type=_seed, default=3, help="same seed, same test (default 3)")
    demo.set_defaults(run="firstlift.cli.demo")


def _probability(text: str) -> float:
    try:
        value = float(text.replace(",", "."))
    except ValueError:
        value = 0.0
    if not 0.5 < value < 1.0:
        message = f"'{text}' is not a probability between 0.5 and 1"
        raise argparse.ArgumentTypeError(message)
    return value


def _seed(text: str) -> int:
    if not (text.isdecimal() and len(text) < 10):
        message = f"'{text}' is not a whole number of 0 or more"
        raise argparse.ArgumentTypeError(message)
    return int(text)


def main(argv: Sequence[str] | None = None) -> int:
    """Run the command line.

    Parameters
    ----------
    argv : sequence of str or None
        Arguments; those of the process where None.

    Returns
    -------
    int
        Exit code.
    """
    arguments = build_parser().parse_args(argv)
    import importlib

    from firstlift.core.errors import FirstliftError

    try:
        return importlib.import_module(arguments.run).run(arguments)
    except FirstliftError as error:
        for problem in error.problems:
            print(f"firstlift: {problem.sentence()}", file=sys.stderr)
        return error.exit_code
    except KeyboardInterrupt:
        print("firstlift: stopped by the keyboard; nothing was left half-written.", file=sys.stderr)
        return 3
    except Exception as error:  # noqa: BLE001  the last edge: a library's traceback must not reach a user
        return _unexpected(error)


def _unexpected(error: Exception) -> int:
    """Say an unforeseen failure plainly; the traceback is there for whoever asks."""
    import os
    import traceback

    print(
        f"firstlift: USE-001 an error nobody foresaw: {type(error).__name__}: {error}. Nothing was left half-written. "
        "Set FIRSTLIFT_TRACEBACK=1 to see where, and report it with the job sheet.",
        file=sys.stderr,
    )
    if os.environ.get("FIRSTLIFT_TRACEBACK"):
        traceback.print_exception(error)
    return 3


if __name__ == "__main__":
    sys.exit(main())
