"""Make the papers of a job: gather from the register, build, typeset."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence

from firstlift import __version__
from firstlift.certificate.papers.back import build_return
from firstlift.certificate.papers.facts import Printing, Tested
from firstlift.certificate.papers.model import JobPaper
from firstlift.certificate.papers.nonconformity import Amiss, build_nonconformity
from firstlift.certificate.papers.packet import build_packet
from firstlift.certificate.papers.typeset import typeset_paper
from firstlift.certificate.papers.visit import build_visit
from firstlift.certificate.settings import PLAIN, PaperSettings
from firstlift.core.errors import FirstliftError, Problem
from firstlift.core.register.work import HowTested
from firstlift.store.open import Store
from firstlift.store.read import Reader
from firstlift.usecases.plan import read_answers
from firstlift.usecases.register.lives import what_is_amiss
from firstlift.usecases.visitpapers.gather import (
    checks_of,
    names_of,
    released_in,
    tested_at,
    tools_in_date,
    valves_of_visit,
    visit_by,
)
from firstlift.usecases.visitpapers.siblings import siblings_of
from firstlift.usecases.visitpapers.to_come import PacketAsked, read_typed, to_test
from firstlift.words.catalogue import check_language
from firstlift.words.place import written_in


def printing_of(day: dt.date, settings: PaperSettings = PLAIN, *, draft: bool = False) -> Printing:
    """Say how a paper is printed.

    Parameters
    ----------
    day : date
    settings : PaperSettings
    draft : bool

    Returns
    -------
    Printing

    Raises
    ------
    FirstliftError
        WRD-002 there are no words in the settings' language.
    """
    check_language(settings.language)
    return Printing(day, __version__, settings, draft)


def set_paper(paper: JobPaper, printing: Printing) -> bytes:
    """Typeset a paper.

    Parameters
    ----------
    paper : JobPaper
    printing : Printing

    Returns
    -------
    bytes
        PDF/A-3b.

    Raises
    ------
    FirstliftError
        CRT-001 to CRT-003: a text cannot be printed; WRD-002 no font has the letters of the language.
    """
    return typeset_paper(paper, logo=printing.settings.logo, fonts=printing.settings.fonts)


def make_packet(store: Store, visit: str, asked: PacketAsked, printing: Printing, *, cards: bool = False) -> JobPaper:
    """Make the field packet of a visit.

    Parameters
    ----------
    store : Store
    visit : str
        Name or identifier.
    asked : PacketAsked
    printing : Printing
    cards : bool
        Behind each valve's page, what to do when it goes wrong.

    Returns
    -------
    JobPaper

    Raises
    ------
    FirstliftError
        PAP-001 no such valve in it, PAP-003 no such visit; UsageError where a typed value makes no sense.
    """
    typed = read_typed(asked, read_answers(asked.answers))
    with written_in(printing.settings.language), store.read() as reader:
        facts = visit_by(reader, visit)
        tools = tools_in_date(reader, facts.visit.start)
        hung = valves_of_visit(reader, facts, asked.valves)
        valves = [to_test(reader, facts, one, tools, typed) for one in hung]
        return build_packet(facts, valves, printing, cards=cards)


def make_visit(store: Store, visit: str, printing: Printing) -> JobPaper:
    """Make the summary of a visit.

    Parameters
    ----------
    store : Store
    visit : str
        Name or identifier.
    printing : Printing

    Returns
    -------
    JobPaper

    Raises
    ------
    FirstliftError
        PAP-001 it has no valve, PAP-003 there is no such visit.
    """
    with written_in(printing.settings.language), store.read() as reader:
        facts = visit_by(reader, visit)
        valves = [tested_at(reader, facts, hung) for hung in valves_of_visit(reader, facts)]
        return build_visit(facts, valves, checks_of(reader, facts), released_in(reader, facts), printing)


def make_nonconformity(store: Store, visit: str, valves: Sequence[str], printing: Printing) -> JobPaper:
    """Make the nonconformity reports of a visit: a page for each test that found a valve out of order.

    Parameters
    ----------
    store : Store
    visit : str
        Name or identifier.
    valves : sequence of str
        Tags or serials; empty for every valve of the visit.
    printing : Printing

    Returns
    -------
    JobPaper

    Raises
    ------
    FirstliftError
        PAP-001, PAP-003 as for the others; PAP-004 nothing was out of order.
    """
    with store.read() as reader:
        facts = visit_by(reader, visit)
        worked = [tested_at(reader, facts, hung) for hung in valves_of_visit(reader, facts, valves)]
        amiss = [found for one in worked for found in _amiss(reader, one)]
    if not amiss:
        raise FirstliftError(
            Problem(
                "PAP-004",
                "no test found a valve outside its limits, stuck, leaking, open, or unfit",
                f"visit '{facts.visit.name}'",
                "a test that found a valve out of order",
            )
        )
    with written_in(printing.settings.language):
        return build_nonconformity(facts, amiss, printing)


def _amiss(reader: Reader, one: Tested) -> list[Amiss]:
    set_pa = one.hung.valve.set_pressure.si
    named = ((test, what_is_amiss(test, set_pa)) for test in one.tests if test.kind is not HowTested.NOT_TESTED)
    return [
        Amiss(one, test, what, names_of(reader, test.people), siblings_of(reader, one.hung, test.day))
        for test, what in named
        if what
    ]


def make_return(store: Store, visit: str, valves: Sequence[str], printing: Printing) -> JobPaper:
    """Make the return-to-service sheets of a visit, one a valve.

    Parameters
    ----------
    store : Store
    visit : str
        Name or identifier.
    valves : sequence of str
        Tags or serials; empty for every valve of the visit.
    printing : Printing

    Returns
    -------
    JobPaper

    Raises
    ------
    FirstliftError
        PAP-001 it has no such valve, PAP-003 there is no such visit.
    """
    with written_in(printing.settings.language), store.read() as reader:
        facts = visit_by(reader, visit)
        worked = [tested_at(reader, facts, hung) for hung in valves_of_visit(reader, facts, valves)]
        return build_return(facts, worked, printing)
