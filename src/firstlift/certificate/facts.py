"""Sections that state what was given: people, valve, seat, rule, method."""

from __future__ import annotations

from firstlift import words
from firstlift.certificate.model import Block, CertificateDetails, Pairs, Paragraph, Section
from firstlift.certificate.settings import Accreditation, PaperSettings, Regime
from firstlift.core.job import Job
from firstlift.core.result import Result
from firstlift.core.units import UNITS, Kind
from firstlift.words import numbers
from firstlift.words.paper import Speaker
from firstlift.words.place import local, local_date

Rows = list[tuple[str, str]]
_LONGEST_IN_COLUMN = 90


def _in_columns(rows: Rows) -> tuple[Pairs, ...]:
    """Set short values in two columns, and long ones below them over the whole width."""
    short = tuple(row for row in rows if len(row[1]) <= _LONGEST_IN_COLUMN)
    long = tuple(row for row in rows if len(row[1]) > _LONGEST_IN_COLUMN)
    return tuple(pairs for pairs in (Pairs(short), Pairs(long, columns=1)) if pairs.rows)


def occasion(job: Job, details: CertificateDetails, say: Speaker) -> Section:
    """Give who, where, when, and under which rules the paper is made."""
    visit, settings = job.visit, details.settings
    not_stated = say("not-stated")
    rows: Rows = [
        (say("occasion.owner"), visit.owner or not_stated),
        (say("occasion.site"), visit.site or not_stated),
        (say("occasion.date"), local_date(visit.date)),
        (say("occasion.technician"), visit.technician or not_stated),
        (say("occasion.purpose"), words.purpose(visit.purpose, language=say.language)),
        (say("occasion.issuer"), details.issuer or not_stated),
        (say("occasion.ambient"), _temperature(visit.ambient_temperature_k, say)),
        (say("occasion.body"), _temperature(visit.body_temperature_k, say)),
        (say("occasion.place"), say("occasion.place-value")),
    ]
    optional = (("occasion.customer-address", settings.customer_address), ("occasion.address", settings.address))
    rows += [(say(key), value) for key, value in optional if value]
    for key, person in (("occasion.reviewed", details.reviewed), ("occasion.authorised", details.authorised)):
        if person is not None:
            dated = None if person.on is None else say("occasion.person-on", person=person.name, date=person.on)
            rows.append((say(key), dated or person.name))
    return Section(say("occasion"), _in_columns(rows), together=True)


def regime_text(settings: PaperSettings, say: Speaker) -> str:
    """Name the rules the paper is made under, and the accreditation only where its scope covers the test.

    Parameters
    ----------
    settings : PaperSettings
    say : Speaker

    Returns
    -------
    str
        Empty where the issuer follows none.
    """
    if settings.regime is Regime.NONE:
        return ""
    regime, held = say(f"regime.{settings.regime}"), covering(settings)
    if held is None:
        return say("regime.not-accredited", regime=regime)
    return say("regime.accredited", regime=regime, body=held.body, number=held.number)


def covering(settings: PaperSettings) -> Accreditation | None:
    """Give the accreditation that covers the test by the issuer's own word; None where there is none."""
    held = settings.accreditation
    return held if held is not None and held.scope_covers and settings.regime is not Regime.NONE else None


def _temperature(kelvin: float | None, say: Speaker) -> str:
    return say("not-recorded") if kelvin is None else local(f"{kelvin - 273.15:.1f} °C")


def valve(job: Job, say: Speaker) -> Section:
    """Give the valve's nameplate, its seat and its back pressure."""
    item, unit, not_stated = job.valve, job.valve.set_pressure.unit, say("not-stated")
    build = " ".join(part for part in (item.maker, item.model) if part) or not_stated
    sizes = " × ".join(part for part in (item.inlet_size, item.outlet_size) if part) or not_stated
    rows: Rows = [
        (say("valve.tag"), item.tag),
        (say("valve.serial"), item.serial),
        (say("valve.set"), item.set_pressure.text),
        (say("valve.medium"), words.medium(item.medium, language=say.language)),
        (say("valve.build"), build),
        (say("valve.sizes"), sizes),
        (say("valve.type"), words.valve_type(item.type, language=say.language)),
        (say("valve.cap"), say("on" if item.cap_on else "off")),
        (say("valve.back-service"), numbers.format_exact(item.superimposed_back_pressure_pa, unit)),
        (say("valve.back-test"), _back_pressure(job, say)),
        (say("valve.area"), _area(job, say)),
        (say("valve.area-source"), ", ".join(part for part in (job.seat.stated, job.seat.source) if part)),
    ]
    if item.cold_differential_test_pressure is not None:
        rows.append((say("valve.cold"), item.cold_differential_test_pressure.text))
    if item.spring_rate_n_m is not None:
        rows.append((say("valve.spring"), numbers.format_value(item.spring_rate_n_m, "N/mm")))
    if job.weight_on_spindle_n:
        rows.append((say("valve.weight"), numbers.format_value(job.weight_on_spindle_n, "N")))
    return Section(say("valve"), _in_columns(rows), together=True)


