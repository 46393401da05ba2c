"""The picture of a seat area that was fitted: readings, line and band, in the units of whoever looks."""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np

from firstlift.core.seat.band import pull_along
from firstlift.core.seat.bench import BenchPair
from firstlift.core.seat.fit import AreaFit
from firstlift.core.seat.pressures import LinePull
from firstlift.core.units import UNITS
from firstlift.figures.seat_figure import Dot, SeatLine, draw_seat_line
from firstlift.usecases.seat_answer import SeatAnswer
from firstlift.web.say import _
from firstlift.words.numbers import show_unit

_STEPS = 40
# standard uncertainties of readings are drawn as intervals at 95 %
_DRAWN = 1.96


def draw_fit(answer: SeatAnswer, pressure: str, force: str) -> str:
    """Draw the readings of a fit with its line and band.

    Parameters
    ----------
    answer : SeatAnswer
        Of a fit.
    pressure, force : str
        Units.

    Returns
    -------
    str
        SVG; empty where nothing was fitted.
    """
    fit = answer.fit
    if fit is None:
        return ""
    to_p, to_f = UNITS[pressure].factor, UNITS[force].factor
    dots = [_dot(reading, to_p, to_f) for reading in answer.readings]
    zero = None if fit.set_pressure_pa is None else fit.set_pressure_pa / to_p
    shown = SeatLine(dots, _curve(fit, dots, to_p, to_f), *_words(answer.readings, pressure, force))
    if zero is None:
        return draw_seat_line(shown)
    return draw_seat_line(SeatLine(dots, shown.curve, shown.across, shown.upward, shown.title, zero, _("set pressure")))


def draw_readings(readings: Sequence[tuple[float, float]], pressure: str, force: str, *, pairs: bool) -> str:
    """Draw readings that no line could be fitted to.

    Parameters
    ----------
    readings : sequence of (pressure, pull), [Pa], [N]
        Line pressures, or of pairs the bench result less the line pressure.
    pressure, force : str
        Units.
    pairs : bool

    Returns
    -------
    str
        SVG.
    """
    to_p, to_f = UNITS[pressure].factor, UNITS[force].factor
    dots = [Dot(x / to_p, y / to_f) for x, y in readings]
    return draw_seat_line(SeatLine(dots, (), *_labels(pressure, force, pairs=pairs)))


def _dot(reading: LinePull | BenchPair, to_p: float, to_f: float) -> Dot:
    if isinstance(reading, BenchPair):
        x, u_x = reading.bench_pressure_pa - reading.line_pressure_pa, math.hypot(reading.u_line_pa, reading.u_bench_pa)
    else:
        x, u_x = reading.line_pressure_pa, reading.u_line_pa
    return Dot(x / to_p, reading.pull_n / to_f, _DRAWN * u_x / to_p, _DRAWN * reading.u_pull_n / to_f)


def _curve(fit: AreaFit, dots: Sequence[Dot], to_p: float, to_f: float) -> list[tuple[float, float, float]]:
    last = fit.set_pressure_pa if fit.set_pressure_pa is not None else max(dot.x for dot in dots) * to_p * 1.05
    along = np.linspace(0.0, last, _STEPS)
    pull, half = pull_along(fit, along)
    return [
        (x / to_p, f / to_f, h / to_f) for x, f, h in zip(along.tolist(), pull.tolist(), half.tolist(), strict=True)
    ]


def _words(readings: Sequence[LinePull | BenchPair], pressure: str, force: str) -> tuple[str, str, str]:
    return _labels(pressure, force, pairs=isinstance(readings[0], BenchPair))


def _labels(pressure: str, force: str, *, pairs: bool) -> tuple[str, str, str]:
    unit = show_unit(pressure)
    across = _("bench less line pressure, %(unit)s", unit=unit) if pairs else _("line pressure, %(unit)s", unit=unit)
    return across, _("pull, %(unit)s", unit=show_unit(force)), _("Pull against pressure: the slope is the seat area")
