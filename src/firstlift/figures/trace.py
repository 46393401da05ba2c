"""A channel ready to draw: in display units, with its labels."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from firstlift.core.recording import Floats
from firstlift.core.units import UNITS
from firstlift.words.numbers import show_unit

_ORDER = ("pull_force", "spindle_lift", "acoustic", "line_pressure", "back_pressure", "temperature")

_SHORT = {"force": "pull_force", "lift": "spindle_lift", "sound": "acoustic"}


@dataclass(frozen=True, slots=True, eq=False)
class Trace:
    """One channel over time, in the unit it is shown in.

    ``measures`` is one of `firstlift.core.job.Measures`; ``unit_label`` a key of `firstlift.core.units.UNITS`
    where the fitted lines of a pull are to be drawn on it (they are SI), any text otherwise.
    """

    label: str
    measures: str
    time_s: Floats
    values: Floats
    unit_label: str

    @property
    def shown_unit(self) -> str:
        """The unit as printed: "µm" for "um"."""
        return show_unit(self.unit_label)

    def answers_to(self, channel: str) -> bool:
        """Say whether a result's name of a channel means this trace: its label, what it measures, or a short form."""
        plain = channel.replace(" ", "_")
        return channel == self.label or self.measures in (plain, _SHORT.get(plain))

    def from_si(self, values_si: Floats) -> Floats | None:
        """Give SI values in the trace's own unit; None where its unit has no known factor."""
        unit = UNITS.get(self.unit_label)
        return None if unit is None else (values_si - unit.offset) / unit.factor


def trace_of_si(
    label: str, measures: str, time_s: Floats, values_si: Floats, *, pressure_unit: str = "bar", sound_unit: str = "V"
) -> Trace:
    """Make a trace from SI values, in a unit that suits their size.

    Parameters
    ----------
    label : str
        Name of the channel.
    measures : str
        One of `firstlift.core.job.Measures`.
    time_s, values_si : ndarray (n,)
        Seconds of the recording's clock; newtons, pascals gauge, metres, kelvins, or the sound's own SI unit.
    pressure_unit : str
        The nameplate's unit.
    sound_unit : str
        Unit of the sound's values.

    Returns
    -------
    Trace
    """
    finite = values_si[np.isfinite(values_si)]
    largest = float(np.max(np.abs(finite))) if finite.size else 0.0
    if measures == "pull_force":
        symbol = "kN" if largest >= 2000.0 else "N"
    elif measures == "spindle_lift":
        symbol = "mm" if largest >= 2e-4 else "um"
    elif measures in ("line_pressure", "back_pressure"):
        symbol = pressure_unit
    elif measures == "temperature":
        symbol = "degC"
    else:
        symbol = "mV" if sound_unit == "V" and largest < 0.5 else sound_unit
    unit = UNITS.get(symbol)
    values = values_si if unit is None else (values_si - unit.offset) / unit.factor
    return Trace(label, measures, time_s, values, symbol)


def by_panel(traces: tuple[Trace, ...]) -> tuple[tuple[Trace, ...], ...]:
    """Group traces that share a panel: same thing measured in the same unit; force first, then lift, sound, pressure.

    Parameters
    ----------
    traces : tuple of Trace

    Returns
    -------
    tuple of tuple of Trace
    """
    panels: dict[tuple[int, str, str], list[Trace]] = {}
    for trace in traces:
        rank = _ORDER.index(trace.measures) if trace.measures in _ORDER else len(_ORDER)
        panels.setdefault((rank, trace.measures, trace.unit_label), []).append(trace)
    return tuple(tuple(panels[key]) for key in sorted(panels))
