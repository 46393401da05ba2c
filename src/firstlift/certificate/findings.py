"""Sections that state what was found: pulls, budget, findings."""

from __future__ import annotations

from firstlift import words
from firstlift.certificate.facts import is_unit_of
from firstlift.certificate.model import Column, FindingRow, Findings, Paragraph, Section, Table
from firstlift.core.errors import Finding
from firstlift.core.job import Job
from firstlift.core.result import BudgetLine, FindingText, Pull, Result
from firstlift.core.units import UNITS, Kind
from firstlift.words import numbers
from firstlift.words.paper import Speaker
from firstlift.words.place import local

_SHOWN_IN = {"m": "mm", "m2": "mm2", "K": "K"}


def pulls(job: Job, result: Result, say: Speaker) -> Section:
    """Give every pull in a table, its flags as letters explained below."""
    unit = numbers.show_unit(job.valve.set_pressure.unit)
    columns = (
        Column(say("pulls.pull"), align="right", weight=0.55),
        Column(say("pulls.outcome"), weight=1.15),
        Column(say("pulls.first-lift"), "s", "right", 1.35),
        Column(say("pulls.line"), unit, "right", 0.95),
        Column(say("pulls.force"), "N", "right", 0.9),
        Column(say("pulls.set"), unit, "right", 1.05),
        Column("U", unit, "right", 0.7),
        Column(say("pulls.closure"), "s", "right", 1.1),
        Column(say("pulls.notes"), weight=0.75),
    )
    codes = sorted({code for pull in result.pulls for code in pull.flags})
    letters = {code: _letter(index) for index, code in enumerate(codes)}
    rows = tuple(_pull(pull, job.valve.set_pressure.unit, letters, say) for pull in result.pulls)
    judged = set(result.verdict.judged) if result.verdict else set()
    strong = tuple(index for index, pull in enumerate(result.pulls) if pull.number in judged)
    notes = [f"{letter}: {words.title(code, language=say.language)}" for code, letter in letters.items()]
    if any(not pull.accepted for pull in result.pulls):
        notes.append(say("pulls.not-accepted"))
    if strong:
        notes.append(say("pulls.bold"))
    block = Table(columns, rows, strong, (say("pulls.key"), *notes))
    blocks = (block,) if rows else (Paragraph(say("pulls.nothing")),)
    return Section(say("pulls"), blocks, together=True)


def _letter(index: int) -> str:
    high, low = divmod(index, 26)
    return ("" if not high else chr(ord("a") + high - 1)) + chr(ord("a") + low)


def _pull(pull: Pull, unit: str, letters: dict[str, str], say: Speaker) -> tuple[str, ...]:
    flags = " ".join(letters[code] for code in pull.flags)
    if pull.closure_s is not None:
        closure = local(f"{pull.closure_s:.2f}")
    else:
        closure = say("pulls.not-observed") if pull.first_lift_s is not None else "–"
    value, u = _value(pull, unit)
    return (
        str(pull.number),
        words.pull_outcome(pull.outcome, language=say.language),
        numbers.format_time(pull.first_lift_s, pull.first_lift_standard_uncertainty_s).removesuffix(" s"),
        _bare(pull.line_pressure_pa, unit),
        _bare(pull.pull_force_n, "N"),
        value,
        u,
        closure,
        f"{flags} ×".strip() if not pull.accepted else flags,
    )


def _value(pull: Pull, unit: str) -> tuple[str, str]:
    if pull.set_pressure_pa is None:
        bound = pull.lower_bound_pa
        return (f"> {_bare(bound, unit)}" if bound is not None else "–"), "–"
    if not pull.expanded_uncertainty_pa:
        return _bare(pull.set_pressure_pa, unit), "–"
    return numbers.pressure_pair(pull.set_pressure_pa, unit, pull.expanded_uncertainty_pa)


def _bare(si: float | None, unit: str) -> str:
    return numbers.format_value(si, unit).split(" ")[0]


