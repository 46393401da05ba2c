"""Fill a job sheet from the register: valve by tag, instruments by serial, rules and seat in force.

What the sheet states itself stands, and must not contradict the register: a tag whose nameplate reads otherwise is
another valve, and the job stops.
"""

from __future__ import annotations

import datetime as dt
import tomllib
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from firstlift.core.errors import FirstliftError, Problem
from firstlift.core.job import OwnerLimit, Rules
from firstlift.core.register.choose import calibration_in_force, rules_in_force, search_key
from firstlift.core.register.equipment import Calibration, Installation, Instrument, RegisteredValve
from firstlift.core.register.places import Owner, Position, RuleChoice, Site
from firstlift.core.units import Kind, parse_quantity
from firstlift.formats.sheet_channels import KIND_OF
from firstlift.store.read import Reader
from firstlift.usecases.register.curve import curve_of

_SI_UNIT = {
    Kind.FORCE: "N",
    Kind.PRESSURE: "Pa",
    Kind.LENGTH: "m",
    Kind.SOUND: "V",
    Kind.TEMPERATURE: "K",
}
_LIMITS = ("as_found_lower", "as_found_upper", "as_left_lower", "as_left_upper")


@dataclass(frozen=True, slots=True)
class Found:
    """What the register knows of the valve that a job sheet names."""

    valve: RegisteredValve
    position: Position
    site: Site
    owner: Owner


def find_by_tag(reader: Reader, tag: str, on: dt.date, *, site: str = "", where: str = "") -> Found:
    """Find the valve that hung at a tag on a date.

    Parameters
    ----------
    reader : Reader
    tag : str
    on : date
    site : str
        Needed where several sites use the tag.
    where : str
        Said in messages.

    Returns
    -------
    Found

    Raises
    ------
    FirstliftError
        REG-020 no such tag, several, or no valve there on that date.
    """
    positions = [(position, reader.get(Site, position.site_id)) for position in reader.by_key(Position, tag)]
    if site:
        positions = [pair for pair in positions if search_key(pair[1].name) == search_key(site)]
    if len(positions) != 1:
        sites = ", ".join(sorted(pair[1].name for pair in positions))
        what = f"the tag '{tag}' is used at several sites: {sites}" if positions else f"the tag '{tag}' is not known"
        raise FirstliftError(Problem("REG-020", what, where, "a tag of the register, and its site in [visit] site"))
    position, place = positions[0]
    hung = [
        each
        for each in reader.list(Installation, position_id=position.id, order=("-since", "-id"))
        if each.since <= on and (each.until is None or on <= each.until)
    ]
    if not hung:
        raise FirstliftError(
            Problem("REG-020", f"no valve hung at '{tag}' on {on.isoformat()}", where, "an installation on that date")
        )
    valve = reader.get(RegisteredValve, hung[0].valve_id)
    return Found(valve, position, place, reader.get(Owner, place.owner_id))


def read_document(data: bytes, where: str) -> dict[str, Any]:
    """Read a job sheet's tables; what they say is judged later, when it is filled.

    Parameters
    ----------
    data : bytes
    where : str

    Returns
    -------
    dict

    Raises
    ------
    FirstliftError
        JOB-003 it is not TOML.
    """
    try:
        return tomllib.loads(data.decode("utf-8-sig"))
    except (ValueError, RecursionError) as error:
        raise FirstliftError(
            Problem("JOB-003", f"the job sheet is not TOML: {str(error)[:200]}", where, 'TOML: key = "value"')
        ) from error


