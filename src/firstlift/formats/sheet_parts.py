"""The parts of a job sheet: visit, valve, seat, rig and recording as frozen values of the core."""

from __future__ import annotations

import math
import re
from enum import StrEnum

from firstlift.core.job import Purpose, RecordingSpec, Visit
from firstlift.core.units import STANDARD_GRAVITY_M_S2, UNITS, Kind
from firstlift.core.valve import Definition, Medium, Seat, Valve, ValveType, circle_area_m2, land_area_m2
from firstlift.formats.sheet_table import Table, shown

_ORIFICE = re.compile(r"(?:orifice\s*)?(?:letter\s*)?['\"]?[A-Z]['\"]?(?:\s*orifice)?", re.IGNORECASE)
WAVEFORM = "waveform"


class Cap(StrEnum):
    """Whether the cap closes the space over the spindle during the test."""

    OFF = "off"
    ON = "on"


def read_visit(table: Table) -> Visit | None:
    """Read [visit]: when, where, who, why, and the line pressure where it was entered by hand.

    Parameters
    ----------
    table : Table

    Returns
    -------
    Visit or None
        None where a problem was noted.
    """
    date = table.date("date", required=True)
    purpose = table.choice("purpose", Purpose)
    line = table.si("line_pressure", Kind.PRESSURE, above=0.0, or_equal=True)
    long, short = "line_pressure_standard_uncertainty", "standard_uncertainty"
    if table.has(long) and table.has(short):
        table.note("JOB-009", f"both '{long}' and '{short}' are given", long, "one of them", f"Remove '{short}'")
    key = long if table.has(long) else short
    u_line = table.si(key, Kind.PRESSURE, above=0.0, or_equal=True)
    if table.has("line_pressure") and not table.has(key):
        table.missing(long, "the standard uncertainty of a line pressure that was entered by hand")
    if table.has(key) and not table.has("line_pressure"):
        table.note("JOB-006", f"'{key}' is given without 'line_pressure'", key, "both or neither")
    visit = {
        "owner": table.text("owner"),
        "site": table.text("site"),
        "technician": table.text("technician"),
    }
    ambient = table.si("ambient_temperature", Kind.TEMPERATURE, above=0.0)
    body = table.si("body_temperature", Kind.TEMPERATURE, above=0.0)
    if date is None or purpose is None:
        return None
    return Visit(
        date=date,
        purpose=purpose,
        **visit,
        ambient_temperature_k=ambient,
        body_temperature_k=body,
        line_pressure_pa=line,
        u_line_pressure_pa=u_line,
    )


def read_valve(table: Table) -> Valve | None:
    """Read [valve]: nameplate, build and spring.

    Parameters
    ----------
    table : Table

    Returns
    -------
    Valve or None
        None where a problem was noted.
    """
    tag = table.text("tag", required=True)
    serial = table.text("serial", required=True)
    set_pressure = table.quantity("set_pressure", Kind.PRESSURE, required=True, above=0.0)
    medium = table.choice("medium", Medium)
    optional = _valve_dimensions(table)
    low, high = optional["spring_range_low_pa"], optional["spring_range_high_pa"]
    if low is not None and high is not None and low >= high:
        table.note("JOB-008", "'spring_range_low' is not below 'spring_range_high'", "spring_range_low")
    definition = table.choice("opening_definition", Definition) if table.has("opening_definition") else None
    superimposed = table.si("superimposed_back_pressure", Kind.PRESSURE, above=0.0, or_equal=True)
    at_test = table.si("back_pressure_at_test", Kind.PRESSURE, above=0.0, or_equal=True)
    valve_type = table.choice("type", ValveType, ValveType.CONVENTIONAL)
    cap = table.choice("cap", Cap, Cap.OFF)
    cold = table.quantity("cold_differential_test_pressure", Kind.PRESSURE, above=0.0)
    fire = table.flag("fire_case")
    if set_pressure is None or medium is None or valve_type is None:
        return None
    return Valve(
        tag=tag,
        serial=serial,
        set_pressure=set_pressure,
        medium=medium,
        type=valve_type,
        superimposed_back_pressure_pa=superimposed or 0.0,
        back_pressure_at_test_pa=at_test or 0.0,
        cap_on=cap is Cap.ON,
        cold_differential_test_pressure=cold,
        opening_definition=definition,
        fire_case=fire,
        maker=table.text("maker"),
        model=table.text("model"),
        inlet_size=table.text("inlet_size"),
        outlet_size=table.text("outlet_size"),
        **optional,
    )


def _valve_dimensions(table: Table) -> dict[str, float | None]:
    """Read what the valve may state of itself, each above zero where it is there."""
    return {
        "u_back_pressure_pa": table.si(
            "back_pressure_standard_uncertainty", Kind.PRESSURE, above=0.0, or_equal=True
        ),
        "spindle_diameter_m": table.si("spindle_diameter", Kind.LENGTH, above=0.0),
        "disc_guide_diameter_m": table.si("disc_guide_diameter", Kind.LENGTH, above=0.0),
        "bellows_diameter_m": table.si("bellows_diameter", Kind.LENGTH, above=0.0),
        "spring_rate_n_m": table.si("spring_rate", Kind.STIFFNESS, above=0.0),
        "spring_range_low_pa": table.si("spring_range_low", Kind.PRESSURE, above=0.0, or_equal=True),
        "spring_range_high_pa": table.si("spring_range_high", Kind.PRESSURE, above=0.0),
        "screw_pitch_m": table.si("screw_pitch", Kind.LENGTH, above=0.0),
        "max_pull_n": table.si("max_pull", Kind.FORCE, above=0.0),
    }  # fmt: skip


