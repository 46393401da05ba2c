"""Sections that state what was given: people, valve, seat, instruments, rule, method."""

from __future__ import annotations

import datetime as dt

from firstlift import words
from firstlift.certificate.model import CertificateDetails, Column, Pairs, Section, Table
from firstlift.core.job import ChannelSpec, Job, Measures
from firstlift.core.result import Result
from firstlift.core.units import UNITS, Kind
from firstlift.words import numbers

Rows = list[tuple[str, str]]
_NOT_STATED = "not stated"
_LONGEST_IN_COLUMN = 90


def _in_columns(rows: Rows) -> tuple[Pairs, ...]:
    """Set short values in two columns, and long ones below them over the whole width."""
    short = tuple(row for row in rows if len(row[1]) <= _LONGEST_IN_COLUMN)
    long = tuple(row for row in rows if len(row[1]) > _LONGEST_IN_COLUMN)
    return tuple(pairs for pairs in (Pairs(short), Pairs(long, columns=1)) if pairs.rows)


def occasion(job: Job, details: CertificateDetails) -> Section:
    """Give who, where and when."""
    visit = job.visit
    rows: Rows = [
        ("Owner", visit.owner or _NOT_STATED),
        ("Site", visit.site or _NOT_STATED),
        ("Date of test", visit.date.isoformat()),
        ("Tested by", visit.technician or _NOT_STATED),
        ("Purpose", words.purpose(visit.purpose)),
        ("Issued by", details.issuer or _NOT_STATED),
        ("Ambient temperature", _temperature(visit.ambient_temperature_k)),
        ("Body temperature", _temperature(visit.body_temperature_k)),
    ]
    return Section("Where, when and by whom", _in_columns(rows), together=True)


def _temperature(kelvin: float | None) -> str:
    return "not recorded" if kelvin is None else f"{kelvin - 273.15:.1f} °C"


def valve(job: Job) -> Section:
    """Give the valve's nameplate, its seat and its back pressure."""
    item, unit = job.valve, job.valve.set_pressure.unit
    build = " ".join(part for part in (item.maker, item.model) if part) or _NOT_STATED
    sizes = " × ".join(part for part in (item.inlet_size, item.outlet_size) if part) or _NOT_STATED
    cold = item.cold_differential_test_pressure
    back_u = item.u_back_pressure_pa
    back_note = "uncertainty not stated" if back_u is None else f"u = {numbers.format_value(back_u, unit, digits=2)}"
    rows: Rows = [
        ("Tag", item.tag),
        ("Serial number", item.serial),
        ("Stamped set pressure", item.set_pressure.text),
        ("Medium", words.medium(item.medium)),
        ("Maker and model", build),
        ("Inlet × outlet", sizes),
        ("Build", words.valve_type(item.type)),
        ("Cap during the test", "on" if item.cap_on else "off"),
        ("Back pressure in service", numbers.format_exact(item.superimposed_back_pressure_pa, unit)),
        ("Back pressure at the test", f"{numbers.format_exact(item.back_pressure_at_test_pa, unit)}, {back_note}"),
        ("Seat area", _area(job)),
        ("Source of the seat area", ", ".join(part for part in (job.seat.stated, job.seat.source) if part)),
    ]
    if cold is not None:
        rows.append(("Cold differential test pressure", cold.text))
    if item.spring_rate_n_m is not None:
        rows.append(("Spring rate", numbers.format_value(item.spring_rate_n_m, "N/mm")))
    if job.weight_on_spindle_n:
        rows.append(("Weight on the spindle, taken off", numbers.format_value(job.weight_on_spindle_n, "N")))
    return Section("The valve and its seat", _in_columns(rows), together=True)


def _area(job: Job) -> str:
    u = job.seat.standard_uncertainty_m2
    if u <= 0.0:
        return f"{numbers.format_value(job.seat.area_m2, 'mm2', digits=5)}, uncertainty not stated"
    value, rounded = numbers.round_with_uncertainty(numbers.in_unit(job.seat.area_m2, "mm2"), numbers.in_unit(u, "mm2"))
    shape = " (edges of the seat: all areas between equally likely)" if job.seat.half_width_m2 > 0.0 else ""
    return f"{value} mm², u = {rounded} mm²{shape}"


def instruments(job: Job) -> Section:
    """Give every channel with serial, calibration and uncertainty."""
    columns = (
        Column("Channel", weight=1.3),
        Column("Measures", weight=1.2),
        Column("Unit", weight=0.7),
        Column("Serial", weight=1.0),
        Column("Calibration due", weight=1.15),
        Column("Standard uncertainty", weight=1.9),
        Column("Corrections", weight=1.6),
    )
    rows = [_instrument(spec, job.visit.date, job.valve.set_pressure.unit) for spec in job.channels]
    if job.visit.line_pressure_pa is not None:
        unit, u = job.valve.set_pressure.unit, job.visit.u_line_pressure_pa
        stated = "not stated" if u is None else numbers.format_value(u, unit, digits=2)
        value = numbers.format_exact(job.visit.line_pressure_pa, unit)
        rows.append(("by hand", "line pressure", numbers.show_unit(unit), "–", "–", stated, f"entered as {value}"))
    return Section("Instruments", (Table(columns, tuple(rows)),), together=True)


