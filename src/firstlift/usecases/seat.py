"""The seat calculation: an area with its uncertainty from diameters, from pulls, or from bench and on-line pairs."""

from __future__ import annotations

import math
import re
from collections.abc import Mapping, Sequence
from dataclasses import replace
from typing import Any

from firstlift.core.errors import FirstliftError, Problem, UsageError
from firstlift.core.seat.bench import BenchPair, fit_bench
from firstlift.core.seat.fit import Instrument, Role
from firstlift.core.seat.orifice import letter_of, names_orifice
from firstlift.core.seat.pressures import LinePull, fit_pressures
from firstlift.core.units import Kind, Quantity, parse_quantity
from firstlift.core.valve import Seat, circle_area_m2, land_area_m2
from firstlift.formats.seat_table import Row, read_seat_table
from firstlift.usecases.seat_answer import SeatAnswer
from firstlift.usecases.seat_asked import ASSUMED, NOTHING_KNOWN, KnownInstrument, SeatAsked
from firstlift.usecases.seat_from_tests import seat_from_sheets


def find_seat(asked: SeatAsked, known: Mapping[str, KnownInstrument] = NOTHING_KNOWN) -> SeatAnswer:
    """Give a seat's area with its uncertainty.

    Parameters
    ----------
    asked : SeatAsked
    known : mapping of serial to KnownInstrument
        Serves where no uncertainty of the calibration is typed.

    Returns
    -------
    SeatAnswer

    Raises
    ------
    UsageError
        A value cannot be read, or the seat is not given in exactly one way (SEA-015).
    FirstliftError
        SEA-002 to SEA-010 as the fits and the orifice check; SEA-013, SEA-014 the table.
    """
    stated = asked.inner is not None or asked.outer is not None
    ways = [stated, asked.mean is not None, asked.area is not None]
    ways += [bool(asked.pulls), bool(asked.pairs), asked.table is not None, bool(asked.sheets), bool(asked.rows)]
    if sum(ways) != 1 or (stated and None in (asked.inner, asked.outer)):
        raise UsageError(
            Problem(
                "SEA-015",
                "the seat is not given in one way",
                needed="one of: --inner with --outer; --mean; --area; --at or --sheet twice or more; --pair; --table",
            )
        )
    if not any(ways[3:]):
        _refuse_letters(asked)
        return _stated(asked)
    if asked.sheets:
        return seat_from_sheets(asked.sheets)
    rows = asked.rows or (read_seat_table(asked.table) if asked.table is not None else _typed(asked))
    return _fitted(asked, rows, known)


def _stated(asked: SeatAsked) -> SeatAnswer:
    if asked.area is not None:
        area = _read(asked.area, Kind.AREA, asked.where["area"])
        u = _uncertainty(asked, Kind.AREA, "u_dimension", area.si, 2.0 * ASSUMED["u_dimension"])
        _refuse_orifice(area, asked)
        seat = Seat(area.si, u, 0.0, asked.reference, f"area {area.text}")
    elif asked.mean is not None:
        mean = _read(asked.mean, Kind.LENGTH, asked.where["mean"])
        u = _uncertainty(asked, Kind.LENGTH, "u_dimension", mean.si, ASSUMED["u_dimension"])
        area_m2 = circle_area_m2(mean.si)
        seat = Seat(area_m2, math.pi / 2.0 * mean.si * u, 0.0, asked.reference, f"mean diameter {mean.text}")
    else:
        inner, outer, u = read_edges(asked)
        half = (circle_area_m2(outer.si) - circle_area_m2(inner.si)) / 2.0
        u_area = math.pi / 4.0 * (inner.si + outer.si) * u
        text = f"contact from {inner.text} to {outer.text}"
        seat = Seat(land_area_m2(inner.si, outer.si), u_area, half, asked.reference, text)
    taken = {} if asked.u_dimension is not None else {"u_dimension": ASSUMED["u_dimension"]}
    return SeatAnswer(seat, None, taken)


