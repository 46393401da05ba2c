"""Traces of an analysis, ready for figures and papers."""

from __future__ import annotations

from firstlift.core.analysis import Analysis
from firstlift.core.signal.condition import Signal
from firstlift.figures.pull_figure import draw_pull, draw_test
from firstlift.figures.text_plot import plot_pull
from firstlift.figures.trace import Trace, trace_of_si


def traces_of(analysis: Analysis, *, pressure_unit: str, sound_unit: str = "V") -> tuple[Trace, ...]:
    """Give the clean channels as traces: force tared by the first pull's slack, lift, sound, line pressure.

    Parameters
    ----------
    analysis : Analysis
    pressure_unit : str
        The nameplate's.
    sound_unit : str
        Unit of the sound's SI value.

    Returns
    -------
    tuple of Trace
    """
    signals = analysis.signals
    traces: list[Trace] = []

    def add(label: str, measures: str, signal: Signal | None, offset: float = 0.0) -> None:
        if signal is not None:
            traces.append(
                trace_of_si(
                    label,
                    measures,
                    signal.time_s,
                    signal.value - offset,
                    pressure_unit=pressure_unit,
                    sound_unit=sound_unit,
                )
            )

    add("pull force", "pull_force", signals.force, analysis.slack_n)
    add("lift", "spindle_lift", signals.lift)
    add("sound", "acoustic", signals.sound)
    add("line pressure", "line_pressure", signals.pressure)
    return tuple(traces)


def draw_analysis(analysis: Analysis, *, pressure_unit: str) -> str:
    """Draw the first pull that lifted, with first lift and the lines before and after; else the whole test.

    Parameters
    ----------
    analysis : Analysis
    pressure_unit : str

    Returns
    -------
    str
        SVG.
    """
    traces = traces_of(analysis, pressure_unit=pressure_unit)
    pulls = analysis.result.pulls
    lifted = next((pull for pull in pulls if pull.first_lift_s is not None), None)
    if lifted is None:
        return draw_test(traces, pulls, width=720.0, height=480.0)
    return draw_pull(traces, lifted, width=720.0, height=600.0)


def text_plot(analysis: Analysis, *, pressure_unit: str, ascii_only: bool) -> str:
    """Plot the first pull in characters.

    Parameters
    ----------
    analysis : Analysis
    pressure_unit : str
    ascii_only : bool

    Returns
    -------
    str
        Empty where there is no pull.
    """
    pulls = analysis.result.pulls
    if not pulls:
        return ""
    shown = next((pull for pull in pulls if pull.first_lift_s is not None), pulls[0])
    return plot_pull(traces_of(analysis, pressure_unit=pressure_unit), shown, width=64, ascii_only=ascii_only)