def _instrument(spec: ChannelSpec, tested_on: dt.date, pressure_unit: str) -> tuple[str, ...]:
    due = "not stated" if spec.calibration_due is None else spec.calibration_due.isoformat()
    if spec.calibration_due is not None and spec.calibration_due < tested_on:
        due += " (overdue)"
    return (
        spec.column,
        words.measures(spec.measures),
        numbers.show_unit(spec.unit),
        spec.serial or _NOT_STATED,
        due,
        _uncertainty(spec),
        _corrections(spec, pressure_unit),
    )


def _uncertainty(spec: ChannelSpec) -> str:
    if spec.measures not in (Measures.PULL_FORCE, Measures.LINE_PRESSURE, Measures.BACK_PRESSURE):
        stated = spec.relative_standard_uncertainty > 0.0 or spec.standard_uncertainty > 0.0
        if not stated:
            return "not used for the value"
    if not spec.uncertainty_stated:
        return "not stated"
    parts: list[str] = []
    if spec.relative_standard_uncertainty > 0.0:
        parts.append(f"{100.0 * spec.relative_standard_uncertainty:.3g} % of reading")
    if spec.standard_uncertainty > 0.0:
        own = spec.standard_uncertainty / spec.factor if spec.factor else spec.standard_uncertainty
        parts.append(f"{own:.2g} {numbers.show_unit(spec.unit)}")
    return " and ".join(parts) or "stated as zero"


def _corrections(spec: ChannelSpec, pressure_unit: str) -> str:
    parts: list[str] = []
    if spec.polynomial:
        parts.append(f"calibration curve, degree {len(spec.polynomial) - 1}")
    if spec.delay_s is not None:
        parts.append(f"delay {1e3 * spec.delay_s:.3g} ms")
    if spec.head_correction_pa:
        parts.append(f"head {numbers.format_short(spec.head_correction_pa, pressure_unit)}".replace("-", "−"))
    if spec.calibrated_with:
        parts.append(f"calibrated with {spec.calibrated_with}")
    return "; ".join(parts) or "none"


def rule(job: Job, result: Result) -> Section:
    """Give the rule the verdict follows: code, edition, clause, source, definition, decision."""
    verdict, unit = result.verdict, job.valve.set_pressure.unit
    if verdict is None:
        rows: Rows = [
            ("Code", job.rules.code),
            ("Decision rule", words.decision(job.rules.decision, job.rules.decision_probability)),
        ]
        return Section("The rule", (Pairs(tuple(rows), columns=1),), together=True)
    limits = f"{numbers.format_exact(verdict.lower_pa, unit)} to {numbers.format_exact(verdict.upper_pa, unit)}"
    rows = [
        ("Code, edition, clause", f"{verdict.code}, {verdict.edition}, {verdict.clause}"),
        ("Limits of set pressure", f"{limits} for a stamped {job.valve.set_pressure.text}"),
        ("Source of the limits", words.source(verdict.source_status)),
        ("Set pressure means", words.definition(verdict.definition)),
        ("Decision rule", words.decision(verdict.decision, verdict.decision_probability)),
        ("Judged pulls", ", ".join(str(number) for number in verdict.judged) or "none"),
    ]
    return Section("The rule", (Pairs(tuple(rows), columns=1),), together=True)


def method(job: Job, result: Result, release: str) -> Section:
    """Give method, parameters, program and recording, enough to compute the same again."""
    parameters = "; ".join(f"{name} = {_parameter(value)}" for name, value in sorted(result.method.parameters.items()))
    rows: Rows = [
        ("Method", result.method.id),
        ("Its parameters", parameters or "none"),
        ("Program", f"Firstlift {release}"),
        ("Recording", job.recording.file),
        ("Samples, duration", f"{result.recording.samples}, {result.recording.duration_s:.2f} s"),
        ("SHA-256 of the recording", result.recording.sha256),
    ]
    if job.recording.started_at is not None:
        rows.insert(4, ("Recording started at", job.recording.started_at.isoformat()))
    return Section("Method and recording", (Pairs(tuple(rows), columns=1),), together=True)


def _parameter(value: float | int | str | bool | None) -> str:
    if isinstance(value, bool):
        return "yes" if value else "no"
    return f"{value:g}" if isinstance(value, float) else str(value)


def is_unit_of(symbol: str, kind: Kind) -> bool:
    """Say whether a unit's symbol is known and measures ``kind``."""
    return symbol in UNITS and UNITS[symbol].kind is kind
