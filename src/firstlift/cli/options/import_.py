"""What `firstlift import` takes."""

from __future__ import annotations

import argparse


def add(commands: argparse._SubParsersAction) -> None:
    """Add the command and its options.

    Parameters
    ----------
    commands : argparse._SubParsersAction
    """
    take = commands.add_parser(
        "import",
        help="bring a spreadsheet of valves or instruments into the register",
        description="Bring a spreadsheet (XLSX or CSV) into the register: columns matched by name, each doubt asked. "
        "One row that cannot be taken keeps everything out, unless --take-good-rows is given.",
    )
    take.add_argument("file", metavar="FILE", help="XLSX or CSV")
    take.add_argument("--preview", action="store_true", help="say what would go where; write nothing")
    take.add_argument("--mapping", metavar="FILE.toml", help="a saved mapping")
    take.add_argument("--save-mapping", metavar="FILE.toml", help="keep what goes where for the next file of this kind")
    take.add_argument("--take-good-rows", action="store_true", help="keep the good rows where others cannot be taken")
    take.add_argument("--report", metavar="FILE.csv", help="write every row that cannot be taken, with its reason")
    take.add_argument(
        "--unit", action="append", default=[], metavar="FIELD=UNIT", help="unit of bare numbers: set_pressure=bar"
    )
    take.add_argument(
        "--constant", action="append", default=[], metavar="FIELD=VALUE", help='one value for all rows: site="North"'
    )
    take.add_argument("--dates", choices=("day-first", "month-first"), help="how 03/04/2026 is meant")
    take.add_argument("--decimal", choices=("comma", "point"), help="how 1,250 is meant")
    take.add_argument("--encoding", default="", help="of a CSV that is not UTF-8, such as cp1252")
    take.add_argument("--store", metavar="WHERE", help="the register (default ./firstlift-register)")
    take.set_defaults(run="firstlift.cli.import_")
