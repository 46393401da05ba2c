"""The summary of a visit: counts, each valve in a line, what was not tested and why, what was turned and checked."""

from __future__ import annotations

from collections.abc import Sequence

from firstlift import words
from firstlift.certificate.model import Column, Pairs, Table
from firstlift.certificate.papers.facts import Printing, Released, Tested, UseChecked, VisitFacts
from firstlift.certificate.papers.model import Band, Cell, Headed, JobPaper, Piece, Sheet
from firstlift.certificate.papers.parts import (
    clock_of,
    days_of,
    paper_of,
    set_of,
    signatures,
    subject_of,
    value_of,
)
from firstlift.core.job import Purpose
from firstlift.core.register.equipment import UseCheck
from firstlift.core.register.work import AdjustmentMade, HoldPoint, HowTested, ValveTest
from firstlift.words.numbers import format_length, format_share, format_value
from firstlift.words.paper import Speaker
from firstlift.words.place import local, local_date
from firstlift.words.planning import sentence
from firstlift.words.planning_en import HOLD

_GOOD = "fit"


def build_visit(
    facts: VisitFacts,
    valves: Sequence[Tested],
    checks: Sequence[UseChecked],
    released: Sequence[Released],
    printing: Printing,
) -> JobPaper:
    """Build the summary of a visit.

    Parameters
    ----------
    facts : VisitFacts
    valves : sequence of Tested
    checks : sequence of UseChecked
    released : sequence of Released
    printing : Printing

    Returns
    -------
    JobPaper
    """
    say = Speaker(printing.settings.language)
    pieces = (
        Pairs(_who(facts, say)),
        _counts(valves, say),
        Headed(say("visit.each"), _each(valves, say)),
        *_not_tested(valves, say),
        *_adjusted(valves, say),
        *_checks(checks, say),
        *_released(released, say),
        signatures(say, say("visit.team"), say("visit.plant")),
    )
    beside = (facts.site.name, facts.owner.name, days_of(facts, say))
    sheet = Sheet(facts.visit.name, say("visit"), beside, pieces)
    return paper_of(
        say("visit"), subject_of(facts), say("visit.foot"), [sheet], printing, invented=facts.invented, say=say
    )


def _who(facts: VisitFacts, say: Speaker) -> tuple[tuple[str, str], ...]:
    return (
        (say("job.dates"), days_of(facts, say)),
        (say("job.people"), ", ".join(facts.people) or say("not-stated")),
        (say("job.permits"), ", ".join(facts.visit.permits) or say("none")),
        (say("job.reference"), facts.visit.acceptance_reference or say("none")),
    )


def found_of(tested: Tested) -> ValveTest | None:
    """Give the as-found test of a valve, a missed one where there is none, else None."""
    found = [test for test in tested.tests if test.purpose is Purpose.AS_FOUND]
    made = [test for test in found if test.kind is not HowTested.NOT_TESTED]
    return (made or found or [None])[0]


def left_of(tested: Tested) -> ValveTest | None:
    """Give the last as-left test of a valve, or None."""
    left = [t for t in tested.tests if t.purpose is Purpose.AS_LEFT and t.kind is not HowTested.NOT_TESTED]
    return left[-1] if left else None


def _was_tested(tested: Tested) -> bool:
    return any(test.kind is not HowTested.NOT_TESTED for test in tested.tests)


def _counts(valves: Sequence[Tested], say: Speaker) -> Band:
    done = [one for one in valves if _was_tested(one)]
    verdicts = [found.verdict for one in done if (found := found_of(one)) is not None]

    def share(verdict: str) -> str:
        return say("visit.share", share=format_share(verdicts.count(verdict) / len(done))) if done else ""

    return Band(
        (
            Cell(say("visit.planned"), str(len(valves)), say("visit.all")),
            Cell(say("visit.tested"), str(len(done))),
            Cell(say("visit.within"), str(verdicts.count("within")), share("within")),
            Cell(say("visit.outside"), str(verdicts.count("outside")), share("outside")),
            Cell(say("visit.undecided"), str(len(verdicts) - verdicts.count("within") - verdicts.count("outside"))),
            Cell(say("visit.not-tested"), str(len(valves) - len(done)), say("visit.stay-due")),
        )
    )


def _each(valves: Sequence[Tested], say: Speaker) -> Table:
    done = [one for one in valves if _was_tested(one)]
    some_left = any(left_of(one) is not None for one in done)
    columns = (
        Column(say("job.tag"), weight=1.2),
        Column(say("job.serial"), weight=1.25),
        Column(say("job.set"), align="right", weight=0.85),
        Column(say("visit.found"), align="right", weight=1.7),
        Column(say("visit.verdict"), weight=1.8),
        *((Column(say("visit.left"), align="right", weight=1.6),) if some_left else ()),
        Column(say("visit.disposition"), weight=1.9 if some_left else 2.2),
        Column(say("visit.paper"), weight=1.2),
    )
    rows = tuple(_row(one, say, some_left=some_left) for one in done)
    strong = tuple(at for at, one in enumerate(done) if not _in_order(one))
    return Table(columns, rows, strong, (say("visit.bold"),))


def _row(one: Tested, say: Speaker, *, some_left: bool) -> tuple[str, ...]:
    found, left = found_of(one), left_of(one)
    last = left or found
    paper = next((one.papers[str(test.id)] for test in reversed(one.tests) if str(test.id) in one.papers), "–")
    tested = found is not None and found.kind is not HowTested.NOT_TESTED
    as_left = "–" if left is None else value_of(left, one.hung.unit, say)
    return (
        one.hung.tag,
        one.hung.valve.serial,
        set_of(one.hung),
        value_of(found, one.hung.unit, say) if found is not None and tested else "–",
        verdict_of(found, say),
        *((as_left,) if some_left else ()),
        disposition_of(last, say),
        paper,
    )


