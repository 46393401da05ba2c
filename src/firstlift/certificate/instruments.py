"""The instruments of a test: serial, calibration, uncertainty, corrections."""

from __future__ import annotations

import datetime as dt

from firstlift import words
from firstlift.certificate.model import Column, Section, Table
from firstlift.core.job import ChannelSpec, Job, Measures
from firstlift.words import numbers
from firstlift.words.paper import Speaker
from firstlift.words.place import local, local_date


def instruments(job: Job, say: Speaker) -> Section:
    """Give every channel with serial, calibration and uncertainty."""
    columns = (
        Column(say("instruments.channel"), weight=1.3),
        Column(say("instruments.measures"), weight=1.2),
        Column(say("instruments.unit"), weight=0.7),
        Column(say("instruments.serial"), weight=1.0),
        Column(say("instruments.due"), weight=1.15),
        Column(say("instruments.u"), weight=1.9),
        Column(say("instruments.corrections"), weight=1.6),
    )
    rows = [_instrument(spec, job.visit.date, job.valve.set_pressure.unit, say) for spec in job.channels]
    if job.visit.line_pressure_pa is not None:
        unit, u = job.valve.set_pressure.unit, job.visit.u_line_pressure_pa
        stated = say("not-stated") if u is None else numbers.format_value(u, unit, digits=2)
        entered = say("instruments.entered", value=numbers.format_exact(job.visit.line_pressure_pa, unit))
        measured = words.measures(Measures.LINE_PRESSURE, language=say.language)
        rows.append((say("instruments.by-hand"), measured, numbers.show_unit(unit), "–", "–", stated, entered))
    return Section(say("instruments"), (Table(columns, tuple(rows)),), together=True)


def _instrument(spec: ChannelSpec, tested_on: dt.date, pressure_unit: str, say: Speaker) -> tuple[str, ...]:
    due = say("not-stated") if spec.calibration_due is None else local_date(spec.calibration_due)
    if spec.calibration_due is not None and spec.calibration_due < tested_on:
        due = say("instruments.overdue", date=due)
    return (
        spec.column,
        words.measures(spec.measures, language=say.language),
        numbers.show_unit(spec.unit),
        spec.serial or say("not-stated"),
        due,
        _uncertainty(spec, say),
        _corrections(spec, pressure_unit, say),
    )


def _uncertainty(spec: ChannelSpec, say: Speaker) -> str:
    if spec.measures not in (Measures.PULL_FORCE, Measures.LINE_PRESSURE, Measures.BACK_PRESSURE):
        stated = spec.relative_standard_uncertainty > 0.0 or spec.standard_uncertainty > 0.0
        if not stated:
            return say("instruments.not-used")
    if not spec.uncertainty_stated:
        return say("not-stated")
    parts: list[str] = []
    if spec.relative_standard_uncertainty > 0.0:
        parts.append(say("instruments.of-reading", share=local(f"{100.0 * spec.relative_standard_uncertainty:.3g}")))
    if spec.standard_uncertainty > 0.0:
        own = spec.standard_uncertainty / spec.factor if spec.factor else spec.standard_uncertainty
        parts.append(f"{local(f'{own:.2g}')} {numbers.show_unit(spec.unit)}")
    if len(parts) > 1:
        return say("instruments.and", first=parts[0], second=parts[1])
    return parts[0] if parts else say("instruments.zero")


def _corrections(spec: ChannelSpec, pressure_unit: str, say: Speaker) -> str:
    parts: list[str] = []
    if spec.polynomial:
        parts.append(say("instruments.curve", degree=len(spec.polynomial) - 1))
    if spec.delay_s is not None:
        parts.append(say("instruments.delay", delay=local(f"{1e3 * spec.delay_s:.3g} ms")))
    if spec.head_correction_pa:
        head = numbers.format_short(spec.head_correction_pa, pressure_unit).replace("-", "−")
        parts.append(say("instruments.head", head=head))
    if spec.calibrated_with:
        parts.append(say("instruments.with", group=spec.calibrated_with))
    return "; ".join(parts) or say("none")