def read_seat(table: Table) -> Seat | None:
    """Read [seat]: the area the line pressure acts on, stated in exactly one of three ways.

    Parameters
    ----------
    table : Table

    Returns
    -------
    Seat or None
        None where a problem was noted.
    """
    source = table.text("source")
    ways = [key for key in ("mean_diameter", "inner_diameter", "outer_diameter", "area") if table.has(key)]
    edges = "inner_diameter" in ways or "outer_diameter" in ways
    if ("mean_diameter" in ways) + ("area" in ways) + edges > 1:
        table.note(
            "JOB-009", "the seat is stated twice: " + ", ".join(f"'{key}'" for key in ways), ways[1],
            "exactly one of mean_diameter; inner_diameter with outer_diameter; area", "Keep the measured one",
        )  # fmt: skip
        return None
    if not ways:
        table.note(
            "JOB-006", "the seat has no dimension", "",
            "exactly one of mean_diameter; inner_diameter with outer_diameter; area",
        )  # fmt: skip
        return None
    if edges:
        return _seat_of_edges(table, source)
    return _seat_of_area(table, source) if "area" in ways else _seat_of_mean(table, source)


def _seat_of_mean(table: Table, source: str) -> Seat | None:
    diameter = table.quantity("mean_diameter", Kind.LENGTH, above=0.0)
    u_m = table.si("standard_uncertainty", Kind.LENGTH, required=True, above=0.0, or_equal=True)
    if diameter is None or u_m is None:
        return None
    u_area = math.pi / 2.0 * diameter.si * u_m  # dA/dD of pi/4 D^2
    return Seat(circle_area_m2(diameter.si), u_area, 0.0, source, f"mean diameter {diameter.text}")


def _seat_of_edges(table: Table, source: str) -> Seat | None:
    inner = table.quantity("inner_diameter", Kind.LENGTH, required=True, above=0.0)
    outer = table.quantity("outer_diameter", Kind.LENGTH, required=True, above=0.0)
    u_m = table.si("standard_uncertainty", Kind.LENGTH, above=0.0, or_equal=True) or 0.0
    if inner is None or outer is None:
        return None
    if outer.si <= inner.si:
        table.note(
            "JOB-008", f"outer diameter {outer.text} does not exceed inner diameter {inner.text}", "outer_diameter",
            "the outer edge of the contact outside its bore", "Check whether the two were swapped",
        )  # fmt: skip
        return None
    # both diameters measured with one tool: their errors are taken to move together, which is the wider case
    u_area = math.pi / 12.0 * 3.0 * (inner.si + outer.si) * u_m
    half_width = (circle_area_m2(outer.si) - circle_area_m2(inner.si)) / 2.0
    stated = f"contact from {inner.text} to {outer.text}"
    return Seat(land_area_m2(inner.si, outer.si), u_area, half_width, source, stated)


def _seat_of_area(table: Table, source: str) -> Seat | None:
    letter = table.data["area"]
    if isinstance(letter, str) and _ORIFICE.fullmatch(letter.strip()):
        note_orifice(table, "area", letter)
        return None
    area = table.quantity("area", Kind.AREA, above=0.0)
    u_m2 = table.si("standard_uncertainty", Kind.AREA, required=True, above=0.0, or_equal=True)
    if area is None or u_m2 is None:
        return None
    return Seat(area.si, u_m2, 0.0, source, f"area {area.text}")


def note_orifice(table: Table, key: str, value: object) -> None:
    """Note that an orifice letter was given where a seat is asked for, and why that cannot serve."""
    table.note(
        "JOB-010", f"'{shown(value)}' is an orifice letter: its effective area sizes the flow through the valve "
        "and is not the area the line pressure acts on while it is closed", key,
        "the seat's measured mean diameter, its contact edges, or its area with unit",
        "Measure the seat, or find its area from pulls at two line pressures",
    )  # fmt: skip


def read_weight_n(table: Table) -> float:
    """Read [rig] weight_on_spindle, a force or a mass (times standard gravity), in newtons.

    Parameters
    ----------
    table : Table

    Returns
    -------
    float, [N]
    """
    text = table.data.get("weight_on_spindle")
    word = re.sub(r"^[\s\d.,eE+-]*", "", text).strip() if isinstance(text, str) else ""
    masses = [unit.symbol.lower() for unit in UNITS.values() if unit.kind is Kind.MASS]
    if word.lower() in {*masses, "lbs"}:
        mass_kg = table.si("weight_on_spindle", Kind.MASS, above=0.0, or_equal=True)
        return (mass_kg or 0.0) * STANDARD_GRAVITY_M_S2
    return table.si("weight_on_spindle", Kind.FORCE, above=0.0, or_equal=True) or 0.0


def read_recording_spec(table: Table) -> RecordingSpec | None:
    """Read [recording]: the file and exactly one time base.

    Parameters
    ----------
    table : Table

    Returns
    -------
    RecordingSpec or None
        None where a problem was noted.
    """
    file = table.text("file", required=True)
    started = table.instant("started_at")
    rate = table.si("sample_rate", Kind.FREQUENCY, above=0.0)
    needed = 'exactly one of time = a column\'s name, time = "waveform", sample_rate'
    if table.has("time") and table.has("sample_rate"):
        table.note("JOB-009", "both 'time' and 'sample_rate' are given", "time", needed, "Remove one of them")
        return None
    if not table.has("time") and not table.has("sample_rate"):
        table.note("JOB-006", "the recording has no time base", "", needed)
        return None
    time = table.text("time") if table.has("time") else ""
    if table.has("time") and isinstance(table.data["time"], str) and not time:
        table.note("JOB-008", "'time' is empty", "time", needed)
    waveform = time.lower() == WAVEFORM
    return RecordingSpec(file, None if waveform or not time else time, waveform, rate, started)
