"""Sections that state what was found: pulls, as found and as left, budget, findings."""

from __future__ import annotations

from collections.abc import Sequence

from firstlift import words
from firstlift.certificate.facts import is_unit_of
from firstlift.certificate.model import Column, FindingRow, Findings, Paragraph, Section, Table
from firstlift.core.job import Job
from firstlift.core.result import BudgetLine, Pull, Result
from firstlift.core.units import UNITS, Kind
from firstlift.words import numbers

_SHOWN_IN = {"m": "mm", "m2": "mm2", "K": "K"}


def pulls(job: Job, result: Result) -> Section:
    """Give every pull in a table, its flags as letters explained below."""
    unit = numbers.show_unit(job.valve.set_pressure.unit)
    columns = (
        Column("Pull", align="right", weight=0.55),
        Column("Outcome", weight=1.15),
        Column("First lift", "s", "right", 1.35),
        Column("Line pressure", unit, "right", 0.95),
        Column("Pull force", "N", "right", 0.9),
        Column("Set pressure", unit, "right", 1.05),
        Column("U", unit, "right", 0.7),
        Column("Closure", "s", "right", 1.1),
        Column("Notes", weight=0.75),
    )
    codes = sorted({code for pull in result.pulls for code in pull.flags})
    letters = {code: _letter(index) for index, code in enumerate(codes)}
    rows = tuple(_pull(pull, job.valve.set_pressure.unit, letters) for pull in result.pulls)
    judged = set(result.verdict.judged) if result.verdict else set()
    strong = tuple(index for index, pull in enumerate(result.pulls) if pull.number in judged)
    notes = [f"{letter}: {words.title(code)}" for code, letter in letters.items()]
    if any(not pull.accepted for pull in result.pulls):
        notes.append("×: not accepted, left out of the mean")
    if strong:
        notes.append("bold: judged")
    first = "First lift with its standard uncertainty, on the recording's clock; U is the expanded uncertainty"
    block = Table(columns, rows, strong, (first, *notes))
    blocks = (block,) if rows else (Paragraph("The recording shows no pull."),)
    return Section("Every pull", blocks, together=True)


def _letter(index: int) -> str:
    high, low = divmod(index, 26)
    return ("" if not high else chr(ord("a") + high - 1)) + chr(ord("a") + low)