def verdict_of(test: ValveTest | None, say: Speaker) -> str:
    """Say the verdict of a test; none where nothing was judged."""
    return (
        words.verdict(test.verdict, language=say.language)
        if test is not None and test.verdict
        else say("glance.no-verdict")
    )


def disposition_of(test: ValveTest | None, say: Speaker) -> str:
    """Say what is to be done with a valve after a test; a dash where nobody said."""
    return words.disposition(test.disposition, language=say.language) if test is not None and test.disposition else "–"


def _in_order(one: Tested) -> bool:
    found = found_of(one)
    last = left_of(one) or found
    return found is not None and found.verdict == "within" and last is not None and last.disposition in ("", _GOOD)


def _not_tested(valves: Sequence[Tested], say: Speaker) -> tuple[Piece, ...]:
    missed = [one for one in valves if not _was_tested(one)]
    if not missed:
        return ()
    columns = (
        Column(say("job.tag"), weight=1.2),
        Column(say("job.serial"), weight=1.2),
        Column(say("job.place"), weight=2.4),
        Column(say("visit.why-not"), weight=2.6),
    )
    rows = tuple((one.hung.tag, one.hung.valve.serial, one.hung.place, _why(one, say)) for one in missed)
    return (Headed(say("visit.why-not"), Table(columns, rows)),)


def _why(one: Tested, say: Speaker) -> str:
    test = one.tests[-1] if one.tests else None
    if test is None or test.not_tested is None:
        return say("visit.nothing-reported")
    said = say(f"why-not.{test.not_tested}")
    return f"{said}: {test.note}" if test.note else said


def _adjusted(valves: Sequence[Tested], say: Speaker) -> tuple[Piece, ...]:
    made = [(one, adjustment) for one in valves for adjustment in one.adjustments]
    if not made:
        return ()
    columns = (
        Column(say("job.tag"), weight=1.2),
        Column(say("visit.turns"), align="right", weight=0.8),
        Column(say("visit.height"), align="right", weight=1.8),
        Column(say("visit.seals"), weight=2.2),
    )
    rows = tuple((one.hung.tag, turns_of(a), height_of(a, say), seals_of(a, say)) for one, a in made)
    return (Headed(say("visit.adjusted"), Table(columns, rows)),)


def turns_of(adjustment: AdjustmentMade) -> str:
    """Give the turns of a screw with their sign."""
    return "–" if adjustment.turns is None else local(f"{adjustment.turns:+.3g}".replace("-", "−"))


def height_of(adjustment: AdjustmentMade, say: Speaker) -> str:
    """Give the screw's height before and after."""
    before, after = (format_length(v) for v in (adjustment.screw_height_before_m, adjustment.screw_height_after_m))
    return say("visit.before-after", before=before, after=after)


def seals_of(adjustment: AdjustmentMade, say: Speaker) -> str:
    """Give the seals before and after."""
    before, after = (", ".join(seals) or "–" for seals in (adjustment.seals_before, adjustment.seals_after))
    return say("visit.before-after", before=before, after=after)


def _checks(checks: Sequence[UseChecked], say: Speaker) -> tuple[Piece, ...]:
    if not checks:
        return ()
    columns = (
        Column(say("visit.instrument"), weight=1.4),
        Column(say("instruments.measures"), weight=1.2),
        Column(say("visit.when"), weight=1.6),
        Column(say("visit.reference"), align="right"),
        Column(say("visit.reading"), align="right"),
        Column(say("visit.passed"), align="right", weight=0.8),
    )
    rows = tuple(
        (
            one.tool.serial,
            words.measures(str(one.tool.measures), language=say.language),
            _checked_on(one.check, say),
            format_value(one.check.reference_si, one.tool.unit),
            format_value(one.check.reading_si, one.tool.unit),
            say("yes" if one.check.passed else "no"),
        )
        for one in checks
    )
    strong = tuple(at for at, one in enumerate(checks) if not one.check.passed)
    return (Headed(say("visit.checks"), Table(columns, rows, strong)),)


def _released(released: Sequence[Released], say: Speaker) -> tuple[Piece, ...]:
    if not released:
        return ()
    columns = (
        Column(say("visit.hold"), weight=3.4),
        Column(say("visit.when"), weight=1.4),
        Column(say("visit.released"), weight=1.0),
        Column(say("visit.by"), weight=1.4),
        Column(say("visit.witness-by"), weight=1.4),
    )
    rows = tuple(
        (
            _point(one.point.code, say),
            _instant(one.point),
            say("yes" if one.point.released else "no"),
            one.by or "–",
            one.witness or "–",
        )
        for one in released
    )
    return (Headed(say("visit.holds"), Table(columns, rows)),)


def _point(code: str, say: Speaker) -> str:
    """Give a hold point of the plan in its words; a visit's own points stand as they were entered."""
    return sentence("hold", code, {}, language=say.language) if code in HOLD else code


def _checked_on(check: UseCheck, say: Speaker) -> str:
    day = clock_of(check.at, check.zone).date()
    return f"{local_date(day, short=True)} {say(f'visit.check-{check.when}')}"


def _instant(point: HoldPoint) -> str:
    at = clock_of(point.at, point.zone)
    return f"{local_date(at.date(), short=True)} {at:%H:%M}"