def _back_pressure(job: Job, say: Speaker) -> str:
    unit, u = job.valve.set_pressure.unit, job.valve.u_back_pressure_pa
    value = numbers.format_exact(job.valve.back_pressure_at_test_pa, unit)
    if u is None:
        return say("valve.back-no-u", value=value)
    return say("valve.back-u", value=value, u=numbers.format_value(u, unit, digits=2))


def _area(job: Job, say: Speaker) -> str:
    u = job.seat.standard_uncertainty_m2
    if u <= 0.0:
        return say("valve.area-no-u", value=numbers.format_value(job.seat.area_m2, "mm2", digits=5))
    value, rounded = numbers.round_with_uncertainty(numbers.in_unit(job.seat.area_m2, "mm2"), numbers.in_unit(u, "mm2"))
    return say("valve.area-edges" if job.seat.half_width_m2 > 0.0 else "valve.area-u", value=value, u=rounded)


def rule(job: Job, result: Result, say: Speaker) -> Section:
    """Give the rule the verdict follows: code, edition, clause, source, definition, decision."""
    verdict, unit, language = result.verdict, job.valve.set_pressure.unit, say.language
    if verdict is None:
        decided = words.decision(job.rules.decision, job.rules.decision_probability, language=language)
        rows: Rows = [(say("rule.code"), job.rules.code), (say("rule.decision"), decided)]
        return Section(say("rule"), (Pairs(tuple(rows), columns=1),), together=True)
    limits = say(
        "rule.limits-value",
        lower=numbers.format_exact(verdict.lower_pa, unit),
        upper=numbers.format_exact(verdict.upper_pa, unit),
        stamped=job.valve.set_pressure.text,
    )
    decided = words.decision(verdict.decision, verdict.decision_probability, language=language)
    rows = [
        (say("rule.code-edition-clause"), f"{verdict.code}, {verdict.edition}, {verdict.clause}"),
        (say("rule.limits"), limits),
        (say("rule.source"), words.source(verdict.source_status, language=language)),
        (say("rule.definition"), words.definition(verdict.definition, language=language)),
        (say("rule.decision"), decided),
        (say("rule.judged"), ", ".join(str(number) for number in verdict.judged) or say("none")),
    ]
    return Section(say("rule"), (Pairs(tuple(rows), columns=1),), together=True)


def method(job: Job, result: Result, details: CertificateDetails, say: Speaker) -> Section:
    """Give method, parameters, program, recording and attached files, enough to compute the same again."""
    parameters = "; ".join(
        f"{name} = {_parameter(value, say)}" for name, value in sorted(result.method.parameters.items())
    )
    duration = local(f"{result.recording.duration_s:.2f}")
    samples = say("method.samples-value", samples=result.recording.samples, duration=duration)
    rows: Rows = [
        (say("method.id"), result.method.id),
        (say("method.parameters"), parameters or say("none")),
        (say("method.program"), f"Firstlift {details.release}"),
        (say("method.recording"), job.recording.file),
        (say("method.samples"), samples),
        (say("method.sha256"), result.recording.sha256),
    ]
    if job.recording.started_at is not None:
        rows.insert(4, (say("method.started"), job.recording.started_at.isoformat()))
    for key, attached in (("method.attached", True), ("method.kept-apart", False)):
        names = ", ".join(file.name for file in details.files if file.attached is attached)
        if names:
            rows.append((say(key), names))
    blocks: tuple[Block, ...] = (Pairs(tuple(rows), columns=1),)
    if details.seal:
        rows.append((say("method.seal"), details.seal))
        blocks = (Pairs(tuple(rows), columns=1), Paragraph(say("method.seal-note"), "note"))
    return Section(say("method"), blocks, together=True)


def _parameter(value: float | int | str | bool | None, say: Speaker) -> str:
    if isinstance(value, bool):
        return say("yes" if value else "no")
    return local(f"{value:g}") if isinstance(value, float) else str(value)


def is_unit_of(symbol: str, kind: Kind) -> bool:
    """Say whether a unit's symbol is known and measures ``kind``."""
    return symbol in UNITS and UNITS[symbol].kind is kind
