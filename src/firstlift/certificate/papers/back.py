"""The return-to-service sheet: every step done by one person, looked at and signed by a second."""

from __future__ import annotations

from collections.abc import Sequence

from firstlift.certificate.model import Paragraph
from firstlift.certificate.papers.facts import Printing, Tested, VisitFacts
from firstlift.certificate.papers.model import Call, JobPaper, Notes, Sheet, SignedSteps
from firstlift.certificate.papers.parts import beside_of, inside, paper_of, signatures, subject_of
from firstlift.certificate.papers.visit import disposition_of, verdict_of
from firstlift.core.register.work import HowTested
from firstlift.words.numbers import format_length
from firstlift.words.paper import Speaker
from firstlift.words.place import local_date

STEPS = (
    "gear", "gag", "spindle", "screw", "rings", "cap", "lever", "seals", "plugs", "drain", "blocks", "outlet", "tight",
    "plate", "relief", "told",
)  # fmt: skip


def build_return(facts: VisitFacts, valves: Sequence[Tested], printing: Printing) -> JobPaper:
    """Build return-to-service sheets, one a valve.

    Parameters
    ----------
    facts : VisitFacts
    valves : sequence of Tested
    printing : Printing

    Returns
    -------
    JobPaper
    """
    say = Speaker(printing.settings.language)
    sheets = [_sheet(facts, one, say) for one in valves]
    return paper_of(
        say("back"), subject_of(facts), say("back.foot"), sheets, printing, invented=facts.invented, say=say
    )


def _sheet(facts: VisitFacts, one: Tested, say: Speaker) -> Sheet:
    heads = (say("back.step"), say("back.note"), say("back.done"), say("back.checked"))
    known = _known(one, say)
    pieces = (
        _state(one, say),
        SignedSteps(heads, tuple((say(f"back.{step}"), known.get(step, "")) for step in STEPS)),
        Paragraph(say("back.second"), "strong"),
        Notes(say("job.notes"), 2, rest=True),
        signatures(say, say("back.doer"), say("back.checker"), say("back.taker")),
    )
    return Sheet(one.hung.tag, say("back.above"), beside_of(one.hung, facts), pieces, fit=True, largest_pt=10.5)


def _state(one: Tested, say: Speaker) -> Call:
    made = [test for test in one.tests if test.kind is not HowTested.NOT_TESTED]
    if not made:
        return Call(say("back.untested"), "open", say("back.untested-text"))
    last = made[-1]
    said = {
        "date": local_date(last.day),
        "verdict": inside(verdict_of(last, say)),
        "disposition": inside(disposition_of(last, say)),
    }
    if last.verdict == "within" and last.disposition == "fit":
        return Call(say("back.ready"), "good", say("back.ready-text", **said))
    return Call(say("back.hold"), "bad", say("back.hold-text", **said))


def _known(one: Tested, say: Speaker) -> dict[str, str]:
    """Give what the register knows of a step already, to be held against the valve."""
    known: dict[str, str] = {}
    if one.adjustments:
        last = one.adjustments[-1]
        heights = (last.screw_height_before_m, last.screw_height_after_m)
        if heights[1] is not None:
            before, after = (format_length(height) for height in heights)
            known["screw"] = say("back.known-screw", before=before, after=after)
        if last.rings_after:
            known["rings"] = ", ".join(last.rings_after)
        if last.seals_after:
            known["seals"] = ", ".join(last.seals_after)
    position = one.hung.position
    if position is not None and position.operating_pressure is not None:
        known["tight"] = say("back.known-line", line=position.operating_pressure.text)
    known["plate"] = " · ".join(filter(None, (one.hung.tag, one.hung.valve.serial, one.hung.valve.set_pressure.text)))
    return known