def budget_table(job: Job, result: Result, say: Speaker) -> Table:
    """Give the budget of the judged value as a table, in the nameplate's unit."""
    unit = job.valve.set_pressure.unit
    shown = numbers.show_unit(unit)
    columns = (
        Column(say("budget.input"), weight=2.5),
        Column(say("budget.value"), align="right", weight=1.15),
        Column(say("budget.u"), align="right", weight=1.15),
        Column(say("budget.distribution"), weight=1.05),
        Column(say("budget.freedom"), align="right", weight=0.8),
        Column(say("budget.sensitivity"), say("budget.per-unit", unit=shown), "right", 1.05),
        Column(say("budget.adds"), shown, "right", 0.85),
        Column(say("budget.share"), align="right", weight=0.75),
        Column(say("budget.common"), weight=1.0),
    )
    rows = tuple(_budget(line, unit, say.language) for line in sorted(result.budget, key=lambda line: -abs(line.share)))
    notes = [*_combined(result, unit, say), say("budget.key")]
    if any(line.distribution == "one-sided" for line in result.budget):
        notes.append(say("budget.one-sided"))
    return Table(columns, rows, (), tuple(notes))


def _combined(result: Result, unit: str, say: Speaker) -> tuple[str, ...]:
    found = result.as_found
    if found is None or not found.expanded_uncertainty_pa or not found.coverage_factor:
        return ()
    u = numbers.format_value(found.expanded_uncertainty_pa / found.coverage_factor, unit, digits=2)
    expanded = numbers.format_value(found.expanded_uncertainty_pa, unit, digits=2)
    return (say("budget.combined", u=u, factor=local(f"{found.coverage_factor:.2f}"), expanded=expanded),)


def _budget(line: BudgetLine, unit: str, language: str) -> tuple[str, ...]:
    own = unit if is_unit_of(line.unit, Kind.PRESSURE) else _SHOWN_IN.get(line.unit, line.unit)
    scale = UNITS[line.unit].factor / UNITS[own].factor if line.unit in UNITS and own in UNITS else 1.0
    per_unit = line.sensitivity / scale / UNITS[unit].factor
    shown = numbers.show_unit(own)
    freedom = "∞" if line.degrees_of_freedom is None else local(f"{line.degrees_of_freedom:.3g}")
    return (
        words.budget_words(line.quantity, language=language),
        f"{local(f'{line.value * scale:.5g}')} {shown}".rstrip(),
        f"{local(f'{line.standard_uncertainty * scale:.2g}')} {shown}".rstrip(),
        words.distribution(line.distribution, language=language),
        freedom,
        local(f"{per_unit:.3g}").replace("-", "−"),
        numbers.format_value(line.contribution_pa, unit, digits=2).split(" ")[0].replace("-", "−"),
        numbers.format_share(line.share),
        _common_to(line.common_to, language),
    )


def findings(job: Job, result: Result, say: Speaker) -> Section:
    """Give the findings with their advice: as they stand, or said anew in the paper's language."""
    unit = job.valve.set_pressure.unit
    rank = {"severe": 0, "warning": 1, "info": 2}
    ordered = sorted(result.findings, key=lambda finding: (rank[finding.severity], finding.pull or 0))
    rows = tuple(
        FindingRow(
            str(finding.severity),
            say(f"severity.{finding.severity}"),
            say("findings.whole") if finding.pull is None else say("pull", number=finding.pull),
            words.title(finding.code, language=say.language),
            *_said(finding, unit, say.language),
        )
        for finding in ordered
    )
    return Section(say("findings"), (Findings(rows),) if rows else (Paragraph(say("findings.none")),))


def _said(found: FindingText, unit: str, language: str) -> tuple[str, str]:
    if language == "en":
        return found.message, found.advice
    finding = Finding(found.code, found.severity, found.pull, found.parameters)
    return words.message(finding, language=language, pressure_unit=unit), words.advice(finding, language=language)


def _common_to(tag: str, language: str) -> str:
    # a longer word than "cell" needs a place to break before the name
    return tag if language == "en" else words.budget_words(tag.replace(":", ": ", 1), language=language)