def fill_document(
    reader: Reader, document: Mapping[str, Any], found: Found, on: dt.date, *, where: str
) -> dict[str, Any]:
    """Fill all of a job sheet but the seat.

    Parameters
    ----------
    reader : Reader
    document : mapping
        The sheet's tables.
    found : Found
    on : date
        Of the test.
    where : str
        Said in messages.

    Returns
    -------
    dict
        Tables with what was missing; a sheet that states everything comes back as it was.

    Raises
    ------
    FirstliftError
        REG-021 sheet and register contradict each other, each thing by name.
    """
    problems: list[Problem] = []
    filled = {key: value for key, value in document.items() if key not in ("visit", "valve", "rules", "channel")}
    visit = {"owner": found.owner.name, "site": found.site.name}
    known = _valve_keys(found)
    valve = dict(document.get("valve", {}))
    problems += _contradictions(valve, known, where)
    channels = [
        fill_channel(reader, channel, on, problems, where=f"{where}, channel {number}")
        for number, channel in enumerate(document.get("channel", []), start=1)
    ]
    if problems:
        raise FirstliftError(problems)
    filled["visit"] = {**visit, **document.get("visit", {})}
    filled["valve"] = {**known, **valve}
    rules = document.get("rules") or _rules_keys(reader, found, on)
    if rules:
        filled["rules"] = rules
    filled["channel"] = channels
    return filled


def fill_channel(
    reader: Reader, channel: Mapping[str, Any], on: dt.date, problems: list[Problem], *, where: str
) -> dict[str, Any]:
    """Fill one channel from its instrument's calibration in force; one whose serial is not known stays as it is.

    Parameters
    ----------
    reader : Reader
    channel : mapping
    on : date
    problems : list of Problem
        Added to.
    where : str

    Returns
    -------
    dict
    """
    instrument = instrument_by_serial(reader, str(channel.get("serial", "")))
    if instrument is None:
        return dict(channel)
    stated = channel.get("measures", str(instrument.measures))
    if stated != str(instrument.measures):
        problems.append(
            Problem(
                "REG-021",
                f"'{instrument.serial}' measures {instrument.measures} in the register, {stated} in the sheet",
                where,
                "the instrument that was used",
            )
        )
        return dict(channel)
    calibration = calibration_of(reader, instrument, on)
    known = calibration_keys(instrument, calibration) if calibration else {}
    given = {key for key in ("relative_standard_uncertainty", "standard_uncertainty") if key in channel}
    if given:  # an uncertainty that the sheet states is the whole of it
        known = {key: value for key, value in known.items() if not key.endswith("standard_uncertainty")}
    due = channel.get("calibration_due")
    if calibration is not None and isinstance(due, dt.date) and due != calibration.due:
        problems.append(
            Problem(
                "REG-021",
                f"the calibration of '{instrument.serial}' is due {calibration.due.isoformat()} in the register, "
                f"{due.isoformat()} in the sheet",
                where,
                "one date",
            )
        )
    return {"measures": str(instrument.measures), "unit": instrument.unit, **known, **channel}


def instrument_by_serial(reader: Reader, serial: str) -> Instrument | None:
    """Give an instrument by its serial, or None.

    Parameters
    ----------
    reader : Reader
    serial : str

    Returns
    -------
    Instrument or None
    """
    return next(iter(reader.by_key(Instrument, serial)), None) if serial.strip() else None


def calibration_of(reader: Reader, instrument: Instrument, on: dt.date) -> Calibration | None:
    """Give an instrument's calibration in force on a date, or None.

    Parameters
    ----------
    reader : Reader
    instrument : Instrument
    on : date

    Returns
    -------
    Calibration or None
    """
    return calibration_in_force(reader.list(Calibration, instrument_id=instrument.id), on)


def calibration_keys(instrument: Instrument, calibration: Calibration) -> dict[str, Any]:
    """Give what a calibration says, as keys of a channel.

    Parameters
    ----------
    instrument : Instrument
    calibration : Calibration

    Returns
    -------
    dict

    Raises
    ------
    FirstliftError
        REG-022 no polynomial fits its table within the stated uncertainty.
    """
    unit = _SI_UNIT[KIND_OF[instrument.measures]]
    keys: dict[str, Any] = {"calibration_due": calibration.due, "unit": calibration.unit}
    polynomial = list(calibration.polynomial) or curve_of(instrument, calibration)
    if polynomial:
        keys["polynomial"] = polynomial
    if calibration.relative_standard_uncertainty is not None:
        keys["relative_standard_uncertainty"] = f"{calibration.relative_standard_uncertainty * 100.0!r} %"
    if calibration.standard_uncertainty_si is not None:
        keys["standard_uncertainty"] = f"{calibration.standard_uncertainty_si!r} {unit}"
    if calibration.reference_standard:
        keys["calibrated_with"] = calibration.reference_standard
    if instrument.capacity_si is not None:
        keys["capacity"] = f"{instrument.capacity_si!r} {unit}"
    return keys