def _pull(pull: Pull, unit: str, letters: dict[str, str]) -> tuple[str, ...]:
    flags = " ".join(letters[code] for code in pull.flags)
    if pull.closure_s is not None:
        closure = f"{pull.closure_s:.2f}"
    else:
        closure = "not observed" if pull.first_lift_s is not None else "–"
    value, u = _value(pull, unit)
    return (
        str(pull.number),
        words.pull_outcome(pull.outcome),
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


def states(job: Job, result: Result) -> Section | None:
    """Give as found, as left and mean, the mean marked as information; None where there is none of them."""
    unit = job.valve.set_pressure.unit
    rows: list[tuple[str, ...]] = []
    found, left, mean = result.as_found, result.as_left, result.mean
    if found is not None:
        bound = (
            "" if found.lower_bound_pa is None else f"; opens above {numbers.format_value(found.lower_bound_pa, unit)}"
        )
        value = numbers.format_pressure(found.set_pressure_pa, unit, found.expanded_uncertainty_pa)
        what = words.pull_outcome(found.outcome)
        rows.append(("As found (first loading)", str(found.pull), value, f"{what}{bound}"))
    if left is not None:
        remark = "the openings drift" if left.trend else "no trend"
        for pull in left.pulls:
            value = numbers.format_pressure(pull.set_pressure_pa, unit, pull.expanded_uncertainty_pa)
            rows.append(("As left", str(pull.pull), value, remark))
    if mean is not None:
        spread = mean.repeatability_pa
        remark = "" if spread is None else f"standard deviation {numbers.format_value(spread, unit, digits=2)}; "
        value = numbers.format_pressure(mean.set_pressure_pa, unit, mean.expanded_uncertainty_pa)
        rows.append(("Mean (information only)", runs(mean.pulls), value, f"{remark}not judged"))
    if not rows:
        return None
    columns = (
        Column("State", weight=1.3),
        Column("Pull", weight=0.9),
        Column("Set pressure ± U", weight=1.2),
        Column("Remark", weight=1.8),
    )
    return Section("As found, as left, mean", (Table(columns, tuple(rows)),), together=True)


def runs(chosen: Sequence[int]) -> str:
    """Print pull numbers, those in a row as a range: "1 to 4, 7".

    Parameters
    ----------
    chosen : sequence of int
        Rising.

    Returns
    -------
    str
    """
    parts: list[list[int]] = []
    for number in chosen:
        if parts and number == parts[-1][-1] + 1:
            parts[-1].append(number)
        else:
            parts.append([number])
    shown = (
        f"{part[0]} to {part[-1]}" if len(part) > 2 else ", ".join(str(number) for number in part) for part in parts
    )
    return ", ".join(shown)


def budget_table(job: Job, result: Result) -> Table:
    """Give the budget of the judged value as a table, in the nameplate's unit."""
    unit = job.valve.set_pressure.unit
    shown = numbers.show_unit(unit)
    columns = (
        Column("Input", weight=2.5),
        Column("Value", align="right", weight=1.15),
        Column("Standard uncertainty", align="right", weight=1.15),
        Column("Distribution", weight=1.05),
        Column("Degrees of freedom", align="right", weight=0.8),
        Column("Sensitivity", f"{shown} per unit", "right", 1.05),
        Column("Adds", shown, "right", 0.85),
        Column("Share", align="right", weight=0.75),
        Column("Common to", weight=1.0),
    )
    rows = tuple(_budget(line, unit) for line in sorted(result.budget, key=lambda line: -abs(line.share)))
    note = "Share: part of the variance of the judged value. Common to: what other pulls share this line"
    notes = [*_combined(result, unit), note]
    if any(line.distribution == "one-sided" for line in result.budget):
        notes.append("A one-sided line lengthens the range to one side only; it is in the verdict, not in U")
    return Table(columns, rows, (), tuple(notes))


def _combined(result: Result, unit: str) -> tuple[str, ...]:
    found = result.as_found
    if found is None or not found.expanded_uncertainty_pa or not found.coverage_factor:
        return ()
    u = numbers.format_value(found.expanded_uncertainty_pa / found.coverage_factor, unit, digits=2)
    expanded = numbers.format_value(found.expanded_uncertainty_pa, unit, digits=2)
    return (f"Combined standard uncertainty {u}, coverage factor {found.coverage_factor:.2f}, so U = {expanded}",)


def _budget(line: BudgetLine, unit: str) -> tuple[str, ...]:
    own = unit if is_unit_of(line.unit, Kind.PRESSURE) else _SHOWN_IN.get(line.unit, line.unit)
    scale = UNITS[line.unit].factor / UNITS[own].factor if line.unit in UNITS and own in UNITS else 1.0
    per_unit = line.sensitivity / scale / UNITS[unit].factor
    shown = numbers.show_unit(own)
    freedom = "∞" if line.degrees_of_freedom is None else f"{line.degrees_of_freedom:.3g}"
    return (
        line.quantity,
        f"{line.value * scale:.5g} {shown}".rstrip(),
        f"{line.standard_uncertainty * scale:.2g} {shown}".rstrip(),
        line.distribution,
        freedom,
        f"{per_unit:.3g}".replace("-", "−"),
        numbers.format_value(line.contribution_pa, unit, digits=2).split(" ")[0].replace("-", "−"),
        numbers.format_share(line.share),
        line.common_to,
    )


def findings(result: Result) -> Section:
    """Give the findings with their advice."""
    rank = {"severe": 0, "warning": 1, "info": 2}
    ordered = sorted(result.findings, key=lambda finding: (rank[finding.severity], finding.pull or 0))
    rows = tuple(
        FindingRow(
            str(finding.severity),
            "whole test" if finding.pull is None else f"pull {finding.pull}",
            words.title(finding.code),
            finding.message,
            finding.advice,
        )
        for finding in ordered
    )
    return Section("Findings", (Findings(rows),) if rows else (Paragraph("Nothing out of the ordinary was found."),))
