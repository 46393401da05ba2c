"""What `firstlift papers` takes."""

from __future__ import annotations

import argparse

from firstlift.cli.options.interval import add_asked


def add(commands: argparse._SubParsersAction) -> None:
    """Add the command and its options.

    Parameters
    ----------
    commands : argparse._SubParsersAction
    """
    papers = commands.add_parser(
        "papers",
        help="the other papers of a job: field packet, summary, nonconformity, return to service, planning; its data",
        description="Papers of a job from the register, as PDF/A; and a visit's data as JSON, CSV or XLSX.",
    )
    kinds = papers.add_subparsers(dest="kind", metavar="KIND", required=True)
    _add_packet(kinds)
    _of_visit(kinds, "visit", "summary of a visit", valves=False)
    _of_visit(kinds, "nonconformity", "report of valves found out of order on a visit, a page each", valves=True)
    _of_visit(kinds, "return", "return-to-service sheets of a visit, signed by a second person", valves=True)
    _add_planning(kinds)
    exchange = kinds.add_parser(
        "exchange", help="a visit's data to hand on", description="By the ending of --out: .json, .csv or .xlsx."
    )
    _add_visit(exchange)
    _add_place(exchange, "OUT.json|.csv|.xlsx")
    papers.set_defaults(run="firstlift.cli.papers")


def _of_visit(kinds: argparse._SubParsersAction, name: str, said: str, *, valves: bool) -> argparse.ArgumentParser:
    paper = kinds.add_parser(name, help=said, description=said.capitalize() + ".")
    _add_visit(paper)
    if valves:
        _add_valves(paper)
    _add_place(paper, "OUT.pdf")
    _add_printing(paper)
    return paper


def _add_packet(kinds: argparse._SubParsersAction) -> None:
    packet = _of_visit(kinds, "packet", "field packet for a visit: a cover, and a page a valve", valves=True)
    packet.add_argument(
        "--line",
        action="append",
        default=[],
        metavar='"TAG=8 bar"',
        help="line pressure at a tag, if not the position's",
    )
    packet.add_argument("--line-share", metavar='"80 %"', help="of set pressure, where nobody knows the line's")
    packet.add_argument("--frame-limit", metavar='"5 kN"', help="largest pull the frame bears")
    packet.add_argument(
        "--spindle-limit", metavar='"3 kN"', help="largest pull any spindle bears, if not the valve's own"
    )
    packet.add_argument(
        "--answer", action="append", default=[], metavar="QUESTION=ANSWER", help="for every valve; see firstlift plan"
    )
    packet.add_argument("--cards", action="store_true", help="behind each page, what to do when it goes wrong")


def _add_planning(kinds: argparse._SubParsersAction) -> None:
    said = "next dates of the register's valves; a paper of its own"
    planning = kinds.add_parser("planning", help=said, description=said.capitalize() + ".")
    planning.add_argument("--site", default="", metavar="SITE", help="only its valves; all tests count as evidence")
    _add_valves(planning)
    planning.add_argument(
        "--group-by", default="none", metavar="WHAT", help="none (default), maker, type, medium, unit"
    )
    add_asked(planning)
    _add_place(planning, "OUT.pdf")
    _add_printing(planning)


def _add_visit(paper: argparse.ArgumentParser) -> None:
    paper.add_argument("--visit", required=True, metavar="NAME", help="the visit's name or identifier")


def _add_valves(paper: argparse.ArgumentParser) -> None:
    paper.add_argument(
        "--valve", action="append", default=[], metavar="TAG", help="only this tag or serial (may be repeated)"
    )


def _add_place(paper: argparse.ArgumentParser, out: str) -> None:
    paper.add_argument("--store", metavar="WHERE", help="the register: its folder or a PostgreSQL URL")
    paper.add_argument("--out", required=True, metavar=out, help="the file to write")


def _add_printing(paper: argparse.ArgumentParser) -> None:
    paper.add_argument("--issuer", metavar="ISSUER.toml", help="name, logo, paper and language, as for certificates")
    paper.add_argument("--paper", choices=("a4", "letter"), help="size of the sheet, before the issuer's")
    paper.add_argument("--language", metavar="CODE", help="en, de, fr, es, nl, pl, el, ar or zh, before the issuer's")
    paper.add_argument("--draft", action="store_true", help="with the watermark of a draft")
    paper.add_argument("--on", metavar="DATE", help="the day it is printed for (default: today)")
