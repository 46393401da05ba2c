"""What `firstlift register create|upgrade|add|set|list|show|erase|recall` take."""

from __future__ import annotations

import argparse

_KINDS = """\
kinds: owner, site, protected_system, position, interval, rule_choice, valve, installation, instrument, calibration,
person, qualification, visit, use_check, identity_check, hold_point, valve_test, adjustment, attachment, contact
(and, to list and show, seat_record and certificate).

A key is a field of the kind; owner=, site=, position=, valve=, instrument=, visit=, person= take a name, tag, serial
or identifier. Lists are separated by commas or written as JSON. turns= of an adjustment: to the right (screwing in)
positive. See docs/register.md.
"""


def add(parts: argparse._SubParsersAction) -> None:
    """Add the parts.

    Parameters
    ----------
    parts : argparse._SubParsersAction
        The subcommands of `firstlift register`.
    """
    create = parts.add_parser("create", help="make a new, empty register")
    upgrade = parts.add_parser("upgrade", help="bring a register of an older release up to this one")
    put = _entries(parts, "add", "add an entry")
    put.add_argument("kind", metavar="KIND")
    put.add_argument("values", nargs="+", metavar="KEY=VALUE")
    change = _entries(parts, "set", "change fields of an entry; the history keeps what they were")
    change.add_argument("kind", metavar="KIND")
    change.add_argument("name", metavar="NAME", help="name, tag, serial or identifier")
    change.add_argument("values", nargs="+", metavar="KEY=VALUE")
    tell = _entries(parts, "list", "list entries of a kind")
    tell.add_argument("kind", metavar="KIND")
    tell.add_argument("values", nargs="*", metavar="KEY=VALUE", help="only those whose fields equal these")
    tell.add_argument("--limit", type=int, default=50)
    tell.add_argument("--offset", type=int, default=0)
    one = _entries(parts, "show", "show an entry, its changes, and of a valve or position its history")
    one.add_argument("kind", metavar="KIND")
    one.add_argument("name", metavar="NAME", help="name, tag, serial or identifier")
    erase = parts.add_parser("erase", help="remove what identifies a person; the history holds")
    erase.add_argument("name", metavar="PERSON", help="name or identifier")
    recall = parts.add_parser("recall", help="tests that used an instrument, under its calibration in force now")
    recall.add_argument("serial", metavar="SERIAL")
    recall.add_argument("--from", dest="first", metavar="YYYY-MM-DD", help="first day of the tests")
    recall.add_argument("--until", dest="last", metavar="YYYY-MM-DD", help="last day of the tests")
    for parser in (put, change, tell, one, recall):
        parser.add_argument("--json", action="store_true", help="print as JSON, SI")
    for parser in (create, upgrade, put, change, tell, one, erase, recall):
        add_store(parser)
        parser.set_defaults(run="firstlift.cli.register_entries")
    for parser in (put, change, erase):
        add_who(parser)


def add_store(parser: argparse.ArgumentParser) -> None:
    """Add the option that names the register.

    Parameters
    ----------
    parser : argparse.ArgumentParser
    """
    parser.add_argument(
        "--store", metavar="PATH|URL", help="the register (default FIRSTLIFT_STORE, else ./firstlift-register)"
    )


def add_who(parser: argparse.ArgumentParser) -> None:
    """Add the option that names who does it.

    Parameters
    ----------
    parser : argparse.ArgumentParser
    """
    parser.add_argument("--by", metavar="PERSON", help="who does it: a person of the register (default FIRSTLIFT_BY)")


def _entries(parts: argparse._SubParsersAction, name: str, text: str) -> argparse.ArgumentParser:
    return parts.add_parser(
        name, help=text, description=text, epilog=_KINDS, formatter_class=argparse.RawDescriptionHelpFormatter
    )
