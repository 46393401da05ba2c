"""The command line: parse, call a use case, show. Nothing heavy is imported before it is needed."""

from __future__ import annotations

import argparse
import sys
from collections.abc import Sequence

from firstlift import __version__
from firstlift.cli.options import (
    adjust,
    analyse,
    audit,
    certificate,
    copies,
    demo,
    due,
    hazard,
    import_,
    interval,
    label,
    papers,
    plan,
    quick,
    register,
    search,
    seat,
    serve,
    signature,
    verify,
)

_COMMANDS = (
    plan,
    hazard,
    analyse,
    quick,
    adjust,
    certificate,
    papers,
    seat,
    verify,
    register,
    due,
    audit,
    copies,
    import_,
    label,
    interval,
    signature,
    search,
    serve,
    demo,
)

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
    for options in _COMMANDS:
        options.add(commands)
    return parser


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
