"""The planning sheet: next dates with what holds them. It stands apart from every certificate."""

from __future__ import annotations

import datetime as dt
import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from firstlift import words
from firstlift.certificate.model import Bullets, Column, Pairs, Picture, Pictures, Table
from firstlift.certificate.papers.facts import Hung, Printing
from firstlift.certificate.papers.model import Band, Cell, Headed, JobPaper, Piece, Sheet
from firstlift.certificate.papers.parts import paper_of, set_of, signatures
from firstlift.core.reliability.answer import Answer, Evidence, GroupAnswer, ValveAnswer
from firstlift.words.numbers import format_share
from firstlift.words.paper import Speaker
from firstlift.words.place import local, local_date

_BEYOND_YR = 100.0
_QUARTER_DAYS, _YEAR_DAYS = 90, 365
_MOST_PICTURES = 2
# of more groups the table says what holds them; their remarks would fill pages
_MOST_REMARKED = 2


@dataclass(frozen=True, slots=True)
class Planning:
    """Next dates of valves: the answer, its valves where they hang, pictures by group, and of whom it tells."""

    answer: Answer
    hung: Mapping[str, Hung]
    pictures: Mapping[str, str]
    subject: str
    invented: bool


def build_dates(planning: Planning, printing: Printing) -> JobPaper:
    """Build the planning sheet.

    Parameters
    ----------
    planning : Planning
    printing : Printing

    Returns
    -------
    JobPaper
    """
    say = Speaker(printing.settings.language)
    answer = planning.answer
    valves = sorted((v for v in answer.valves if v.valve in planning.hung), key=lambda v: (v.due, v.valve))
    groups = [g for g in answer.groups if any(v.group == g.group for v in valves)]
    pieces: tuple[Piece, ...] = (
        _ahead(valves, printing.day, say),
        Headed(say("dates.terms"), Pairs(_terms(answer, say), columns=1)),
        Headed(say("dates.groups"), _groups(groups, say)),
        Headed(say("dates.each"), _each(valves, planning, printing.day, say)),
        *_remarks(answer, groups, say),
        *_pictures(planning, groups, say),
        signatures(say, say("dates.planned"), say("dates.agreed")),
    )
    sheet = Sheet(planning.subject, say("dates.above"), (local_date(printing.day),), pieces)
    return paper_of(
        say("dates"), planning.subject, say("dates.foot"), [sheet], printing, invented=planning.invented, say=say
    )


def _ahead(valves: Sequence[ValveAnswer], on: dt.date, say: Speaker) -> Band:
    days = [(valve.due - on).days for valve in valves]
    counts = (
        ("dates.overdue", sum(d < 0 for d in days)),
        ("dates.quarter", sum(0 <= d <= _QUARTER_DAYS for d in days)),
        ("dates.year", sum(_QUARTER_DAYS < d <= _YEAR_DAYS for d in days)),
        ("dates.later", sum(d > _YEAR_DAYS for d in days)),
    )
    return Band(tuple(Cell(say(key), str(count), say.noun("valves", count)) for key, count in counts))


def _terms(answer: Answer, say: Speaker) -> tuple[tuple[str, str], ...]:
    terms = answer.terms
    caps = tuple(words.message(cap.reason, language=say.language) for cap in terms.caps)
    return (
        (
            say("dates.target"),
            say("dates.target-value", share=format_share(terms.target), ratio=local(f"{terms.danger_ratio:g}")),
        ),
        (
            say("dates.sees"),
            f"{format_share(terms.effectiveness)} ({words.source(terms.effectiveness_status, language=say.language)})",
        ),
        (say("dates.caps"), " ".join(caps) or say("none")),
    )


def _groups(groups: Sequence[GroupAnswer], say: Speaker) -> Table:
    columns = (
        Column(say("dates.group"), weight=2.0),
        Column(say("dates.count"), align="right", weight=0.7),
        Column(say("dates.lives"), align="right", weight=0.7),
        Column(say("dates.failed"), align="right", weight=0.9),
        Column(say("dates.evidence"), say("dates.years"), align="right", weight=1.3),
        Column(say("dates.interval"), say("dates.years"), align="right", weight=0.8),
        Column(say("dates.why"), weight=2.6),
    )
    rows = tuple(
        (
            group.group,
            str(group.valves),
            f"{group.lives.total:.0f}",
            f"{group.lives.ended:.0f}",
            _range(group.evidence, say),
            local(f"{group.recommended_yr:.1f}"),
            words.title(group.reasons[0].code, language=say.language) if group.reasons else "–",
        )
        for group in groups
    )
    return Table(columns, rows)


def _range(evidence: Evidence, say: Speaker) -> str:
    ends = [_years(value, say) for value in (evidence.low_yr, evidence.high_yr)]
    return say("dates.range", low=ends[0], high=ends[1])


def _years(value: float, say: Speaker) -> str:
    return local(f"{value:.1f}") if math.isfinite(value) and value < _BEYOND_YR else say("dates.beyond")


def _pictures(planning: Planning, groups: Sequence[GroupAnswer], say: Speaker) -> tuple[Piece, ...]:
    largest = sorted((g for g in groups if g.group in planning.pictures), key=lambda g: -g.valves)[:_MOST_PICTURES]
    return tuple(
        Pictures(
            (
                Picture(
                    planning.pictures[group.group],
                    say("dates.survival", group=group.group),
                    say("dates.survival-alt"),
                ),
            )
        )
        for group in largest
    )


def _remarks(answer: Answer, groups: Sequence[GroupAnswer], say: Speaker) -> tuple[Piece, ...]:
    told = [words.message(finding, language=say.language) for finding in answer.findings]
    if len(groups) <= _MOST_REMARKED:
        told += [
            f"{group.group}: {words.message(finding, language=say.language)}"
            for group in groups
            for finding in group.reasons
        ]
    said = tuple(dict.fromkeys(told))
    return (Headed(say("dates.remarks"), Bullets(said)),) if said else ()


def _each(valves: Sequence[ValveAnswer], planning: Planning, on: dt.date, say: Speaker) -> Table:
    columns = (
        Column(say("job.tag"), weight=1.25),
        Column(say("job.serial"), weight=1.3),
        Column(say("job.place"), weight=2.0),
        Column(say("job.set"), align="right", weight=0.9),
        Column(say("dates.last"), weight=1.1),
        Column(say("dates.interval"), say("dates.years"), align="right", weight=0.8),
        Column(say("dates.next"), weight=1.1),
        Column(say("dates.why"), weight=2.2),
    )
    rows: list[tuple[str, ...]] = []
    for valve in valves:
        hung = planning.hung[valve.valve]
        why = words.title(valve.because, language=say.language) if valve.because else "–"
        last, due, every = (
            local_date(valve.last, short=True),
            local_date(valve.due, short=True),
            # due at once is no number of years
            local(f"{valve.recommended_yr:.1f}") if valve.recommended_yr > 0.0 else "–",
        )
        row = (hung.tag, hung.valve.serial, hung.place, set_of(hung), last, every, due, why)
        rows.append(row)
    passed = tuple(at for at, valve in enumerate(valves) if valve.due < on)
    if len(passed) > len(valves) // 2:  # bold everywhere says nothing; the count stands on top
        passed = ()
    return Table(columns, tuple(rows), passed, (say("dates.bold"),) if passed else ())
