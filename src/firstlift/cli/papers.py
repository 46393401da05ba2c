"""`firstlift papers`: the other papers of a job, and a visit's data."""

from __future__ import annotations

import argparse
import dataclasses
import datetime as dt
from pathlib import Path
from typing import TYPE_CHECKING

from firstlift.cli.show import show
from firstlift.usecases.certify import write_whole
from firstlift.usecases.register.place import now, opened

if TYPE_CHECKING:
    from firstlift.certificate.papers.facts import Printing
    from firstlift.certificate.papers.model import JobPaper
    from firstlift.store.open import Store


def run(arguments: argparse.Namespace) -> int:
    """Run the command.

    Parameters
    ----------
    arguments : argparse.Namespace

    Returns
    -------
    int
        0: the file is written.

    Raises
    ------
    FirstliftError
        The register has no such visit, valve or site, or a text cannot be printed; UsageError for an option that
        makes no sense.
    """
    out = Path(arguments.out)
    if arguments.kind == "exchange":
        return _exchange(arguments, out)
    from firstlift.usecases.visitpapers.make import set_paper

    printing = _printing(arguments)
    with opened(arguments.store) as store:
        paper = _paper(store, arguments, printing)
    pdf = set_paper(paper, printing)
    write_whole(out, pdf)
    show(f"{paper.title}  {paper.subject}")
    show(f"file    {out} ({len(pdf) / 1000:.0f} kB)")
    return 0


def _exchange(arguments: argparse.Namespace, out: Path) -> int:
    from firstlift.core.errors import Problem, UsageError
    from firstlift.usecases.visitpapers.exchange import ENDINGS, exchange_bytes, visit_data

    ending = out.suffix.lower()
    if ending not in ENDINGS:
        raise UsageError(
            Problem("PAP-006", f"'{out.name}' ends in no format for a visit's data", "--out", ", ".join(ENDINGS))
        )
    with opened(arguments.store) as store:
        data = visit_data(store, arguments.visit)
    write_whole(out, exchange_bytes(data, ending))
    count = len(data["tests"])
    show(f"{data['visit']['name']}: {count} test{'' if count == 1 else 's'}")
    show(f"file    {out}")
    return 0


def _printing(arguments: argparse.Namespace) -> Printing:
    from firstlift.certificate.settings import PLAIN, Paper
    from firstlift.usecases.certify import read_issuer
    from firstlift.usecases.visitpapers.make import printing_of

    settings = read_issuer(Path(arguments.issuer)) if arguments.issuer else PLAIN
    if arguments.paper:
        settings = dataclasses.replace(settings, paper=Paper(arguments.paper))
    if arguments.language:
        settings = dataclasses.replace(settings, language=arguments.language)
    return printing_of(_day(arguments.on), settings, draft=arguments.draft)


def _day(text: str | None) -> dt.date:
    from firstlift.core.errors import Problem, UsageError

    if text is None:
        return now().date()
    try:
        return dt.date.fromisoformat(text)
    except ValueError as error:
        raise UsageError(Problem("USE-003", f"'{text[:40]}' is no date", "--on", "a date, 2026-05-01")) from error


def _paper(store: Store, arguments: argparse.Namespace, printing: Printing) -> JobPaper:
    from firstlift.usecases.visitpapers import make

    valves = tuple(getattr(arguments, "valve", ()))
    if arguments.kind == "packet":
        from firstlift.usecases.visitpapers.to_come import PacketAsked

        asked = PacketAsked(
            lines=tuple(arguments.line),
            line_share=arguments.line_share,
            frame_limit=arguments.frame_limit,
            spindle_limit=arguments.spindle_limit,
            answers=tuple(arguments.answer),
            valves=valves,
        )
        return make.make_packet(store, arguments.visit, asked, printing, cards=arguments.cards)
    if arguments.kind == "visit":
        return make.make_visit(store, arguments.visit, printing)
    if arguments.kind == "nonconformity":
        return make.make_nonconformity(store, arguments.visit, valves, printing)
    if arguments.kind == "return":
        return make.make_return(store, arguments.visit, valves, printing)
    return _planning(store, arguments, printing, valves)


def _planning(store: Store, arguments: argparse.Namespace, printing: Printing, valves: tuple[str, ...]) -> JobPaper:
    from firstlift.cli.interval import asked_of
    from firstlift.usecases.visitpapers.planning import PlanningAsked, make_planning

    wish = PlanningAsked(arguments.site, valves, arguments.group_by, asked_of(arguments))
    return make_planning(store, wish, printing)