def read_edges(asked: SeatAsked) -> tuple[Quantity, Quantity, float]:
    """Read bore and outer edge of the contact.

    Parameters
    ----------
    asked : SeatAsked

    Returns
    -------
    inner, outer : Quantity
    standard_uncertainty : float, [m]
        Of each.

    Raises
    ------
    UsageError
        A value cannot be read, or the two are the wrong way round.
    """
    inner = _read(asked.inner or "", Kind.LENGTH, asked.where["inner"])
    outer = _read(asked.outer or "", Kind.LENGTH, asked.where["outer"])
    if outer.si <= inner.si:
        what = f"outer diameter {outer.text} does not exceed {inner.text}"
        raise UsageError(Problem("SEA-002", what, asked.where["outer"], "the larger"))
    u = _uncertainty(asked, Kind.LENGTH, "u_dimension", outer.si, ASSUMED["u_dimension"])
    return inner, outer, u


def _refuse_orifice(area: Quantity, asked: SeatAsked) -> None:
    letter = letter_of(area.si)
    if letter is not None:
        raise _orifice(f"'{area.text}' is the effective area of orifice letter {letter}", asked, "area")
    if names_orifice(asked.reference):
        raise _orifice(f"'{area.text}' is said to come from '{asked.reference}'", asked, "area")


def _refuse_letters(asked: SeatAsked) -> None:
    """Say what is wrong where a letter was typed for a size: that it is no number says less."""
    for name in ("inner", "outer", "mean", "area"):
        text = getattr(asked, name)
        if text is not None and names_orifice(text):
            raise _orifice(f"'{text.strip()[:40]}' is an orifice letter", asked, name)


def _orifice(what: str, asked: SeatAsked, name: str) -> FirstliftError:
    return FirstliftError(
        Problem(
            "SEA-010",
            f"{what}: it sizes the flow through the open valve and is smaller than the area line pressure acts on "
            "while it is closed, so that every reading would come out high",
            asked.where[name],
            "the seat's own dimensions",
            f"Measure bore and outer edge of the contact ({asked.where['inner']}, {asked.where['outer']}), or pull at "
            f"two line pressures ({asked.where['pulls']})",
        )
    )


def _typed(asked: SeatAsked) -> list[Row]:
    rows: list[Row] = []
    names = ("line_pressure", "pull", "bench_pressure")
    kinds = (Kind.PRESSURE, Kind.FORCE, Kind.PRESSURE)
    for option, texts, count in ((asked.where["pulls"], asked.pulls, 2), (asked.where["pairs"], asked.pairs, 3)):
        for text in texts:
            # a comma inside a number is followed by a digit, one between values by a space
            parts = re.split(r"\s*;\s*|,\s+", text.strip())
            if len(parts) != count:
                needed = "line pressure, pull" + (" and bench result" if count == 3 else "")
                raise UsageError(
                    Problem("SEA-015", f"'{text}' holds {len(parts)} values", option, f"{count}: {needed}")
                )
            rows.append({n: _read(part, kind, option) for n, kind, part in zip(names, kinds, parts, strict=False)})
    return rows


def _fitted(asked: SeatAsked, rows: Sequence[Row], known: Mapping[str, KnownInstrument]) -> SeatAnswer:
    bench = any("bench_pressure" in row for row in rows)
    taken: dict[str, float] = {}
    readings = [_reading(asked, row, taken, bench=bench) for row in rows]
    cells = cells_of(asked.cell)
    instruments = [
        # several cells are taken to carry alike: what each carried is not typed
        *(replace(_instrument(asked, Role.CELL, one, known, taken), load_share=1.0 / len(cells)) for one in cells),
        _instrument(asked, Role.GAUGE, asked.gauge, known, taken),
    ]
    if bench:
        instruments.append(_instrument(asked, Role.BENCH_GAUGE, asked.bench_gauge, known, taken))
        made = tuple(BenchPair(**reading) for reading in readings)
        fit = fit_bench(made, instruments)
    else:
        friction = (
            None if asked.friction is None else _read(asked.friction, Kind.FORCE, asked.where["friction"], least=0.0).si
        )
        made = tuple(LinePull(**reading) for reading in readings)
        fit = fit_pressures(made, instruments, friction)
    seat = Seat(fit.area_m2, fit.u_area_m2, 0.0, str(fit.source), f"{fit.readings} readings")
    return SeatAnswer(seat, fit, taken, made)


