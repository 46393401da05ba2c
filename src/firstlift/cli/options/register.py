"""What `firstlift register` takes: one module a part."""

from __future__ import annotations

import argparse

from firstlift.cli.options import register_entries, register_paired, register_seat

_PARTS = (register_entries, register_seat, register_paired)


def add(commands: argparse._SubParsersAction) -> None:
    """Add the command and its parts.

    Parameters
    ----------
    commands : argparse._SubParsersAction
    """
    register = commands.add_parser("register", help="the register: its valves, seats, instruments and tests")
    parts = register.add_subparsers(dest="part", metavar="PART", required=True)
    for part in _PARTS:
        part.add(parts)
