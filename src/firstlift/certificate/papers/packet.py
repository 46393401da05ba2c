"""The field packet of a visit: a cover, then a page a valve with its plan, its hold points and room to write."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence

from firstlift import words
from firstlift.certificate.model import Bullets, Column, Pairs, Paragraph, Table
from firstlift.certificate.papers.facts import Printing, Tool, ToTest, VisitFacts
from firstlift.certificate.papers.model import (
    Band,
    Beside,
    Call,
    Cell,
    Checks,
    Fill,
    Headed,
    JobPaper,
    Ladder,
    Notes,
    Piece,
    Sheet,
    Steps,
)
from firstlift.certificate.papers.parts import (
    beside_of,
    days_of,
    paper_of,
    set_of,
    signatures,
    subject_of,
    value_of,
)
from firstlift.core.errors import Problem, Severity
from firstlift.core.plan.plan import Plan
from firstlift.words.numbers import (
    format_exact,
    format_length,
    format_probability,
    format_share,
    format_short,
    format_value,
)
from firstlift.words.paper import Speaker
from firstlift.words.place import local, local_date
from firstlift.words.planning import phrase, sentence

_BRING = 6
_MARK = {"go": "good", "ask": "open", "no-go": "bad"}
# said on every packet already, in its foot
_EVERYWHERE = "plan-owner-decides"
# questions are named on top of the page, not among the cautions
_ASK = "ask-"
# what a plan needs and the register does not know; anything else is said as the register says it
_WHY = {"PAP-002": "packet.why-line", "SEA-018": "packet.why-seat", "JOB-011": "packet.why-instruments"}


def build_packet(facts: VisitFacts, valves: Sequence[ToTest], printing: Printing, *, cards: bool = False) -> JobPaper:
    """Build the field packet of a visit.

    Parameters
    ----------
    facts : VisitFacts
    valves : sequence of ToTest
        In the order they will be worked through.
    printing : Printing
    cards : bool
        Behind each valve's page, what to do when it goes wrong.

    Returns
    -------
    JobPaper
    """
    say = Speaker(printing.settings.language)
    sheets = [_cover(facts, valves, say, cards=cards)]
    for one in valves:
        sheets.append(_valve(facts, one, say))
        if cards and one.plan is not None:
            sheets.append(_back(facts, one, one.plan, say))
    return paper_of(
        say("packet"), subject_of(facts), say("packet.foot"), sheets, printing, invented=facts.invented, say=say
    )


def _cover(facts: VisitFacts, valves: Sequence[ToTest], say: Speaker, *, cards: bool) -> Sheet:
    visit = facts.visit
    rows = (
        (say("job.dates"), days_of(facts, say)),
        (say("job.people"), ", ".join(facts.people) or say("not-stated")),
        (say("job.permits"), ", ".join(visit.permits) or say("none")),
        (say("job.seal-breakers"), ", ".join(facts.seal_breakers) or say("not-stated")),
        (say("job.verifying"), _asked(visit.accepted_for_verifying, say)),
        (say("job.adjusting"), _asked(visit.accepted_for_adjusting, say)),
        (say("job.reference"), visit.acceptance_reference or say("none")),
        (say("job.witness"), ", ".join(visit.witness_points) or say("none")),
    )
    items = tuple(say(f"packet.bring.{number + 1}") for number in range(_BRING))
    half = (len(items) + 1) // 2
    return Sheet(
        visit.name,
        say("packet"),
        (facts.site.name, facts.owner.name, days_of(facts, say)),
        (
            Pairs(rows),
            Headed(say("packet.bring"), Checks((("", items[:half]),), (("", items[half:]),))),
            Headed(say("packet.bring-instruments"), _tools(_all_tools(valves), facts.visit.start, say)),
            Headed(say("packet.in-order"), _order(valves, say, cards=cards)),
            signatures(say, say("packet.prepared"), say("packet.permit-holder")),
        ),
    )


def _asked(accepted: bool | None, say: Speaker) -> str:
    return say("job.not-asked") if accepted is None else say("yes" if accepted else "no")


def _all_tools(valves: Sequence[ToTest]) -> list[Tool]:
    by_serial = {tool.instrument.serial: tool for one in valves for tool in one.tools}
    return [by_serial[serial] for serial in sorted(by_serial)]


def _tools(tools: Sequence[Tool], on: dt.date, say: Speaker) -> Piece:
    if not tools:
        return Paragraph(say("packet.none"))
    columns = (
        Column(say("job.serial"), weight=1.3),
        Column(say("instruments.measures"), weight=1.2),
        Column(say("packet.maker"), weight=1.8),
        Column(say("job.range"), align="right", weight=1.0),
        Column(say("job.due"), weight=1.5),
    )
    rows = tuple(
        (
            tool.instrument.serial,
            words.measures(str(tool.instrument.measures), language=say.language),
            f"{tool.instrument.maker} {tool.instrument.model}".strip() or "–",
            format_value(tool.instrument.capacity_si, tool.instrument.unit),
            calibrated(tool, on, say),
        )
        for tool in tools
    )
    overdue = [at for at, tool in enumerate(tools) if tool.calibration is None or tool.calibration.due < on]
    return Table(columns, rows, tuple(overdue))


def calibrated(tool: Tool, on: dt.date, say: Speaker) -> str:
    """Say until when an instrument is calibrated."""
    if tool.calibration is None:
        return say("job.no-calibration")
    due = local_date(tool.calibration.due, short=True)
    return say("job.overdue", date=due) if tool.calibration.due < on else due


def _order(valves: Sequence[ToTest], say: Speaker, *, cards: bool) -> Table:
    columns = (
        Column("", align="right", weight=0.35),
        Column(say("job.tag"), weight=1.4),
        Column(say("job.serial"), weight=1.4),
        Column(say("job.place"), weight=2.2),
        Column(say("job.set"), align="right", weight=1.0),
        Column(say("packet.expected"), align="right", weight=1.0),
        Column(say("packet.plan"), weight=1.4),
    )
    rows = tuple(
        (
            str(number),
            one.hung.tag,
            one.hung.valve.serial,
            one.hung.place,
            set_of(one.hung),
            "–" if one.plan is None else _force(one.plan.forces.expected_n),
            say("packet.no-plan") if one.plan is None else phrase("go", one.plan.go, language=say.language),
        )
        for number, one in enumerate(valves, start=1)
    )
    return Table(
        columns, rows, tuple(at for at, one in enumerate(valves) if one.plan is None or one.plan.go == "no-go")
    )


def _valve(facts: VisitFacts, one: ToTest, say: Speaker) -> Sheet:
    pieces = _planned(one, one.plan, say) if one.plan is not None else _unplanned(facts, one, say)
    beside = beside_of(one.hung, facts)
    return Sheet(one.hung.tag, say("packet.above"), beside, (*pieces, Notes(say("job.notes"), 2, rest=True)), fit=True)


def _unplanned(facts: VisitFacts, one: ToTest, say: Speaker) -> tuple[Piece, ...]:
    return (
        Call(say("packet.no-plan"), "open", say("packet.no-plan-why")),
        Bullets(tuple(dict.fromkeys(_reason(facts, one, problem, say) for problem in one.why_not))),
        Headed(say("packet.valve"), Pairs(_nameplate(one, say))),
        Headed(say("packet.read-here"), _read_here(say)),
    )


def _reason(facts: VisitFacts, one: ToTest, problem: Problem, say: Speaker) -> str:
    if problem.code not in _WHY:
        return problem.sentence()
    key = "packet.why-nowhere" if one.hung.position is None else _WHY[problem.code]
    return say(key, tag=one.hung.tag, serial=one.hung.valve.serial, date=local_date(facts.visit.start))


def _planned(one: ToTest, plan: Plan, say: Speaker) -> tuple[Piece, ...]:
    unit = one.hung.unit
    return (
        Call(phrase("go", plan.go, language=say.language), _MARK[plan.go], _what_now(plan, say)),
        _band(plan, unit, say),
        _ladder(plan, say),
        Beside(
            (Headed(say("packet.valve"), Pairs(_nameplate(one, say), columns=1)),),
            (Headed(say("packet.pull"), Pairs(_pull(plan, unit, say), columns=1)),),
        ),
        *_cautions(plan, unit, say),
        _holds(plan, unit, say),
        Headed(say("packet.read-here"), _read_here(say)),
    )


def _what_now(plan: Plan, say: Speaker) -> str:
    asked = [f.code.removeprefix(_ASK) for f in plan.applicability.findings if f.code.startswith(_ASK)]
    if plan.go == "ask" and asked:
        questions = say.listed(*(phrase("question", code, language=say.language) for code in asked))
        return say("packet.open", questions=questions)
    return say(f"packet.{plan.go}")


def _band(plan: Plan, unit: str, say: Speaker) -> Band:
    forces, limits, approach = plan.forces, plan.limits, plan.approach
    edges = {
        "low": format_value(approach.abort_line_low_pa, unit),
        "high": format_value(approach.abort_line_high_pa, unit),
    }
    share = format_share(plan.line_pressure_pa / plan.set_pressure_pa)
    return Band(
        (
            Cell(
                say("packet.stamped"),
                format_exact(plan.set_pressure_pa, unit),
                say(
                    "packet.limits-note",
                    low=format_exact(limits.lower_pa, unit),
                    high=format_exact(limits.upper_pa, unit),
                ),
            ),
            Cell(
                say("packet.line"),
                format_short(plan.line_pressure_pa, unit, digits=4),
                say("packet.line-share", share=share, **edges),
            ),
            Cell(
                say("packet.expected"),
                _force(forces.expected_n),
                say("packet.within", low=_force(forces.low_n), high=_force(forces.high_n)),
            ),
            Cell(
                say("packet.stop"),
                _force(approach.abort_force_n),
                say("packet.stop-as", pressure=format_value(forces.abort_set_pa, unit)),
            ),
        )
    )


def _force(newtons: float) -> str:
    return format_short(newtons, "kN" if newtons >= 1e4 else "N")


def _ladder(plan: Plan, say: Speaker) -> Ladder:
    forces = plan.forces
    weakest = min(forces.margins, key=lambda margin: margin.limit_n, default=None)
    scale = 1.15 * max(forces.high_n, forces.abort_n, forces.expected_n, 1.0)
    if weakest is not None and weakest.limit_n <= 1.6 * scale:
        scale = max(scale, 1.08 * weakest.limit_n)
    shown = "" if weakest is None else say(
        "packet.ladder-weakest", part=phrase("part", weakest.part, language=say.language), force=_force(weakest.limit_n)
    )  # fmt: skip
    return Ladder(
        low=forces.low_n / scale,
        high=forces.high_n / scale,
        expected=forces.expected_n / scale,
        stop=forces.abort_n / scale,
        weakest=None if weakest is None or weakest.limit_n > scale else weakest.limit_n / scale,
        expected_words=say("packet.ladder-expected", force=_force(forces.expected_n)),
        range_words=say("packet.ladder-range"),
        stop_words=say("packet.ladder-stop", force=_force(forces.abort_n)),
        weakest_words=shown,
    )


def _nameplate(one: ToTest, say: Speaker) -> tuple[tuple[str, str], ...]:
    valve, position, job = one.hung.valve, one.hung.position, one.job
    kind = words.valve_type(str(valve.type), language=say.language)
    medium = "" if position is None else words.medium(str(position.medium), language=say.language)
    build = say.listed(kind, medium)
    rows = [
        (say("job.serial"), valve.serial),
        (say("packet.maker"), " ".join(filter(None, (valve.maker, valve.model))) or "–"),
        (say("packet.type"), build),
        (say("packet.sizes"), " × ".join(filter(None, (valve.inlet_size, valve.outlet_size))) or "–"),
    ]
    if job is not None:
        area, u = (local(f"{value * 1e6:.4g} mm²") for value in (job.seat.area_m2, job.seat.standard_uncertainty_m2))
        rows.append((say("packet.area"), say("packet.area-value", area=area, u=u)))
    last = (
        say("packet.never")
        if one.last is None
        else f"{local_date(one.last.day)}: {value_of(one.last, one.hung.unit, say)}"
    )
    tools = ", ".join(tool.instrument.serial for tool in one.tools)
    return (*rows, (say("packet.last"), last), (say("packet.instruments"), tools or say("packet.none")))


def _pull(plan: Plan, unit: str, say: Speaker) -> tuple[tuple[str, str], ...]:
    approach, limits, opens = plan.approach, plan.limits, plan.stays_open
    rate = format_short(approach.rate_n_per_s, "N", digits=2)
    u = format_short(plan.expanded_uncertainty_pa, unit, digits=2)
    return (
        (
            say("packet.rate"),
            say("packet.rate-value", rate=rate, time=format_short(approach.expected_time_s, "s", digits=2)),
        ),
        (say("packet.abort-lift"), format_length(approach.abort_lift_m)),
        (say("packet.abort-time"), format_short(approach.abort_time_s, "s", digits=2)),
        (
            say("packet.decides"),
            say("packet.decides-value", probability=format_probability(plan.probability_decided), u=u),
        ),
        (
            say("packet.stays-open"),
            say(
                "packet.stays-open-value",
                likelihood=phrase("likelihood", opens.likelihood, language=say.language),
                low=format_short(opens.closes_low_pa, unit),
            ),
        ),
        (say("packet.rule"), f"{limits.code}, {limits.edition}, {limits.clause}"),
    )


def _cautions(plan: Plan, unit: str, say: Speaker) -> tuple[Piece, ...]:
    reasons = [f for f in plan.applicability.findings if not f.code.startswith(_ASK)]
    grave = [f for f in (*plan.findings, *reasons) if f.severity is not Severity.INFO and f.code != _EVERYWHERE]
    grave.sort(key=lambda f: f.severity is not Severity.SEVERE)
    if not grave:
        return ()
    said = tuple(
        f"{words.message(f, language=say.language, pressure_unit=unit)} {words.advice(f, language=say.language)}"
        for f in grave
    )
    return (Headed(say("packet.cautions"), Bullets(said)),)


def _holds(plan: Plan, unit: str, say: Speaker) -> Checks:
    groups: dict[str, list[str]] = {}
    for point in plan.hold_points:
        said = sentence("hold", point.code, point.parameters, language=say.language, pressure_unit=unit)
        groups.setdefault(point.when, []).append(said)
    named = [(phrase("stage", when, language=say.language), tuple(items)) for when, items in groups.items()]
    # both columns as long as each other: a stage may run on in the second, under its name
    items = [(at, text) for at, (_, texts) in enumerate(named) for text in texts]
    heights = [1 + len(text) // 62 for _, text in items]
    cut = min(range(1, len(items)), key=lambda at: abs(sum(heights[:at]) - sum(heights[at:])), default=len(items))
    return Checks(_grouped(named, items[:cut]), _grouped(named, items[cut:]))


def _grouped(
    named: Sequence[tuple[str, tuple[str, ...]]], items: Sequence[tuple[int, str]]
) -> tuple[tuple[str, tuple[str, ...]], ...]:
    stages = dict.fromkeys(at for at, _ in items)
    return tuple((named[at][0], tuple(text for stage, text in items if stage == at)) for at in stages)


def _read_here(say: Speaker) -> Fill:
    names = ("serial", "set", "line", "body", "back", "height", "rings", "seal", "seal-new")
    return Fill(tuple((say(f"packet.read.{name}"), "") for name in names))


def _back(facts: VisitFacts, one: ToTest, plan: Plan, say: Speaker) -> Sheet:
    steps = tuple(
        Steps(
            phrase("event", card.event, language=say.language),
            tuple(
                sentence("step", step.code, step.parameters, language=say.language, pressure_unit=one.hung.unit)
                for step in card.steps
            ),
        )
        for card in plan.cards
    )
    return Sheet(one.hung.tag, say("packet.cards"), beside_of(one.hung, facts), steps, fit=True, largest_pt=12.0)