def cells_of(text: str) -> tuple[str, ...]:
    """Give the serials of the cells that read a pull together, as typed with commas.

    Parameters
    ----------
    text : str

    Returns
    -------
    tuple of str
        The text itself where it holds none.
    """
    return tuple(dict.fromkeys(part.strip() for part in text.split(",") if part.strip())) or (text,)


def _reading(asked: SeatAsked, row: Row, taken: dict[str, float], *, bench: bool) -> dict[str, Any]:
    """Give the fields of one reading, each with its own uncertainty: of the row, of the option, or assumed."""
    wanted = [("line_pressure", "line", "line_pressure_pa", "u_line_pa"), ("pull", "pull", "pull_n", "u_pull_n")]
    if bench:
        wanted.append(("bench_pressure", "bench", "bench_pressure_pa", "u_bench_pa"))
    fields: dict[str, Any] = {}
    for name, short, value_field, u_field in wanted:
        value = row.get(name)
        if not isinstance(value, Quantity):
            raise FirstliftError(
                Problem("SEA-014", f"a row without {name}", needed="a bench result in every row or none")
            )
        fields[value_field] = value.si
        own = row.get(f"{short}_uncertainty")
        fields[u_field] = own.si if isinstance(own, Quantity) else _own(asked, f"u_{short}", value, taken)
    if not bench:
        fields["setting"] = str(row.get("setting", ""))
        for name, field in (("temperature", "temperature_k"), ("back_pressure", "back_pressure_pa")):
            value = row.get(name)
            if isinstance(value, Quantity):
                fields[field] = value.si
    return fields


def _own(asked: SeatAsked, name: str, value: Quantity, taken: dict[str, float]) -> float:
    if getattr(asked, name) is None:
        taken[name] = ASSUMED[name]
    return _uncertainty(asked, value.kind, name, value.si, ASSUMED[name])


def _instrument(
    asked: SeatAsked, role: Role, serial: str, known: Mapping[str, KnownInstrument], taken: dict[str, float]
) -> Instrument:
    name = f"u_{role.replace('-', '_')}"
    text, found = getattr(asked, name), known.get(serial)
    kind = "cell" if role is Role.CELL else "gauge"
    shared = f"{kind}:{(found.shared_with if found else '') or serial}"
    if text is None and found is not None:
        u = (found.relative_standard_uncertainty, found.standard_uncertainty)
    elif text is None:
        taken[name] = ASSUMED[name]
        u = (ASSUMED[name], 0.0)
    elif "%" in text:
        u = (_read(text, Kind.RATIO, asked.where[name], least=0.0).si, 0.0)
    else:
        unit = Kind.FORCE if role is Role.CELL else Kind.PRESSURE
        u = (0.0, _read(text, unit, asked.where[name], least=0.0).si)
    return Instrument(role, shared, serial, *u, calibration=found.calibration if found else "")


def _read(text: str, kind: Kind, where: str, *, least: float | None = None) -> Quantity:
    try:
        quantity = parse_quantity(text, kind, where=where)
    except FirstliftError as error:
        raise UsageError(error.problems) from error
    # a line pressure may be 0, the fits themselves look at pulls; a dimension may not
    floor = least if least is not None else (0.0 if kind in (Kind.PRESSURE, Kind.FORCE) else None)
    if (floor is not None and quantity.si < floor) or (floor is None and quantity.si <= 0.0):
        raise UsageError(Problem("SEA-002", f"'{text}' is below what is possible", where, "a value above 0"))
    return quantity


def _uncertainty(asked: SeatAsked, kind: Kind, name: str, value: float, assumed: float) -> float:
    text, where = getattr(asked, name), asked.where[name]
    if text is None:
        return assumed * abs(value)
    if "%" in text:
        return _read(text, Kind.RATIO, where, least=0.0).si * abs(value)
    return _read(text, kind, where, least=0.0).si
