"""``firstlift seat``: the area line pressure acts on."""

from __future__ import annotations

import argparse
import json
from decimal import Decimal
from pathlib import Path

from firstlift.cli.show import prints_unicode, show
from firstlift.core.seat.fit import AreaFit
from firstlift.usecases.seat import find_seat
from firstlift.usecases.seat_answer import SeatAnswer, answer_to_json
from firstlift.usecases.seat_asked import OPTIONS, SeatAsked
from firstlift.words.numbers import (
    format_pressure,
    format_share,
    format_short,
    in_unit,
    round_with_uncertainty,
    show_unit,
)
from firstlift.words.seat import SOURCES, say_reason


def run(arguments: argparse.Namespace) -> int:
    """Run the command.

    Parameters
    ----------
    arguments : argparse.Namespace

    Returns
    -------
    int
        0.
    """
    answer = find_seat(asked_of(arguments))
    if arguments.json:
        show(json.dumps(answer_to_json(answer), ensure_ascii=not prints_unicode(), allow_nan=False))
    else:
        _tell(answer)
    return 0


def asked_of(arguments: argparse.Namespace) -> SeatAsked:
    """Give the seat as it was typed.

    Parameters
    ----------
    arguments : argparse.Namespace

    Returns
    -------
    SeatAsked
    """
    return SeatAsked(
        inner=arguments.inner,
        outer=arguments.outer,
        mean=arguments.mean,
        area=arguments.area,
        u_dimension=arguments.uncertainty,
        reference=arguments.reference,
        pulls=arguments.at,
        pairs=arguments.pair,
        table=None if arguments.table is None else Path(arguments.table),
        sheets=[Path(sheet) for sheet in arguments.sheet],
        u_line=arguments.line_uncertainty,
        u_pull=arguments.pull_uncertainty,
        u_bench=arguments.bench_uncertainty,
        u_gauge=arguments.gauge_uncertainty,
        u_cell=arguments.cell_uncertainty,
        u_bench_gauge=arguments.bench_gauge_uncertainty,
        gauge=arguments.gauge,
        cell=arguments.cell,
        bench_gauge=arguments.bench_gauge,
        friction=arguments.friction,
    )


def _tell(answer: SeatAnswer) -> None:
    seat, fit = answer.seat, answer.fit
    show(f"seat area     {_area(seat.area_m2, answer.expanded_area_m2)}  (95 %)")
    relative = seat.standard_uncertainty_m2 / seat.area_m2
    show(f"              standard uncertainty {format_share(relative)}, from {_source(answer)}")
    if seat.half_width_m2 > 0.0:
        half = format_share(seat.half_width_m2 / seat.area_m2)
        show(f"              anywhere between bore and outer edge: {half} either way")
    if fit is not None:
        _tell_fit(fit)
    shares = ", ".join(f"{format_share(u)} at {format_short(share, '%')}" for share, u in answer.sensitivity)
    show(f"on a result   adds {shares} line pressure over set pressure (one standard uncertainty)")
    if answer.assumed:
        said = ", ".join(f"{OPTIONS[name]} {format_share(share)}" for name, share in answer.assumed.items())
        show(f"assumed standard uncertainties, since none was stated: {said} (common practice, no source)")
    show("An area too large makes readings low and the valve set high: the unsafe side.")


def _source(answer: SeatAnswer) -> str:
    fit = answer.fit
    return answer.seat.stated if fit is None else f"{SOURCES[str(fit.source)]}, {fit.readings} readings"


def _tell_fit(fit: AreaFit) -> None:
    if fit.set_pressure_pa is not None:
        value = format_pressure(fit.set_pressure_pa, "bar", fit.expanded_set_pressure_pa())
        show(f"set pressure  {value}  (95 %)")
    for part in sorted(fit.contributions, key=lambda part: -abs(part.area_m2)):
        if abs(part.area_m2) > 1e-5 * fit.area_m2:
            show(f"  {part.part} of {part.source:<20} adds {format_share(abs(part.area_m2) / fit.area_m2)}")
    serials = ", ".join(dict.fromkeys(serial for tie in fit.ties for serial in tie.serials))
    show(f"  serves with the instruments that found it: {serials}")
    for reason in fit.reasons:
        show(f"  {say_reason(reason)}")


def _area(area_m2: float, expanded_m2: float) -> str:
    if expanded_m2 <= 0.0:
        return f"{area_m2 * 1e6:.5g} {show_unit('mm2')}"
    value, uncertainty = round_with_uncertainty(in_unit(area_m2, "mm2"), Decimal(repr(expanded_m2)) * 1_000_000)
    return f"{value} ± {uncertainty} {show_unit('mm2')}"