def _valve_keys(found: Found) -> dict[str, Any]:
    valve, position = found.valve, found.position
    texts = {key: getattr(valve, key) for key in ("maker", "model", "inlet_size", "outlet_size")}
    quantities = {
        key: getattr(valve, key).text
        for key in ("set_pressure", "cold_differential_test_pressure", "spring_range_low", "spring_range_high")
        if getattr(valve, key) is not None
    }
    lengths = {
        key: f"{value!r} m"
        for key in ("spindle_diameter", "disc_guide_diameter", "bellows_diameter", "screw_pitch")
        if (value := getattr(valve, f"{key}_m")) is not None
    }
    keys: dict[str, Any] = {
        "tag": position.tag,
        "serial": valve.serial,
        **quantities,
        "medium": str(position.medium),
        "type": str(valve.type),
        **{key: text for key, text in texts.items() if text},
        **lengths,
    }
    if valve.spring_rate_n_m is not None:
        keys["spring_rate"] = f"{valve.spring_rate_n_m!r} N/m"
    if valve.max_pull_n is not None:
        keys["max_pull"] = f"{valve.max_pull_n!r} N"
    if valve.opening_definition is not None:
        keys["opening_definition"] = str(valve.opening_definition)
    if position.superimposed_back_pressure is not None and not position.back_pressure_varies:
        keys["superimposed_back_pressure"] = position.superimposed_back_pressure.text
    if position.fire_case:
        keys["fire_case"] = True
    return keys


def _contradictions(stated: Mapping[str, Any], known: Mapping[str, Any], where: str) -> list[Problem]:
    found: list[Problem] = []
    for key in ("serial", "set_pressure", "medium", "type"):
        text, registered = stated.get(key), known.get(key)
        if not isinstance(text, str) or registered is None or _same(key, text, registered):
            continue
        found.append(
            Problem(
                "REG-021",
                f"{key} is '{text}' in the sheet, '{registered}' in the register",
                f"{where}, [valve] {key}",
                "the valve that the register has at this tag",
                "Check the nameplate: stop the job if it is another valve, else correct the register or the sheet",
            )
        )
    return found


def _same(key: str, stated: str, registered: str) -> bool:
    if key != "set_pressure":
        return search_key(stated) == search_key(registered)
    try:
        one, other = (parse_quantity(text, Kind.PRESSURE).si for text in (stated, registered))
    except FirstliftError:
        return True  # the job sheet's own reader says what is wrong with it
    # half a thousandth covers the conversion between two units
    return abs(one - other) <= 5e-4 * abs(other)


def _rules_keys(reader: Reader, found: Found, on: dt.date) -> dict[str, Any]:
    choices = [
        choice
        for choice in reader.list(RuleChoice, owner_id=found.owner.id)
        if choice.site_id in (None, found.site.id) and choice.position_id in (None, found.position.id)
    ]
    choice = rules_in_force(choices, on)
    return {} if choice is None else rules_keys(choice.rules, found.valve.set_pressure.unit)


def rules_keys(rules: Rules, unit: str) -> dict[str, Any]:
    """Give rules as keys of a job sheet.

    Parameters
    ----------
    rules : Rules
    unit : str
        The nameplate's, in which an owner's limits stand.

    Returns
    -------
    dict
    """
    keys: dict[str, Any] = {
        "code": rules.code,
        "decision": str(rules.decision),
        "decision_probability": rules.decision_probability,
        "agreeing_pulls": rules.agreeing_pulls,
        "agreement_spread": f"{rules.agreement_spread * 100.0!r} %",
    }
    if rules.edition:
        keys["edition"] = rules.edition
    for name in _LIMITS:
        limit: OwnerLimit | None = getattr(rules.owner_limits, name)
        if limit is not None:
            keys[name] = _limit_text(limit, unit)
    return keys


def _limit_text(limit: OwnerLimit, unit: str) -> str:
    if limit.relative is not None:
        return f"{limit.relative * 100:+f} %"
    return f"{limit.absolute:+f} {unit}" if limit.is_deviation else f"{limit.absolute:f} {unit}"
